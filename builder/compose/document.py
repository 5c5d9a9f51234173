"""What compose hands to publish: a whole document, and what it promises to show."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field
from typing import Any, Self

from builder.model.pages import Procedure


@dataclass(frozen=True, slots=True)
class Must:
    """Something the finished document must show once, visible and in this order: ``kind`` is caution, step, dose,
    count, reference and so on; ``text`` is the words to find."""

    kind: str
    id: str
    text: str

    def __reduce__(self) -> tuple[type[Must], tuple[str, str, str]]:
        """Tens of thousands go from process to process: as dataclasses do it by themselves, it takes twice as long."""
        return Must, (self.kind, self.id, self.text)


def promised(kind: str, id: str, *texts: object) -> Iterator[Must]:
    """Yield a must for each of ``texts`` that says something."""
    return (Must(kind, id, str(text)) for text in texts if text)


@dataclass(frozen=True, slots=True)
class LeftOut:
    """Something the document does not show for want of space, and why."""

    kind: str
    id: str
    why: str


@dataclass(frozen=True, slots=True)
class Placed:
    """A page of another document on a sheet of this one, both numbered from 1: where its top left corner lies in mm
    from that of the sheet, whether it stands on its head, and its size."""

    sheet: int
    page: int
    left_mm: float
    top_mm: float
    turned: bool = False
    width_mm: float = 105.0
    height_mm: float = 148.0


@dataclass(frozen=True, slots=True)
class Document:
    """One artefact before it is written.

    ``kind`` is page, handout, card and so on (the words of build-report.json); ``name`` is its path below the
    published folder; ``text`` is HTML or Markdown; ``procedure`` is the id of the one it is about, "" where it is about
    the whole department; ``resources`` are files of the department's folder it shows; ``musts`` what must be seen in
    it, in order; ``explained`` goes into build-report.json as it is. A sheet for printing carries pages ``of`` another
    document, each ``placed`` in its cell; ``text`` then holds only the marks around them.
    """

    kind: str
    title: str
    name: str
    text: str
    procedure: str = ""
    edition: str = ""
    resources: tuple[str, ...] = ()
    musts: tuple[Must, ...] = ()
    left_out: tuple[LeftOut, ...] = ()
    explained: dict[str, Any] = field(default_factory=dict)
    of: Document | None = None
    placed: tuple[Placed, ...] = ()

    @classmethod
    def about(cls, procedure: Procedure, kind: str, file: str, text: str, **more: Any) -> Self:
        """Return a document about ``procedure``, called ``file`` in its folder; its title, unless ``more`` names one,
        is the title of the procedure."""
        told = {"title": procedure.title, "procedure": procedure.id, "edition": procedure.edition, **more}
        return cls(kind=kind, name=f"{procedure.id}/{file}", text=text, **told)

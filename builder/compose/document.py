"""What compose hands to publish: a whole document, and what it promises to show."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

from builder.compose.view.view import Must


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
    published folder; ``text`` is HTML or Markdown; ``resources`` are files of the department's folder it shows;
    ``musts`` what must be seen in it, in order; ``explained`` goes into build-report.json as it is. A sheet for
    printing carries pages ``of`` another document, each ``placed`` in its cell; ``text`` then holds only the marks
    around them.
    """

    kind: str
    procedure: str
    edition: str
    title: str
    name: str
    text: str
    resources: tuple[str, ...] = ()
    musts: tuple[Must, ...] = ()
    left_out: tuple[LeftOut, ...] = ()
    explained: dict[str, Any] = field(default_factory=dict)
    of: Document | None = None
    placed: tuple[Placed, ...] = ()

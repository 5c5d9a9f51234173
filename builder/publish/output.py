"""What a row of the table of outputs says (the table is ``builder/outputs.py``), and what its parts are.

The table stands right of read-back, because it names functions of compose, publish and read-back; so it is handed
to publish as an argument. In ``compose/`` a row could name neither its writer nor its proof, and a second list
would be needed. Pages of the department as a whole are not rows: they are made of all procedures.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from enum import Enum
from pathlib import Path
from typing import Protocol, cast

from builder.compose.document import Document
from builder.compose.render import Renderer
from builder.compose.site.offers import Offer
from builder.compose.site.web import WebPage
from builder.model.library import Library
from builder.model.pages import Procedure
from builder.publish.equipment import Equipment

SITE = "site"
"""The name by which all pages are asked for together."""

Compose = Callable[[Library, Procedure, Renderer], Document]
ComposePart = Callable[[Library, Procedure, Renderer, str], Document]
ComposePage = Callable[[Library, Procedure, Renderer, Sequence[Offer]], Document | None]


class ReadBack(Protocol):
    """What was found in a finished file: ``problems`` in plain words, empty where it shows all that it promised."""

    @property
    def pages(self) -> int | None:
        """How many sheets of paper it takes, None where it is no paper."""

    @property
    def smallest_type_pt(self) -> float | None:
        """The smallest type in points, measured in the file."""

    @property
    def problems(self) -> tuple[str, ...]:
        """What it does not show as promised."""


@dataclass(frozen=True, slots=True)
class Proof:
    """A proof: ``names`` of what it shows (they go into the report), and the function that reads a file back."""

    names: tuple[str, ...]
    read_back: Callable[[Document, Path], ReadBack]


@dataclass(frozen=True, slots=True)
class FileFormat:
    """How a document becomes a file, and how the file is proved; ``viewable`` where it has sheets to look at."""

    media_type: str
    write: Callable[[Equipment, Document, Path], None]
    proof: Proof
    viewable: bool = False


class Shows(Enum):
    """How much of a procedure's text an output shows: by this it is told what on it rests on a source."""

    WHOLE = "all of it, in one reading order with the same references"
    CARD = "lines of the pocket card, as many as there is room for"
    SLIDES = "slides, and in their notes what they rest on"
    EXTRACT = "what its musts hold"
    NOTHING = "nothing that rests on a source, or nothing else"


@dataclass(frozen=True, slots=True)
class Listed:
    """What every output has: its ``name`` in commands and reports, its ``title`` for readers, the ``shelf`` on which it
    is offered ("" = none), its ``file`` in the folder of the procedure, and the ``form`` that is said of it.

    ``first`` is its rank among what is wanted in a hurry (0 = none); ``session`` the minutes of the slot for which it
    is made, where a session is asked for (0 = always).
    """

    name: str
    title: str
    shelf: str
    file: str
    form: str
    shows: Shows = field(default=Shows.EXTRACT, kw_only=True)
    first: int = field(default=0, kw_only=True)
    session: int = field(default=0, kw_only=True)


@dataclass(frozen=True, slots=True)
class PageOutput(Listed):
    """A page of the site, or a table beside it: it sees what the outputs above it in the table have made."""

    compose: ComposePage


@dataclass(frozen=True, slots=True)
class Output(Listed):
    """A file for itself: ``composed`` makes each of the documents that ``documents_of`` names.

    ``parts`` names the documents where there are several. Outputs of one ``group`` are made by one worker, because they
    share what takes long. ``tab`` is its place among the tabs of the preview (0 = none); what shows nothing of
    another procedure (``alone``) the preview knows again when another has changed.
    """

    format: FileFormat
    compose: Compose | ComposePart
    parts: Callable[[Procedure], tuple[str, ...]] | None = None
    group: str = ""
    tab: int = 0
    alone: bool = False

    @property
    def proof(self) -> Proof:
        """What proves its files."""
        return self.format.proof

    def documents_of(self, procedure: Procedure) -> tuple[str, ...]:
        """Return the names of the documents: the own name, or such as ``card-ways/local-left``."""
        return (self.name,) if self.parts is None else tuple(f"{self.name}/{part}" for part in self.parts(procedure))

    def composed(self, name: str, library: Library, procedure: Procedure, renderer: Renderer) -> Document:
        """Return the document that ``documents_of`` calls ``name``."""
        part = name.removeprefix(self.name).removeprefix("/")
        compose = cast("Callable[..., Document]", self.compose)
        document = compose(library, procedure, renderer, *((part,) if part else ()))
        file = f"{procedure.id}/{self.file.format(id=procedure.id, part=part)}"
        if document.name != file:
            raise ValueError(f"{name} is called {document.name}, and by the table of outputs {file}")
        return document


@dataclass(frozen=True, slots=True)
class Outputs:
    """The table of outputs, in the order in which they are offered; what proves pages of the site and tables."""

    rows: tuple[Output | PageOutput, ...]
    of_pages: Proof
    of_tables: Proof

    @property
    def files(self) -> tuple[Output, ...]:
        """What is a file for itself, sessions among them."""
        return tuple(row for row in self.rows if isinstance(row, Output))

    @property
    def pages(self) -> tuple[PageOutput, ...]:
        """What each procedure has on the site."""
        return tuple(row for row in self.rows if isinstance(row, PageOutput))

    @property
    def usual(self) -> tuple[str, ...]:
        """The names of what is made where nothing else is asked for."""
        return (SITE, *(row.name for row in self.files if not row.session))

    @property
    def offered_singly(self) -> Mapping[str, Output]:
        """What is usual and of which a procedure has one, by name: what a preview offers."""
        return {row.name: row for row in self.files if not row.session and row.parts is None}

    def sessions(self, minutes: Collection[int]) -> tuple[str, ...]:
        """Return the names of the outputs of sessions of ``minutes``."""
        return tuple(row.name for row in self.files if row.session in minutes)

    def __getitem__(self, name: str) -> Output:
        """Return the output of which ``name`` is the name, or that of one of its documents."""
        return {row.name: row for row in self.files}[name.partition("/")[0]]

    def documents_of(self, procedure: Procedure, wanted: Collection[str]) -> Iterator[tuple[Output, str]]:
        """Yield the documents of ``procedure`` that the outputs ``wanted`` come to: each with the name of its own."""
        return ((row, name) for row in self.files if row.name in wanted for name in row.documents_of(procedure))

    def proof_of(self, document: Document) -> Proof:
        """Return what proves ``document``, a page of the site or a table."""
        return self.of_pages if isinstance(document, WebPage) else self.of_tables

    def offer(self, row: Output | PageOutput, document: Document) -> Offer:
        """Return what a page offers of ``document``, made by ``row``; nothing where it holds no question."""
        shelf = row.shelf if document.explained.get("questions") != 0 else ""
        place = [known.name for known in self.rows].index(row.name)  # a row that was in a worker is another object
        return Offer(document.name, row.title, row.form, shelf, place, row.first)

"""What a row of the table of outputs says (the table is ``builder/outputs.py``), and what its parts are.

The table stands right of read-back, because it names functions of compose, publish and read-back; so it is handed
to publish as an argument. In ``compose/`` a row could name neither its writer nor its proof, and a second list
would be needed. Pages of the department as a whole are not rows: they are made of all procedures.

Equipment is what a process that makes outputs keeps ready between them; each part is made when it is first asked for.
"""

import json
import os
import zipfile
from collections.abc import Callable, Collection, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from enum import Enum
from functools import cached_property
from io import BytesIO
from pathlib import Path
from typing import TYPE_CHECKING, Any, cast

from builder.compose.code_mark import mark_of
from builder.compose.document import Document, Renderer
from builder.compose.site.web import Offer, WebPage
from builder.load.program_words import gettext, speaking
from builder.model.library import Library
from builder.model.pages import Procedure
from builder.publish.build_report import FileRead
from builder.publish.cache import Cache
from builder.publish.site.site import SingleFiles, Site
from builder.write.lock import helping

if TYPE_CHECKING:
    from builder.publish.paper.pdf import Typesetter

_MOMENT = (1980, 1, 1, 0, 0, 0)
_PLAIN_FILE = 0o100644 << 16


def packed(members: Iterable[tuple[str, bytes]]) -> bytes:
    """Return a zip file of ``members``, names and contents, as if made at the earliest time that the format knows: the
    same bytes for the same members."""
    target = BytesIO()
    with zipfile.ZipFile(target, "w") as package:
        for name, content in members:
            entry = zipfile.ZipInfo(name, _MOMENT)
            # The first member of an e-book tells what it is, and is read as it lies (EPUB 3.3, 4.2.2).
            entry.compress_type = zipfile.ZIP_STORED if name == "mimetype" else zipfile.ZIP_DEFLATED
            entry.external_attr = _PLAIN_FILE
            package.writestr(entry, content)
    return target.getvalue()


class Equipment:
    """Type, templates, style and script for the department in ``root``. Sent to another process it starts anew."""

    def __init__(self, root: Path, templates: Mapping[str, str]) -> None:
        self.root = root
        self.templates = templates

    def __reduce__(self) -> tuple[Any, ...]:
        return type(self), (self.root, self.templates)

    @cached_property
    def typesetter(self) -> "Typesetter":
        """What sets type; fonts are read once."""
        # Imported here because it takes half a second, and pages need none of it.
        from builder.publish.paper.pdf import Typesetter  # noqa: PLC0415

        return Typesetter(self.root)

    @cached_property
    def renderer(self) -> Renderer:
        """The templates, ready to be filled."""
        return Renderer(self.templates, self._measure)

    def _measure(self, html: str) -> tuple[Mapping[str, float], ...]:
        return self.typesetter.measure(html)

    @cached_property
    def single_files(self) -> SingleFiles:
        """What writes single files, and knows their policy. Raises PublishError and Refused."""
        return SingleFiles(self.root, self.templates)

    def write_pdf(self, document: Document, path: Path) -> None:
        """Write ``document`` to ``path`` as PDF. Raises PublishError where it asks for what it must not have."""
        path.write_bytes(self.typesetter.pdf(document))

    def write_plain_text(self, document: Document, path: Path) -> None:
        """Write the text of ``document`` as it is."""
        path.write_text(document.text, encoding="utf-8", newline="\n")

    def write_slides(self, document: Document, path: Path) -> None:
        """Write ``document``, a Deck in JSON, as .pptx."""
        # Imported here because the library that writes them takes long to import, and only slides need it.
        from builder.publish.slides.pptx_file import write_slides  # noqa: PLC0415

        write_slides(document, path, self.root)

    def write_word_handout(self, document: Document, path: Path) -> None:
        """Write ``document``, a handout, as .docx."""
        # Imported here because the libraries that write it take long to import.
        from builder.publish.paper.word_handout import write_handout  # noqa: PLC0415

        write_handout(document, path, self.root)

    def write_package(self, document: Document, path: Path) -> None:
        """Write ``document``, in JSON texts and figures by their paths, with a mark or without, as a zip file."""
        # Imported here because only this needs pictures.
        from builder.publish.marked_figures import member  # noqa: PLC0415

        members = json.loads(document.text)
        path.write_bytes(
            packed(
                (name, told.encode() if isinstance(told, str) else member(self.root, **told))
                for name, told in members.items()
            )
        )

    def write_single_file(self, document: Document, path: Path) -> None:
        """Write ``document`` with all that it shows in it. Raises PublishError where it is too large."""
        self.single_files.write(document, path)


SITE = "site"
"""The name by which all pages are asked for together."""

Compose = Callable[[Library, Procedure, Renderer], Document]
ComposePart = Callable[[Library, Procedure, Renderer, str], Document]
ComposePage = Callable[[Library, Procedure, Renderer, Sequence[Offer]], Document | None]


@dataclass(frozen=True, slots=True)
class Proof:
    """A proof: ``names`` of what it shows (they go into the report), and the function that reads a file back.

    ``only_of`` holds, by name, what looks at some documents only, and tells whether it looks at one.
    """

    names: tuple[str, ...]
    read_back: Callable[[Document, Path], FileRead]
    only_of: Mapping[str, Callable[[Document], bool]] = field(default_factory=dict)

    def names_for(self, document: Document) -> tuple[str, ...]:
        """Return the names of what is proved of ``document``."""
        return tuple(name for name in self.names if name not in self.only_of or self.only_of[name](document))


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
    CARD = "the plan of the card, as far as there is room"
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
        with speaking(library.department.language):
            document = compose(library, procedure, renderer, *((part,) if part else ()))
        file = f"{procedure.id}/{self.file.format(id=procedure.id, part=part)}"
        if document.name != file:
            raise ValueError(f"{name} is called {document.name}, and by the table of outputs {file}")
        mark = mark_of(library, procedure)
        code = f"{mark.code}{mark.standing}" if document.edition else ""  # what is of no edition has no code of one
        return replace(document, code=code, of=replace(document.of, code=code) if document.of else None)


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
        shelf = gettext(row.shelf) if row.shelf and document.explained.get("questions") != 0 else ""
        place = [known.name for known in self.rows].index(row.name)  # a row that was in a worker is another object
        form = gettext(row.form) if row.form else ""
        spoken = {key: document.explained.get(key, "") for key in ("language", "called")}
        return Offer(document.name, gettext(row.title), form, shelf, place, row.first, **spoken)


class Publication(Equipment):
    """What is published, and with what: the ``library`` as it is shown, the table of ``outputs``, the work ``folder``
    (with what is ``made``, and the ``new`` site), and the ``cache`` of files made before."""

    def __init__(
        self, library: Library, templates: Mapping[str, str], outputs: Outputs, folder: Path, cache: Cache | None
    ) -> None:
        super().__init__(library.root, templates)
        self.library = library
        self.outputs = outputs
        self.folder = folder
        self.made = folder / "made"
        self.new = folder / "new"
        self.cache = cache
        self._help = helping(folder)

    def __reduce__(self) -> tuple[Any, ...]:
        return type(self), (self.library, self.templates, self.outputs, self.folder, self.cache)

    def let_go(self) -> None:
        """Help no longer: this process writes nothing more into the folder."""
        os.close(self._help)

    @cached_property
    def site(self) -> Site:
        """The site."""
        return Site(self.library, self.renderer, self.new)

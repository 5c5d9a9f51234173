"""Decks of the base department and of the demonstration, composed and written once for all tests of slides."""

from __future__ import annotations

import tempfile
from functools import cache
from pathlib import Path

from department import BASE
from papers import library, renderer

from builder.compose.document import Document
from builder.compose.slides import slides
from builder.compose.slides.session import Session, session_of
from builder.compose.slides.slide import Deck
from builder.compose.slides.slides import deck_from
from builder.model.pages import Procedure
from builder.publish.build_report import FileRead
from builder.publish.slides.pptx_file import write_slides
from builder.readback.slides.slides import read_back as read_pptx

DEMONSTRATION = Path(__file__).parents[2]
DEMO = tuple(sorted(page.parent.name for page in DEMONSTRATION.glob("content/procedures/*/procedure.md")))
ALL = (("example", BASE), *((name, DEMONSTRATION) for name in DEMO))


def procedure(name: str = "example", root: Path = BASE) -> Procedure:
    return library(root).by_id[name]


@cache
def document(name: str = "example", root: Path = BASE) -> Document:
    """The slides as PDF, before they are set."""
    return slides.compose(library(root), procedure(name, root), renderer(root))


@cache
def file_document(name: str = "example", root: Path = BASE) -> Document:
    """The slides as .pptx, before they are written."""
    return slides.compose_pptx(library(root), procedure(name, root), renderer(root))


@cache
def deck(name: str = "example", root: Path = BASE) -> Deck:
    return deck_from(file_document(name, root).text)


@cache
def pptx(name: str = "example", root: Path = BASE) -> bytes:
    return written(file_document(name, root), root)


@cache
def session(name: str, root: Path, minutes: int) -> Session:
    return session_of(library(root), procedure(name, root), renderer(root), minutes)


def written(made: Document, root: Path = BASE) -> bytes:
    """The bytes of the .pptx that is written of ``made``."""
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "made.pptx"
        write_slides(made, path, root)
        return path.read_bytes()


def proved(made: Document, data: bytes, folder: Path) -> FileRead:
    path = folder / "made.pptx"
    path.write_bytes(data)
    return read_pptx(made, path)

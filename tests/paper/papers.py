"""Papers and theatre sheets of the base department, composed and set once for all tests of a process."""

from __future__ import annotations

from dataclasses import replace
from functools import cache
from pathlib import Path

from department import BASE, read

from builder.compose.card import card
from builder.compose.document import Document, Renderer
from builder.compose.handout import handout
from builder.compose.map import operation_map
from builder.compose.sheets import count_sheet, rehearsal, what_now
from builder.load.templates import load_templates
from builder.model.library import Library
from builder.model.pages import Procedure
from builder.publish.build_report import FileRead
from builder.publish.paper.pdf import Typesetter
from builder.readback.paper.pdf import read_back

SHEETS = {"count-sheet": count_sheet.compose, "what-now": what_now.compose, "rehearsal": rehearsal.compose}
COMPOSERS = {"handout": handout.compose, "card": card.compose, "map": operation_map.compose, **SHEETS}


@cache
def typesetter(root: Path = BASE) -> Typesetter:
    return Typesetter(root)


@cache
def library(root: Path = BASE) -> Library:
    return read(root)[0]


@cache
def renderer(root: Path = BASE) -> Renderer:
    return Renderer(load_templates(root), typesetter(root).measure)


@cache
def document(kind: str, root: Path = BASE) -> Document:
    return COMPOSERS[kind](library(root), library(root).procedures[0], renderer(root))


@cache
def pdf(kind: str, root: Path = BASE) -> bytes:
    return typesetter(root).pdf(document(kind, root))


def set_in_type(made: Document) -> bytes:
    """The finished file of ``made``; where nothing in it was changed, the one that is there."""
    return pdf(made.kind) if made == document(made.kind) else typesetter().pdf(made)


def changed(procedure: Procedure, **values: object) -> Procedure:
    """A procedure with other values of its front matter."""
    return procedure.model_copy(update=values)


def proved(made: Document, data: bytes, folder: Path) -> FileRead:
    """What is read back of ``data``, the finished file of ``made``."""
    path = folder / "made.pdf"
    path.write_bytes(data)
    return read_back(made, path)


def spoilt(made: Document, old: str, new: str, count: int = 1) -> Document:
    """The document with ``old`` in its HTML replaced; it must be there, or the test would test nothing."""
    assert old in made.text, f"{old!r} is not in the {made.kind}"
    return replace(made, text=made.text.replace(old, new, count))

"""Proof of a sheet: each cell shows a whole side of what it carries, and each back lies behind its front."""

from __future__ import annotations

from collections.abc import Iterator

from builder.compose.document import Document, Placed
from builder.readback.artefact import MM, Artefact, Box, Sheet
from builder.readback.words import bare

_LETTERS_AT_LEAST = 40


def prove(document: Document, artefact: Artefact) -> Iterator[str]:
    """Look into every cell; ``document.of`` says what must be in one copy."""
    assert document.of is not None
    words: dict[int, set[str]] = {}
    for one in document.placed:
        if one.sheet > len(artefact.sheets):
            yield f"it has {len(artefact.sheets)} pages; page {one.sheet} was to carry cards"
            continue
        words.setdefault(one.page, set()).add(_words(artefact.sheets[one.sheet - 1], one))
    for page, found in sorted(words.items()):
        if len(found) != 1 or len(next(iter(found))) < _LETTERS_AT_LEAST:
            yield f"the cells that carry page {page} of {document.of.name} do not all show the same words"
    shown = "".join(next(iter(found)) for _, found in sorted(words.items()))
    for must in document.of.musts:
        if bare(must.text) not in shown:
            yield f"the {must.kind.replace('-', ' ')} {must.id!r} (“{must.text[:70]}”) is in no cell"


def _words(sheet: Sheet, one: Placed) -> str:
    """Return what is painted inside the cell, in the order of painting."""
    left, top = one.left_mm * MM, sheet.height - one.top_mm * MM
    cell = Box(left, top - one.height_mm * MM, left + one.width_mm * MM, top)
    upright = 180 if one.turned else 0
    pieces = (piece for piece in sheet.pieces if piece.figure and piece.turn == upright and not piece.mirrored)
    return bare("".join(piece.text for piece in pieces if piece.box.inside(cell, 0.1)))

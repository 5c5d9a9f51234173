"""Proof of a sheet: each cell shows a whole side of what it carries, and each back lies behind its front."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from builder.compose.code_mark import QR
from builder.compose.document import Document, Placed
from builder.compose.view.view import Must
from builder.findings.message_words import quoted
from builder.readback.composed_words import bare
from builder.readback.paper import code
from builder.readback.paper.finished_pdf import MM, FinishedPdf, PaintedPage, Rectangle

_LETTERS_AT_LEAST = 40


def prove(document: Document, artefact: FinishedPdf) -> Iterator[str]:
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
    yield from _missing(document.of.musts, "".join(next(iter(found)) for _, found in sorted(words.items())))
    for must in document.of.musts:
        if must.kind == QR:
            yield from _codes(must.text, document, artefact)


def _missing(musts: Iterable[Must], shown: str) -> Iterator[str]:
    """Yield what is not in ``shown``, the words of the pages in their order, or not in its order."""
    at = 0
    for must in musts:
        if must.kind in ("figure", QR):
            continue
        words = bare(must.text)
        name = f"the {must.kind.replace('-', ' ')} {quoted(must.id)} (“{must.text[:70]}”)"
        if words not in shown:
            yield f"{name} is in no cell"
        elif must.kind != "running":
            found = shown.find(words, at)
            if found < 0:
                yield f"{name} stands before what it should follow: pages lie in each other's cells"
            at = max(at, found)


def _codes(address: str, document: Document, artefact: FinishedPdf) -> Iterator[str]:
    """Look at the QR code in every cell that carries the page it stands on."""
    counts: dict[int, set[int]] = {}
    for one in document.placed:
        if one.sheet > len(artefact.sheets):
            continue
        cell = _cell(artefact.sheets[one.sheet - 1], one)
        marked = [boxes for (number, _), boxes in artefact.drawn.items() if number == one.sheet]
        spots = [box for boxes in marked for box in boxes if box.inside(cell, 0.1) and code.could_be(address, box)]
        counts.setdefault(one.page, set()).add(len(spots))
        for box in spots:
            sheet = artefact.sheets[one.sheet - 1]
            for what in code.wrong_with(address, sheet, box, artefact, one.turned):
                yield f"page {one.sheet}: the QR code {what}"
    if [found for found in counts.values() if found != {0}] != [{1}]:
        yield f"the QR code of {address} does not stand once in every cell that carries its page"


def _words(sheet: PaintedPage, one: Placed) -> str:
    """Return what is painted inside the cell, in the order of painting."""
    cell = _cell(sheet, one)
    upright = 180 if one.turned else 0
    pieces = (piece for piece in sheet.pieces if piece.figure and piece.turn == upright and not piece.mirrored)
    return bare("".join(piece.text for piece in pieces if piece.box.inside(cell, 0.1)))


def _cell(sheet: PaintedPage, one: Placed) -> Rectangle:
    left, top = one.left_mm * MM, sheet.height - one.top_mm * MM
    return Rectangle(left, top - one.height_mm * MM, left + one.width_mm * MM, top)

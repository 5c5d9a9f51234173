"""Proof of a sheet: each cell shows a whole side of what it carries, and each back lies behind its front."""

from collections.abc import Iterator

from builder.compose.code_mark import QR
from builder.compose.document import Document, Placed
from builder.readback.comparison import bare, missing
from builder.readback.paper import code
from builder.readback.paper.finished_pdf import MM, FinishedPdf, PaintedPage, Rectangle

_LETTERS_AT_LEAST = 40


def prove(document: Document, artefact: FinishedPdf) -> Iterator[str]:
    """Look into every cell; ``document.of`` says what must be in one copy."""
    assert document.of is not None
    cells: dict[int, set[str]] = {}
    for placed in document.placed:
        if placed.sheet > len(artefact.sheets):
            yield f"it has {len(artefact.sheets)} pages; page {placed.sheet} was to carry cards"
            continue
        cells.setdefault(placed.page, set()).add(_words(artefact.sheets[placed.sheet - 1], placed))
    for page, words in sorted(cells.items()):
        if len(words) != 1 or len(next(iter(words))) < _LETTERS_AT_LEAST:
            yield f"the cells that carry page {page} of {document.of.name} do not all show the same words"
    shown = "".join(next(iter(words)) for _, words in sorted(cells.items()))
    kinds = {kind: [must for must in document.of.musts if must.kind == kind] for kind in ("running", QR)}
    yield from missing((must for must in document.of.musts if must.kind not in (*kinds, "figure")), shown)
    for must in kinds["running"]:
        yield from missing([must], shown)
    for must in kinds[QR]:
        yield from _codes(must.text, document, artefact)


def _codes(address: str, document: Document, artefact: FinishedPdf) -> Iterator[str]:
    """Look at the QR code in every cell that carries the page it stands on."""
    counts: dict[int, set[int]] = {}
    for placed in document.placed:
        if placed.sheet > len(artefact.sheets):
            continue
        sheet = artefact.sheets[placed.sheet - 1]
        cell = _cell(sheet, placed)
        marked = [boxes for (number, _), boxes in artefact.drawn.items() if number == placed.sheet]
        spots = [box for boxes in marked for box in boxes if box.inside(cell, 0.1) and code.could_be(address, box)]
        counts.setdefault(placed.page, set()).add(len(spots))
        for box in spots:
            for what in code.wrong_with(address, sheet, box, artefact, placed.turned):
                yield f"page {placed.sheet}: the QR code {what}"
    if [count for count in counts.values() if count != {0}] != [{1}]:
        yield f"the QR code of {address} does not stand once in every cell that carries its page"


def _words(sheet: PaintedPage, placed: Placed) -> str:
    """Return what is painted inside the cell, in the order of painting."""
    cell = _cell(sheet, placed)
    upright = 180 if placed.turned else 0
    pieces = (piece for piece in sheet.pieces if piece.figure and piece.turn == upright and not piece.mirrored)
    return bare("".join(piece.text for piece in pieces if piece.box.inside(cell, 0.1)))


def _cell(sheet: PaintedPage, placed: Placed) -> Rectangle:
    left, top = placed.left_mm * MM, sheet.height - placed.top_mm * MM
    return Rectangle(left, top - placed.height_mm * MM, left + placed.width_mm * MM, top)

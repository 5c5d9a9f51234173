"""Proof: all text is painted inside the margins, unclipped, in our type, not too small, and nothing lies over it."""

from __future__ import annotations

from collections.abc import Iterator

from builder.compose.document import Document
from builder.readback.composed_words import bare
from builder.readback.paper.finished_pdf import MM, FinishedPdf, PaintedPage, PaintedText, Rectangle

# What stays free at each edge, in mm: a shared printer reaches no nearer (common practice).
EDGE_MM = 5.0
SMALLEST_PT = 7.0
_CLIP_SLACK_PT = 0.6
_OVERLAP = 0.35  # of the smaller box, above which two texts are printed on top of each other
_FAMILIES = ("Prescrub-Sans", "+emoji")


def prove(document: Document, artefact: FinishedPdf) -> Iterator[str]:
    """Look at every piece of text of every page."""
    edge = EDGE_MM * MM
    turns = {180 if one.turned else 0 for one in document.placed} | {0}
    for sheet in artefact.sheets:
        room = Rectangle(edge, edge, sheet.width - edge, sheet.height - edge)
        for piece in sheet.pieces:
            for what in (*_foreign(piece), *(_wrong(piece, room, turns) if bare(piece.text) else ())):
                yield f"page {sheet.number}: “{piece.text.strip()[:60]}” {what}"
        yield from _overprinted(sheet)


def _foreign(piece: PaintedText) -> Iterator[str]:
    """Of anything painted, a list's mark as well: what our type lacks is taken from whatever a machine has."""
    if not any(family in piece.font for family in _FAMILIES):
        yield f"is printed in {piece.font}, because our type lacks one of its characters"


def _wrong(piece: PaintedText, room: Rectangle, turns: set[int]) -> Iterator[str]:
    if not piece.box.inside(room, 0.3):
        yield f"reaches into the margin or off the page ({_where(piece.box)})"
    if piece.clip is not None and not piece.box.inside(piece.clip, _CLIP_SLACK_PT):
        yield "is cut off by the box it stands in"
    if piece.mirrored or (piece.mark >= 0 and piece.turn not in turns):
        yield "does not stand upright"
    if piece.invisible or piece.colour[3] < 255:
        yield "is transparent"
    if piece.size_pt < SMALLEST_PT - 0.01:
        yield f"is printed at {piece.size_pt:.1f} pt; the smallest allowed is {SMALLEST_PT:g} pt"
    if any(ord(sign) < 32 or sign in "\ufffd\ufffe\uffff" for sign in piece.text.strip()):
        yield "holds a character that the type cannot show"


def _overprinted(sheet: PaintedPage) -> Iterator[str]:
    """Yield pairs of text of the reading order that lie on top of each other."""
    pieces = sorted((one for one in sheet.pieces if one.mark >= 0 and bare(one.text)), key=lambda one: -one.box.top)
    for at, one in enumerate(pieces):
        for other in pieces[at + 1 :]:
            if other.box.top <= one.box.bottom:
                break
            if _share(one.box, other.box) > _OVERLAP:
                both = f"“{one.text.strip()[:40]}” and “{other.text.strip()[:40]}”"
                yield f"page {sheet.number}: {both} are printed on top of each other"


def _share(one: Rectangle, other: Rectangle) -> float:
    both = one.meet(other)
    if both.left >= both.right or both.bottom >= both.top:
        return 0.0
    return _area(both) / max(0.01, min(_area(one), _area(other)))


def _area(box: Rectangle) -> float:
    return (box.right - box.left) * (box.top - box.bottom)


def _where(box: Rectangle) -> str:
    return f"{box.left / MM:.1f} to {box.right / MM:.1f} mm across, {box.bottom / MM:.1f} to {box.top / MM:.1f} mm up"

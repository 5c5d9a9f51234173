"""Proof: each bar of a map is painted, and reaches from where it begins to where it ends."""

from collections.abc import Iterator

from builder.compose.document import Document
from builder.findings.message_words import quoted
from builder.readback.paper.finished_pdf import MM, FinishedPdf, Rectangle

_SLACK_MM = 0.2
_THICK_MM = (0.9, 1.3)


def prove(document: Document, artefact: FinishedPdf) -> Iterator[str]:
    """Find every piece of a bar that ``document`` explains among the shapes of its figure."""
    figures = [node for node in artefact.tree.walk() if node.role == "Figure"]
    shapes = [[box for mark in figure.marks() for box in artefact.drawn.get(mark, ())] for figure in figures]
    for at, name, begins, ends in document.explained.get("bars", ()):
        inside = shapes[at] if at < len(shapes) else []
        piece = next((box for box in inside if _is_piece(box, inside, begins, ends)), None)
        if piece is None:
            yield f"the bar {quoted(name)} is not painted from {begins:g} to {ends:g} mm"
        else:
            inside.remove(piece)


def _is_piece(box: Rectangle, inside: list[Rectangle], begins: float, ends: float) -> bool:
    edge = max(inside, key=lambda shape: shape.area).left  # the white ground of the drawing
    reaches = ((box.left - edge) / MM - begins, (box.right - edge) / MM - ends)
    thick = (box.top - box.bottom) / MM
    return all(abs(off) <= _SLACK_MM for off in reaches) and _THICK_MM[0] <= thick <= _THICK_MM[1]

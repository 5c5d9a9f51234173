"""Proofs of figures: each is shown, each pointer over it stands where it was put, to a millimetre, and each bar of a
map is painted from where it begins to where it ends.

A drawing is clipped to its own frame, and a photograph fills it: so the frame is read from the finished page. A clip
that takes nothing away is dropped by the renderer, and is then read from the operators of the page.
"""

from collections.abc import Iterator

from builder.compose.document import Document, PointedAt
from builder.findings.message_words import quoted
from builder.readback.paper.finished_pdf import MM, FinishedPdf, PaintedText, Rectangle, StructureElement

_SLACK_MM = 1.0
_BAR_SLACK_MM, _BAR_MM = 0.2, (0.9, 1.3)
_OFF_CENTRE = 0.12  # of its size, by which the ink of a digit lies above or below the middle of its line


def has_pointers(document: Document) -> bool:
    """Tell whether ``document`` promises pointers."""
    return bool(document.pointed)


def prove(document: Document, artefact: FinishedPdf) -> Iterator[str]:
    """Look for every pointer that ``document`` promises."""
    by_alt: dict[str, list[PointedAt]] = {}
    for pointed in document.pointed:
        by_alt.setdefault(pointed.alt, []).append(pointed)
    figures = {node.alt: node for node in artefact.tree.walk() if node.role == "Figure"}
    for alt, pointers in by_alt.items():
        # Where no figure is so described, another proof says so.
        if (figure := figures.get(alt)) is not None:
            yield from (f"the figure “{alt[:60]}” {what}" for what in _wrong(figure, pointers, artefact))


def _wrong(figure: StructureElement, pointers: list[PointedAt], artefact: FinishedPdf) -> Iterator[str]:
    marks = set(figure.marks())
    shown = [mark for mark in marks if mark in artefact.frames or artefact.drawn.get(mark)]
    frames = [(mark[0], frame) for mark in shown if (frame := artefact.frames.get(mark) or artefact.clip_of(mark))]
    if not frames:
        yield "is not shown within a frame" if shown else "is not shown"
        return
    page, frame = max(frames, key=lambda framed: framed[1].area)
    near = [piece for piece in artefact.sheets[page - 1].texts if (page, piece.mark) not in marks]
    for pointed in pointers:
        across = frame.left + pointed.across / 100 * (frame.right - frame.left)
        down = frame.top - pointed.down / 100 * (frame.top - frame.bottom)
        alike = [piece for piece in near if piece.text.strip() == str(pointed.number)]
        if not alike:
            yield f"lacks its pointer {pointed.number}"
        elif sum(_is_over(piece, frame) for piece in alike) > 1:
            yield f"has its pointer {pointed.number} more than once"
        elif (off := min(_off(piece, across, down) for piece in alike)) > 0:
            yield f"has its pointer {pointed.number} {off:.1f} mm from its place"


def _is_over(piece: PaintedText, frame: Rectangle) -> bool:
    x, y = (piece.box.left + piece.box.right) / 2, (piece.box.bottom + piece.box.top) / 2
    return Rectangle(x, y, x, y).inside(frame, 0)


def _off(piece: PaintedText, across: float, down: float) -> float:
    """Return how far in mm a number stands from its place, 0 where it stands there."""
    x, y = (piece.box.left + piece.box.right) / 2, (piece.box.bottom + piece.box.top) / 2
    off = max(abs(x - across), abs(y - down) - _OFF_CENTRE * piece.size_pt) / MM
    return off if off > _SLACK_MM else 0.0


def prove_bars(document: Document, artefact: FinishedPdf) -> Iterator[str]:
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
    return all(abs(off) <= _BAR_SLACK_MM for off in reaches) and _BAR_MM[0] <= thick <= _BAR_MM[1]

"""Proof: the QR code on a finished page can be scanned: every module is painted, big enough, and white lies around it.

The page is rendered as a mono printer prints it and compared, module by module, with the symbol that its address gives.
A scanner may still read a symbol that is damaged; this proof wants it whole, so that what is lost later in a pocket is
lost from a whole one.
"""

from collections.abc import Iterator
from typing import Any, NamedTuple

from PIL import Image

from builder.compose.code_mark import LEAST_MODULE_MM, QR, QUIET, Matrix, matrix_of
from builder.compose.document import Document
from builder.readback.paper.finished_pdf import MM, FinishedPdf, PaintedPage, Rectangle

_DPI = 300.0
_PX = _DPI / 72
_DARK, _LIGHT = 90, 200  # of 255: well apart, whatever the printer's black
_SQUARE = 0.02  # by which the sides may differ, as a share


def has_code(document: Document) -> bool:
    """Tell whether ``document`` promises a QR code."""
    return any(must.kind == QR for must in document.musts)


def prove(document: Document, artefact: FinishedPdf) -> Iterator[str]:
    """Look at each QR code that ``document`` promises."""
    for must in document.musts:
        if must.kind != QR:
            continue
        spots = list(_spots(artefact, must.text))
        if len(spots) != 1:
            yield f"the QR code of {must.text} is painted {len(spots)} times, not once"
        for number, box in spots:
            sheet = artefact.sheets[number - 1]
            yield from (f"page {number}: the QR code {what}" for what in wrong_with(must.text, sheet, box, artefact))


def _spots(artefact: FinishedPdf, address: str) -> Iterator[tuple[int, Rectangle]]:
    """Yield page and box of what is painted for the picture that names ``address``."""
    for node in artefact.tree.walk():
        if node.role == "Figure" and address in node.alt:
            for mark in node.marks():
                yield from ((mark[0], box) for box in artefact.drawn.get(mark, ()))


def could_be(address: str, box: Rectangle) -> bool:
    """Tell whether ``box`` is large and square enough to be the QR code of ``address``, good or bad."""
    least = len(matrix_of(address)) * LEAST_MODULE_MM * MM / 2
    return min(box.right - box.left, box.top - box.bottom) > least


def wrong_with(
    address: str, sheet: PaintedPage, box: Rectangle, artefact: FinishedPdf, turned: bool = False
) -> Iterator[str]:
    """Yield what is wrong with the QR code of ``address`` in ``box``; ``turned``: it stands on its head."""
    matrix = matrix_of(address)
    if turned:
        matrix = tuple(row[::-1] for row in matrix[::-1])
    width, height = box.right - box.left, box.top - box.bottom
    module = width / len(matrix)
    if abs(width - height) > _SQUARE * max(width, height):
        yield f"is {width / MM:.1f} mm wide and {height / MM:.1f} mm high; it must be square"
        return
    if module / MM < LEAST_MODULE_MM:
        yield f"has modules of {module / MM:.2f} mm; {LEAST_MODULE_MM} mm is the least"
    quiet = QUIET * module
    around = Rectangle(box.left - quiet, box.bottom - quiet, box.right + quiet, box.top + quiet)
    if not around.inside(Rectangle(0, 0, sheet.width, sheet.height), 0.1):
        yield f"stands nearer than {QUIET} modules to the edge of the paper"
        return
    # Only the code is rendered, with a pixel to spare, and looked at as the page that it would be by itself.
    left, top, right, bottom = _pixels(around, sheet)
    part = max(0, left - 2), max(0, top - 2), right + 2, bottom + 2
    picture = artefact.picture(sheet.number, _DPI, part).convert("L")
    seen = _Seen(picture, part[0], part[1], sheet)
    yield from _quiet(seen, box, around)
    yield from _modules(seen, box, matrix)


class _Seen(NamedTuple):
    """A part of a page as a picture in grey, whose corner lies at ``left``, ``top`` of the whole, in pixels."""

    picture: Any
    left: int
    top: int
    sheet: PaintedPage

    def crop(self, box: Rectangle) -> Any:
        """Return the pixels of ``box``."""
        left, top, right, bottom = _pixels(box, self.sheet)
        return self.picture.crop((left - self.left, top - self.top, right - self.left, bottom - self.top))


def _quiet(seen: _Seen, box: Rectangle, around: Rectangle) -> Iterator[str]:
    """Yield the sides on which something reaches into the quiet zone."""
    blur = 1 / _PX  # what is painted up to a line blurs a pixel over it
    left, bottom, right, top = around.left + blur, around.bottom + blur, around.right - blur, around.top - blur
    sides = {
        "left": Rectangle(left, bottom, box.left - 2 * blur, top),
        "right": Rectangle(box.right + 2 * blur, bottom, right, top),
        "top": Rectangle(left, box.top + 2 * blur, right, top),
        "bottom": Rectangle(left, bottom, right, box.bottom - 2 * blur),
    }
    touched = [name for name, side in sides.items() if seen.crop(side).getextrema()[0] < _LIGHT]
    if touched:
        yield f"has no quiet zone of {QUIET} modules: something reaches into it ({', '.join(touched)})"


def _modules(seen: _Seen, box: Rectangle, matrix: Matrix) -> Iterator[str]:
    # Looked at in half modules, a quarter in from the edge: every second one is the core of a module.
    side = len(matrix)
    inset = (box.right - box.left) / side / 4
    core = Rectangle(box.left + inset, box.bottom + inset, box.right - inset, box.top - inset)
    high = seen.sheet.height * _PX - seen.top
    across = (core.left * _PX - seen.left, core.right * _PX - seen.left)
    frame = (across[0], high - core.top * _PX, across[1], high - core.bottom * _PX)
    halves = seen.picture.resize((2 * side - 1, 2 * side - 1), Image.Resampling.BOX, box=frame).tobytes()
    levels = [level for row in range(side) for level in halves[row * 2 * (2 * side - 1) :][: 2 * side - 1 : 2]]
    darks = [dark for row in matrix for dark in row]
    wrong = sum(level > _DARK if dark else level < _LIGHT for level, dark in zip(levels, darks, strict=True))
    if wrong:
        yield f"is not painted as composed: {wrong} of its {len(matrix) ** 2} modules are wrong"


def _pixels(box: Rectangle, sheet: PaintedPage) -> tuple[int, int, int, int]:
    left, top = round(box.left * _PX), round((sheet.height - box.top) * _PX)
    right, bottom = round(box.right * _PX), round((sheet.height - box.bottom) * _PX)
    return left, top, max(right, left + 1), max(bottom, top + 1)

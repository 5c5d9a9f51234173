"""Right-to-left paper as it is read: letters are painted from left to right, so each line is turned round.

What a line shows is taken from where its letters stand, not from the renderer's own guess at their order. A line of
right-to-left letters is read from its right edge; what is set apart in it (a dose, a range, a number) is a text of its
own, and stays. A digit that stands among such letters without being set apart is found here: on paper the typesetter
may have turned the number round.
"""

import re
from collections.abc import Iterator
from dataclasses import replace

from builder.compose.document import Document
from builder.facts.directions import RIGHT_TO_LEFT_LETTER
from builder.grouping import grouped
from builder.readback.comparison import composed
from builder.readback.paper.finished_pdf import FinishedPdf, PaintedPage, PaintedText

_NUMBER = re.compile("[0-9]+")
_FAR_EM = 2.0  # what stands further apart on one line of a running head are two texts


def turned(sheet: PaintedPage) -> PaintedPage:
    """Return ``sheet``, whose texts are as they are seen from left to right, with its texts as they are read."""
    return replace(sheet, pieces=tuple(piece for line in _lines(sheet) for piece in _read(line)))


def _lines(sheet: PaintedPage) -> Iterator[list[PaintedText]]:
    """Yield what stands on one line and belongs together: one marked content, or neighbours in a running head."""
    line: list[PaintedText] = []
    for piece in sheet.pieces:
        if line and not _goes_on(line[-1], piece):
            yield line
            line = []
        line.append(piece)
    if line:
        yield line


def _goes_on(last: PaintedText, piece: PaintedText) -> bool:
    if last.mark != piece.mark:
        return False
    one, other = last.box, piece.box
    return piece.mark >= 0 or (
        max(one.bottom, other.bottom) < min(one.top, other.top) + piece.size_pt
        and other.left - one.right < _FAR_EM * piece.size_pt
        and one.left - other.right < _FAR_EM * piece.size_pt
    )


def _read(line: list[PaintedText]) -> list[PaintedText]:
    if _left_to_right(line):
        return line
    # A line is painted from left to right, and a mark before the letter that it stands on.
    return [replace(piece, text=_turned(piece.text)) for piece in reversed(line)]


def _turned(seen: str) -> str:
    """Return a text from its other end; the digits of one number are never turned round."""
    return _NUMBER.sub(lambda number: number[0][::-1], seen[::-1])


def _left_to_right(line: list[PaintedText]) -> bool:
    said = "".join(piece.text for piece in line)
    return any(map(str.isalnum, said)) and not RIGHT_TO_LEFT_LETTER.search(said)


def prove(document: Document, artefact: FinishedPdf) -> Iterator[str]:
    """Find numbers and foreign words among right-to-left letters that are not set apart, and a file that does not say
    that it is read from right to left."""
    if not is_turned(document):
        return
    if not artefact.catalogue.right_to_left:
        yield "it does not say that it is read from right to left"
    for (page, _), line in grouped(((piece.page, piece.mark), piece) for piece in artefact.texts()).items():
        said = "".join(piece.text for piece in line if piece.mark >= 0)
        if RIGHT_TO_LEFT_LETTER.search(said) and any(_is_read_forwards(sign) for sign in said):
            yield f"page {page}: “{said.strip()[:60]}” has a number or word not set apart, which may be turned round"


def _is_read_forwards(sign: str) -> bool:
    return sign.isdigit() or (sign.isalpha() and not RIGHT_TO_LEFT_LETTER.match(sign))


def is_turned(document: Document) -> bool:
    """Tell whether ``document`` is read from right to left; one of pages of others has no text of its own."""
    return bool(document.text) and composed(document.text).direction == "rtl"

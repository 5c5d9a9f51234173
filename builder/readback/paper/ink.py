"""Proof: on the rendered page every line of text has its ink, on a ground that lets it be read, in colour and in grey.

Contrast is that of WCAG 2 (https://www.w3.org/TR/WCAG21/#dfn-contrast-ratio): at least 4.5 to 1, large type included.
"""

from collections.abc import Iterator
from functools import cache
from math import ceil
from typing import Any, cast

from builder.compose.document import Document
from builder.grouping import grouped
from builder.readback.paper.finished_pdf import FinishedPdf, PaintedPage, PaintedText, Rectangle

_DPI = 110.0
LEAST_CONTRAST = 4.5
_GAP_EM = 1.5  # a longer stretch of a line without ink is text that cannot be seen
_AROUND_PT = 1.5  # a letter by itself is all ink and blur: its ground is found around it
_BLUR = 16  # of 255: nearer than this a colour is the ink itself, or the edge of a letter
_STRENGTH = 0.3  # of the step from ground to ink, above which a pixel counts as ink
_FEW_PIXELS = 500  # of so few, a row at the edge of the ground has more of one grey than the ground of its own colour
Colour = tuple[int, int, int]


def prove(document: Document, artefact: FinishedPdf) -> Iterator[str]:  # noqa: ARG001  # one signature for all proofs
    """Look at the picture of every page."""
    for sheet in artefact.sheets:
        picture = artefact.picture(sheet.number, _DPI)
        for piece in sheet.texts:
            crop = picture.crop(_crop(piece.box, sheet))
            around = crop if len(piece.text) > 2 else picture.crop(_crop(piece.box, sheet, _AROUND_PT))
            yield from (f"{piece.named} {what}" for what in _seen(piece, crop, around))


def _crop(box: Rectangle, sheet: PaintedPage, more: float = 0.0) -> tuple[int, int, int, int]:
    scale = _DPI / 72
    return (
        int((box.left - more) * scale),
        int((sheet.height - box.top - more) * scale),
        int((box.right + more) * scale) + 1,
        int((sheet.height - box.bottom + more) * scale) + 1,
    )


def _seen(piece: PaintedText, crop: Any, around: Any) -> Iterator[str]:
    if not crop.width or not crop.height:
        yield "has no ink"
        return
    ink = piece.colour[:3]
    ground = _ground(around, ink)
    for name, ratio in (("", contrast(ink, ground)), (" in grey", contrast(grey(ink), grey(ground)))):
        if ratio < LEAST_CONTRAST:
            yield f"has a contrast of {ratio:.1f} to 1{name}; {LEAST_CONTRAST} is the least"
            return
    gap = _longest_gap(crop, ink, ground)
    if gap > max(_GAP_EM * piece.size_pt * _DPI / 72, 3):
        yield "cannot be seen whole: something covers or cuts it" if gap < crop.width else "has no ink"


def _ground(crop: Any, ink: Colour) -> Colour:
    """Return the commonest colour of ``crop`` that is not the ink's own, nor the blur at its edges."""
    every = sorted(crop.getcolors(crop.width * crop.height) or [], reverse=True)
    grounds = ((many, colour) for many, colour in every if _apart(colour, ink) > _BLUR)
    first = next(grounds, (0, ink))
    return commonest_shade([first, *grounds]) if crop.width * crop.height <= _FEW_PIXELS else cast(Colour, first[1])


def commonest_shade(colours: list[tuple[int, Colour]]) -> Colour:
    """Return the one of ``colours``, each with how many pixels have it, that most have together with what is nearly it.

    What is nearly a colour lies in its own cell of the colours or in one beside it, so the cells in which few pixels
    are need not be looked through: to compare each colour with each took a third of the time of a publish.
    """
    cells = grouped((_cell(colour), (many, colour)) for many, colour in colours)
    around = {cell: [each for near in _beside(cell) for each in cells.get(near, ())] for cell in cells}
    most = {cell: sum(many for many, _ in near) for cell, near in around.items()}
    best: tuple[int, Colour] = 0, (0, 0, 0)
    for cell in sorted(cells, key=most.__getitem__, reverse=True):
        if most[cell] < best[0]:
            break
        for _, one in cells[cell]:
            alike = sum(many for many, other in around[cell] if _apart(other, one) <= _BLUR)
            best = max(best, (alike, one))
    return best[1]


def _cell(colour: Colour) -> Colour:
    red, green, blue = colour
    return red // (_BLUR + 1), green // (_BLUR + 1), blue // (_BLUR + 1)


@cache
def _beside(cell: Colour) -> tuple[Colour, ...]:
    red, green, blue = cell
    steps = (-1, 0, 1)
    return tuple((red + x, green + y, blue + z) for x in steps for y in steps for z in steps)


def _apart(colour: Colour, other: Colour) -> int:
    return max(abs(colour[0] - other[0]), abs(colour[1] - other[1]), abs(colour[2] - other[2]))


def _longest_gap(crop: Any, ink: Colour, ground: Colour) -> int:
    """Return the most neighbouring columns of pixels without ink."""
    step = _apart(ink, ground)
    band = max(range(3), key=lambda at: abs(ink[at] - ground[at]))
    columns = crop.getchannel(band).point(_inked(ground[band], ceil(_STRENGTH * step))).getprojection()[0]
    return max(map(len, bytes(columns).split(b"\x01")))


@cache
def _inked(ground: int, least: int) -> list[int]:
    """Return for each level of 256 whether it is at least ``least`` apart from that of the ``ground``: 255, else 0."""
    return [255 * (abs(level - ground) >= least) for level in range(256)]


@cache
def grey(colour: Colour) -> Colour:
    """Return ``colour`` as a mono printer shows it (ITU-R BT.601 luma)."""
    level = round(0.299 * colour[0] + 0.587 * colour[1] + 0.114 * colour[2])
    return level, level, level


@cache
def contrast(colour: Colour, other: Colour) -> float:
    """Return the contrast ratio of two sRGB colours, from 1 to 21."""
    lighter, darker = sorted((_luminance(colour), _luminance(other)), reverse=True)
    return (lighter + 0.05) / (darker + 0.05)


def _luminance(colour: Colour) -> float:
    red, green, blue = (_linear(part / 255) for part in colour)
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


def _linear(part: float) -> float:
    return part / 12.92 if part <= 0.04045 else ((part + 0.055) / 1.055) ** 2.4

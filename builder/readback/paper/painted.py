"""What is painted on each page, by PDFium: a renderer that shares no code with the typesetter."""

import ctypes
from collections.abc import Iterable, Iterator, Sequence
from functools import reduce
from math import atan2, ceil, degrees, hypot
from typing import Any, NamedTuple

import pypdfium2
import pypdfium2.raw as pdfium

from builder.grouping import grouped
from builder.readback.paper.finished_pdf import PaintedPage, PaintedText, Rectangle, RenderPage

_INVISIBLE = 3
_MOST_CHARACTERS = 4096
_SHAPES = (pdfium.FPDF_PAGEOBJ_PATH, pdfium.FPDF_PAGEOBJ_IMAGE, pdfium.FPDF_PAGEOBJ_SHADING)
_FLAT_PT = 3.0


def sheets_of(pages: Iterable[pypdfium2.PdfPage], *, as_seen: bool = False) -> tuple[PaintedPage, ...]:
    """Return ``pages`` (all those of a document) with all their text; with ``as_seen`` its letters from left to right
    as they stand, where the renderer would put them in an order of its own."""
    return tuple(_sheet(page, number, as_seen) for number, page in enumerate(pages, start=1))


def _sheet(page: Any, number: int, as_seen: bool) -> PaintedPage:
    letters, (width, height) = page.get_textpage(), page.get_size()
    seen = _seen(letters) if as_seen else None
    texts = [thing for thing in _objects(page) if thing[1] == pdfium.FPDF_PAGEOBJ_TEXT]
    pieces = (
        _text(thing, frame, number, _letters(thing, letters) if seen is None else seen.get(_address(thing), ""))
        for thing, _, frame in texts
    )
    return PaintedPage(number, width, height, tuple(pieces))


def _seen(letters: Any) -> dict[int, str]:
    """Return the letters of each text object from left to right, by its address."""
    x, y = ctypes.c_double(), ctypes.c_double()
    found = []
    for index in range(pdfium.FPDFText_CountChars(letters.raw)):
        thing = pdfium.FPDFText_GetTextObject(letters.raw, index)
        if thing and pdfium.FPDFText_IsGenerated(letters.raw, index) != 1:
            pdfium.FPDFText_GetCharOrigin(letters.raw, index, x, y)
            found.append((_address(thing), (x.value, chr(pdfium.FPDFText_GetUnicode(letters.raw, index)))))
    by_x = {thing: sorted(each, key=lambda one: one[0]) for thing, each in grouped(found).items()}
    return {thing: "".join(sign for _, sign in each) for thing, each in by_x.items()}


def _address(thing: Any) -> int:
    return ctypes.addressof(thing.contents)


_Boxes = dict[tuple[int, int], list[Rectangle]]
Drawn = tuple[_Boxes, dict[tuple[int, int], Rectangle], _Boxes]


def drawn_on(pages: Iterable[pypdfium2.PdfPage]) -> Drawn:
    """Return by page (from 1) and marked content the boxes of the shapes of ``pages``, those in forms too, and the
    largest frame: what clips a shape, or a photograph. Last, the flat lines that stand in no form, those in no marked
    content too."""
    boxes, frames, lines = [], list[tuple[tuple[int, int], Rectangle]](), list[tuple[tuple[int, int], Rectangle]]()
    for number, page in enumerate(pages, start=1):
        for thing, kind, frame in _objects(page):
            mark = pdfium.FPDFPageObj_GetMarkedContentID(thing)
            if kind not in _SHAPES:
                continue
            box = frame.box(_bounds(thing))
            if not frame.form and box.top - box.bottom < _FLAT_PT < box.right - box.left:
                lines.append(((number, mark), box))
            if mark < 0 or kind == pdfium.FPDF_PAGEOBJ_SHADING:
                continue
            if kind == pdfium.FPDF_PAGEOBJ_PATH:
                boxes.append(((number, mark), box))
            clip = frame.clipped(_clip(thing)) if kind == pdfium.FPDF_PAGEOBJ_PATH else box
            if clip is not None:
                frames.append(((number, mark), clip))
    largest = {mark: max(each, key=lambda one: one.area) for mark, each in grouped(frames).items()}
    return grouped(boxes), largest, grouped(lines)


def _objects(page: Any) -> "Iterator[tuple[Any, int, GraphicsFrame]]":
    """Yield each object of ``page``, its kind and the frame it stands in, in the order of painting; those of a form
    behind it."""
    return _inside(page.raw, pdfium.FPDFPage_CountObjects, pdfium.FPDFPage_GetObject, PAGE)


def _inside(holder: Any, count: Any, get: Any, frame: "GraphicsFrame") -> "Iterator[tuple[Any, int, GraphicsFrame]]":
    for index in range(count(holder)):
        thing = get(holder, index)
        kind = pdfium.FPDFPageObj_GetType(thing)
        yield thing, kind, frame
        if kind == pdfium.FPDF_PAGEOBJ_FORM:
            inner = GraphicsFrame(times(_matrix(thing), frame.matrix), frame.clipped(_clip(thing)), form=True)
            yield from _inside(thing, pdfium.FPDFFormObj_CountObjects, pdfium.FPDFFormObj_GetObject, inner)


def picture_of(pages: Sequence[pypdfium2.PdfPage]) -> RenderPage:
    """Return what renders a page of ``pages``."""

    def picture(number: int, dpi: float, part: tuple[int, int, int, int] | None = None) -> Any:
        page, scale = pages[number - 1], dpi / 72
        cut = (0, 0, 0, 0)
        if part is not None:
            width, height = (ceil(side * scale) for side in page.get_size())
            cut = (part[0], height - part[3], width - part[2], part[1])
        # PDFium rounds what is cut off up to the pixel.
        left, bottom, right, top = ((side - 0.5) / scale if side > 0 else 0.0 for side in cut)
        image = page.render(scale=scale, crop=(left, bottom, right, top), rev_byteorder=True).to_pil()
        return image if image.mode == "RGB" else image.convert("RGB")

    return picture


Matrix = tuple[float, float, float, float, float, float]


class GraphicsFrame(NamedTuple):
    """Where the objects of a page or form stand: their ``matrix`` to the page, what clips all, whether it is a form."""

    matrix: Matrix
    clip: Rectangle | None = None
    form: bool = False

    def box(self, inner: Rectangle) -> Rectangle:
        """Return ``inner`` as it lies on the page."""
        a, b, c, d, e, f = self.matrix
        corners = [(x, y) for x in (inner.left, inner.right) for y in (inner.bottom, inner.top)]
        across = [a * x + c * y + e for x, y in corners]
        up = [b * x + d * y + f for x, y in corners]
        return Rectangle(min(across), min(up), max(across), max(up))

    def clipped(self, inner: Rectangle | None) -> Rectangle | None:
        """Return what clips something on the page that is clipped to ``inner`` within this frame."""
        return _meet(self.clip, None if inner is None else self.box(inner))


PAGE = GraphicsFrame((1, 0, 0, 1, 0, 0))


def _text(thing: Any, frame: GraphicsFrame, page: int, text: str) -> PaintedText:
    size = ctypes.c_float()
    pdfium.FPDFTextObj_GetFontSize(thing, size)
    a, b, c, d, *_ = times(_matrix(thing), frame.matrix)
    return PaintedText(
        page=page,
        text=text,
        box=frame.box(_bounds(thing)),
        size_pt=size.value * hypot(c, d),
        font=_font(thing),
        colour=_colour(thing),
        mark=pdfium.FPDFPageObj_GetMarkedContentID(thing),
        clip=frame.clipped(_clip(thing)),
        figure=frame.form,
        turn=round(degrees(atan2(b, a))) % 360,
        mirrored=a * d - b * c < 0,
        invisible=pdfium.FPDFTextObj_GetTextRenderMode(thing) == _INVISIBLE,
    )


def _letters(thing: Any, letters: Any) -> str:
    buffer = (ctypes.c_ushort * _MOST_CHARACTERS)()
    size = pdfium.FPDFTextObj_GetText(thing, letters.raw, buffer, ctypes.sizeof(buffer))
    text = bytes(buffer)[: max(0, size - 2)].decode("utf-16-le", "replace")  # in bytes, with a closing NUL
    return text.replace("\x02", "-").replace("\ufffe", "-")  # how PDFium gives a hyphen at the end of a line


def _matrix(thing: Any) -> Matrix:
    matrix = pdfium.FS_MATRIX()
    pdfium.FPDFPageObj_GetMatrix(thing, matrix)
    return matrix.a, matrix.b, matrix.c, matrix.d, matrix.e, matrix.f


def times(first: Matrix, then: Matrix) -> Matrix:
    """Return the matrix that does ``first``, and then the other."""
    a, b, c, d, e, f = first
    g, h, i, j, k, m = then
    return a * g + b * i, a * h + b * j, c * g + d * i, c * h + d * j, e * g + f * i + k, e * h + f * j + m


def _bounds(thing: Any) -> Rectangle:
    sides = [ctypes.c_float() for _ in range(4)]
    pdfium.FPDFPageObj_GetBounds(thing, *sides)
    return Rectangle(*(side.value for side in sides))


def _font(thing: Any) -> str:
    font = pdfium.FPDFTextObj_GetFont(thing)
    buffer = ctypes.create_string_buffer(256)
    pdfium.FPDFFont_GetBaseFontName(font, buffer, len(buffer))
    return buffer.value.decode("utf-8", "replace")


def _colour(thing: Any) -> tuple[int, int, int, int]:
    parts = [ctypes.c_uint() for _ in range(4)]
    pdfium.FPDFPageObj_GetFillColor(thing, *parts)
    red, green, blue, opacity = (part.value for part in parts)
    return red, green, blue, opacity


def _clip(thing: Any) -> Rectangle | None:
    """Return the bounds of what ``thing`` is clipped to, or None where nothing clips it."""
    path = pdfium.FPDFPageObj_GetClipPath(thing)
    bounds = (_path_bounds(path, index) for index in range(max(0, pdfium.FPDFClipPath_CountPaths(path))))
    return reduce(_meet, bounds, None)


def _path_bounds(path: Any, index: int) -> Rectangle | None:
    across, up = [], []
    x, y = ctypes.c_float(), ctypes.c_float()
    for at in range(max(0, pdfium.FPDFClipPath_CountPathSegments(path, index))):
        segment = pdfium.FPDFClipPath_GetPathSegment(path, index, at)
        if pdfium.FPDFPathSegment_GetPoint(segment, x, y):
            across.append(x.value)
            up.append(y.value)
    return Rectangle(min(across), min(up), max(across), max(up)) if across else None


def _meet(clip: Rectangle | None, other: Rectangle | None) -> Rectangle | None:
    return clip.meet(other) if clip and other else clip or other

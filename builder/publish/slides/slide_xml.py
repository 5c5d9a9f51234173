"""Shapes of a .pptx as XML (ECMA-376 part 1, chapters 19 to 21): text, pictures, signals, landmarks, pointers."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from xml.sax.saxutils import escape, quoteattr

from builder.compose.slides.slide import PictureFrame, SlideBox, SlidePicture, SlideRow
from builder.compose.slides.slide_pointers import DISC
from builder.compose.slides.slide_type import width_of
from builder.publish.slides.slide_look import LOOKS, PICTURE, SIGNALS, Look

EMU = 12700
"""English metric units in a point."""
SPACES = (
    'xmlns:a="http://schemas.openxmlformats.org/drawingml/2006/main" '
    'xmlns:r="http://schemas.openxmlformats.org/officeDocument/2006/relationships" '
    'xmlns:p="http://schemas.openxmlformats.org/presentationml/2006/main"'
)
_DECORATIVE = (
    '<a:extLst><a:ext uri="{C183D7F6-B498-43B3-948B-1728B52AA6E4}"><adec:decorative '
    'xmlns:adec="http://schemas.microsoft.com/office/drawing/2017/decorative" val="1"/></a:ext></a:extLst>'
)
_NO_LINE = "<a:ln><a:noFill/></a:ln>"
_RADIUS = 22.0
_TRACKING = 60  # hundredths of a point between capitals


@dataclass
class Shapes:
    """Gives the shapes of one slide their numbers."""

    language: str
    last: int = 1

    def named(self, name: str, alt: str = "", *, decorative: bool = False) -> str:
        """Return the properties that every shape has; ``alt`` is its description."""
        self.last += 1
        described = f" descr={quoteattr(alt)}" if alt else ""
        inner = _DECORATIVE if decorative else ""
        return f'<p:cNvPr id="{self.last}" name={quoteattr(name)}{described}>{inner}</p:cNvPr>'


def emu(pt: float) -> int:
    """Return points in the units of the format."""
    return round(pt * EMU)


def frame_xml(left: float, top: float, width: float, height: float) -> str:
    """Return where a shape stands, in points."""
    return f'<a:xfrm><a:off x="{emu(left)}" y="{emu(top)}"/><a:ext cx="{emu(width)}" cy="{emu(height)}"/></a:xfrm>'


def fill_xml(colour: str) -> str:
    """Return a fill in a colour of the theme ("" = none)."""
    return f'<a:solidFill><a:schemeClr val="{colour}"/></a:solidFill>' if colour else "<a:noFill/>"


def line_xml(colour: str, pt: float = 1.5) -> str:
    """Return an outline in a colour of the theme ("" = none)."""
    return f'<a:ln w="{emu(pt)}">{fill_xml(colour)}<a:miter lim="800000"/></a:ln>' if colour else _NO_LINE


def body_xml(pad: Sequence[float], anchor: str = "t") -> str:
    """Return how text stands in its shape: ``pad`` is left, top, right, bottom; its size never changes by itself."""
    left, top, right, bottom = (emu(one) for one in pad)
    return (
        f'<a:bodyPr wrap="square" lIns="{left}" tIns="{top}" rIns="{right}" bIns="{bottom}" anchor="{anchor}">'
        "<a:noAutofit/></a:bodyPr>"
    )


def run_xml(text: str, language: str, properties: str = "", inner: str = "") -> str:
    """Return words in one look."""
    return (
        f'<a:r><a:rPr lang={quoteattr(language)}{properties} dirty="0">{inner}</a:rPr><a:t>{escape(text)}</a:t></a:r>'
    )


def text_shape(box: SlideBox, shapes: Shapes, turn: int) -> str:
    """Return the words of ``box`` in the placeholder of their role; ``turn`` counts boxes of that role from 0."""
    if box.role == "title":
        marks, name, size = '<p:ph type="title"/>', "Title", f' sz="{round(box.pt * 100)}"'
    else:
        look = LOOKS[box.role]
        marks, name, size = f'<p:ph type="body" sz="quarter" idx="{look.idx + turn}"/>', look.name, ""
    paragraphs = "".join(_row(box, row, at, shapes.language, size) for at, row in enumerate(box.rows))
    return (
        f'<p:sp {SPACES}><p:nvSpPr>{shapes.named(name)}<p:cNvSpPr><a:spLocks noGrp="1"/></p:cNvSpPr>'
        f"<p:nvPr>{marks}</p:nvPr></p:nvSpPr><p:spPr>{frame_xml(box.left, box.top, box.width, box.height)}</p:spPr>"
        f"<p:txBody><a:bodyPr/><a:lstStyle/>{paragraphs}</p:txBody></p:sp>"
    )


def _row(box: SlideBox, row: SlideRow, at: int, language: str, size: str) -> str:
    before = f'<a:spcBef><a:spcPts val="{round(box.gap * 100)}"/></a:spcBef>' if at and box.gap else ""
    leading = f'<a:lnSpc><a:spcPts val="{round(box.leading * 100)}"/></a:lnSpc>' if box.role == "title" else ""
    properties = f"<a:pPr>{leading}{before}</a:pPr>"
    words = run_xml(row.text, language, size)
    if row.label and box.above:
        label = run_xml(row.label, language, ' sz="2400" b="0"', _quiet(LOOKS[box.role]))
        spacing = '<a:pPr><a:lnSpc><a:spcPts val="3100"/></a:lnSpc></a:pPr>'
        return f"<a:p>{spacing}{label}</a:p><a:p>{properties}{words}</a:p>"
    if row.label:
        apart = "\t" if box.indent else " "
        words = run_xml(f"{row.label}{apart}", language, ' b="1"') + words
    return f"<a:p>{properties}{words}</a:p>"


def _quiet(look: Look) -> str:
    return fill_xml("tx2" if look.colour == "tx1" else look.colour)


def bars(box: SlideBox, shapes: Shapes) -> Iterator[str]:
    """Yield the bars at the left of ``box``, which repeat by shape what its label says."""
    bar = LOOKS[box.role].bar if box.role in LOOKS else ""
    strokes = {"single": ((6.0, 6.0),), "double": ((6.0, 2.0), (2.0, 2.0))}.get(bar, ())
    for back, width in strokes:
        yield plain_shape(shapes, PictureFrame(box.left - back, box.top, width, box.height), "tx1")


def plain_shape(shapes: Shapes, frame: PictureFrame, fill: str, line: str = "", pt: float = 1.5) -> str:
    """Return a rectangle that only decorates."""
    return (
        f'<p:sp {SPACES}><p:nvSpPr>{shapes.named("Decoration", decorative=True)}<p:cNvSpPr/><p:nvPr userDrawn="1"/>'
        f"</p:nvSpPr><p:spPr>{frame_xml(frame.left, frame.top, frame.width, frame.height)}"
        f"{RECT}{fill_xml(fill)}{line_xml(line, pt)}</p:spPr></p:sp>"
    )


def landmark(box: SlideBox, shapes: Shapes) -> str:
    """Return the number of a step in its shield, or the letter of a branch."""
    dark = box.role in ("critical", "letter")
    geometry = _shield(box) if box.role == "critical" else _rounded(box) if box.role == "number" else RECT
    line = line_xml("" if dark else "tx1", 2.25)
    name = {"letter": "Letter of the way", "critical": "Number of the critical step"}.get(box.role, "Number")
    return _centred(
        box, shapes, name, f"{geometry}{fill_xml('tx1' if dark else 'bg1')}{line}", "bg1" if dark else "tx1"
    )


RECT = '<a:prstGeom prst="rect"><a:avLst/></a:prstGeom>'


def _rounded(box: SlideBox) -> str:
    part = round(9.0 / min(box.width, box.height) * 100000)
    return f'<a:prstGeom prst="roundRect"><a:avLst><a:gd name="adj" fmla="val {part}"/></a:avLst></a:prstGeom>'


def _shield(box: SlideBox) -> str:
    """Return a shape with round corners at the right only."""
    width, height, radius = emu(box.width), emu(box.height), emu(_RADIUS)
    point = '<a:pt x="{}" y="{}"/>'
    arc = f'<a:arcTo wR="{radius}" hR="{radius}" stAng="{{}}" swAng="5400000"/>'
    return (
        '<a:custGeom><a:avLst/><a:gdLst/><a:ahLst/><a:cxnLst/><a:rect l="0" t="0" r="r" b="b"/><a:pathLst>'
        f'<a:path w="{width}" h="{height}"><a:moveTo>{point.format(0, 0)}</a:moveTo>'
        f"<a:lnTo>{point.format(width - radius, 0)}</a:lnTo>{arc.format(16200000)}"
        f"<a:lnTo>{point.format(width, height - radius)}</a:lnTo>{arc.format(0)}"
        f"<a:lnTo>{point.format(0, height)}</a:lnTo><a:close/></a:path></a:pathLst></a:custGeom>"
    )


def _centred(box: SlideBox, shapes: Shapes, name: str, look: str, colour: str) -> str:
    words = run_xml(box.rows[0].text, shapes.language, f' sz="{round(box.pt * 100)}" b="1"', fill_xml(colour))
    return (
        f"<p:sp {SPACES}><p:nvSpPr>{shapes.named(name)}<p:cNvSpPr/><p:nvPr/></p:nvSpPr>"
        f"<p:spPr>{frame_xml(box.left, box.top, box.width, box.height)}{look}</p:spPr>"
        f'<p:txBody>{body_xml((0, 0, 0, 0), "ctr")}<a:lstStyle/><a:p><a:pPr algn="ctr"/>{words}</a:p></p:txBody></p:sp>'
    )


def signal(box: SlideBox, shapes: Shapes) -> Iterator[str]:
    """Yield the block of a signal word, with the safety alert symbol that ISO 3864-2 puts before all but notice."""
    fill, colour = SIGNALS[box.mark]
    word = box.rows[0].text
    wide = width_of(word.upper(), box.pt, bold=True) + len(word) * _TRACKING / 100
    symbol = 0.0 if box.mark == "notice" else box.pt * 0.95
    start = max(4.0, (box.width - wide - symbol - 8.0 * bool(symbol)) / 2)
    slant = ' i="1"' if box.mark == "notice" else ""
    words = run_xml(
        word, shapes.language, f' sz="{round(box.pt * 100)}" b="1"{slant} cap="all" spc="{_TRACKING}"', fill_xml(colour)
    )
    inset = start + symbol + 8.0 * bool(symbol)
    yield (
        f"<p:sp {SPACES}><p:nvSpPr>{shapes.named('Signal word')}<p:cNvSpPr/><p:nvPr/></p:nvSpPr>"
        f"<p:spPr>{frame_xml(box.left, box.top, box.width, box.height)}{RECT}{fill_xml(fill)}"
        f"{line_xml('tx1')}</p:spPr><p:txBody>{body_xml((inset, 0, 0, 0), 'ctr')}<a:lstStyle/>"
        f'<a:p><a:pPr algn="l"/>{words}</a:p></p:txBody></p:sp>'
    )
    if symbol:
        height = symbol * 0.875
        at = PictureFrame(box.left + start, box.top + (box.height - height) / 2, symbol, height)
        yield _alert(shapes, at, ("bg1", fill) if box.mark == "danger" else ("tx1", "bg1"))


def _alert(shapes: Shapes, at: PictureFrame, colours: tuple[str, str]) -> str:
    """Return the safety alert symbol: a triangle with an exclamation mark, drawn like that on paper."""
    mark = (
        '<a:path w="240" h="210"><a:moveTo><a:pt x="107" y="74"/></a:moveTo><a:lnTo><a:pt x="133" y="74"/></a:lnTo>'
        '<a:lnTo><a:pt x="128" y="138"/></a:lnTo><a:lnTo><a:pt x="112" y="138"/></a:lnTo><a:close/>'
        '<a:moveTo><a:pt x="106" y="166"/></a:moveTo><a:arcTo wR="14" hR="14" stAng="10800000" swAng="21600000"/>'
        "<a:close/></a:path>"
    )
    geometry = (
        '<a:custGeom><a:avLst/><a:gdLst/><a:ahLst/><a:cxnLst/><a:rect l="0" t="0" r="r" b="b"/>'
        f"<a:pathLst>{mark}</a:pathLst></a:custGeom>"
    )
    triangle = '<a:prstGeom prst="triangle"><a:avLst/></a:prstGeom>'
    place = frame_xml(at.left, at.top, at.width, at.height)
    head = shapes.named("Safety alert symbol", "Safety alert")
    parts = "".join(
        f"<p:sp><p:nvSpPr>{shapes.named(name, decorative=True)}<p:cNvSpPr/><p:nvPr/></p:nvSpPr>"
        f"<p:spPr>{place}{form}{fill_xml(colour)}{_NO_LINE}</p:spPr></p:sp>"
        for name, form, colour in (("Triangle", triangle, colours[0]), ("Mark", geometry, colours[1]))
    )
    return _group(head, at, parts)


def _group(head: str, at: PictureFrame, parts: str) -> str:
    left, top, width, height = emu(at.left), emu(at.top), emu(at.width), emu(at.height)
    return (
        f"<p:grpSp {SPACES}><p:nvGrpSpPr>{head}<p:cNvGrpSpPr/><p:nvPr/></p:nvGrpSpPr><p:grpSpPr><a:xfrm>"
        f'<a:off x="{left}" y="{top}"/><a:ext cx="{width}" cy="{height}"/>'
        f'<a:chOff x="{left}" y="{top}"/><a:chExt cx="{width}" cy="{height}"/></a:xfrm></p:grpSpPr>{parts}</p:grpSp>'
    )


def picture(shown: SlidePicture, at: PictureFrame, points: str, drawing: str, shapes: Shapes) -> str:
    """Return a figure in its placeholder: ``points`` and ``drawing`` are the relationships of its PNG and, where it
    has one, its SVG ([MS-ODRAWXML] 2.3.2.8)."""
    vector = (
        '<a:extLst><a:ext uri="{96DAC541-7B7A-43D3-8B79-37D633B846F1}"><asvg:svgBlip '
        'xmlns:asvg="http://schemas.microsoft.com/office/drawing/2016/SVG/main" '
        f'r:embed="{drawing}"/></a:ext></a:extLst>'
    )
    return (
        f"<p:pic {SPACES}><p:nvPicPr>{shapes.named('Figure', shown.alt)}"
        '<p:cNvPicPr><a:picLocks noGrp="1" noChangeAspect="1"/></p:cNvPicPr>'
        f'<p:nvPr><p:ph type="pic" idx="{PICTURE}"/></p:nvPr></p:nvPicPr>'
        f'<p:blipFill><a:blip r:embed="{points}">{vector if drawing else ""}</a:blip>'
        "<a:stretch><a:fillRect/></a:stretch></p:blipFill>"
        f"<p:spPr>{frame_xml(at.left, at.top, at.width, at.height)}</p:spPr></p:pic>"
    )


def pointers(shown: SlidePicture, at: PictureFrame, shapes: Shapes) -> str:
    """Return the numbers on a figure, with lines to what they show, as one group of shapes."""
    listed = "; ".join(f"{spot.number} {spot.name}" for spot in shown.spots)
    head = shapes.named("Pointers", f"Numbers on the figure: {listed}.")
    parts = []
    for spot in shown.spots:
        x, y = at.left + spot.x / 100 * at.width, at.top + spot.y / 100 * at.height
        left, top = at.left + spot.left / 100 * at.width, at.top + spot.top / 100 * at.height
        parts.append(_line(shapes, x, y, left, top))
        parts.append(_disc(shapes, x, y, 9.0, ""))
    for spot in shown.spots:
        left, top = at.left + spot.left / 100 * at.width, at.top + spot.top / 100 * at.height
        parts.append(_disc(shapes, left, top, DISC, str(spot.number)))
    return _group(head, at, "".join(parts))


def _line(shapes: Shapes, x: float, y: float, left: float, top: float) -> str:
    flip = ' flipH="1"' * (left < x) + ' flipV="1"' * (top < y)
    width, height = abs(left - x), abs(top - y)
    return (
        f"<p:cxnSp><p:nvCxnSpPr>{shapes.named('Line', decorative=True)}<p:cNvCxnSpPr/><p:nvPr/></p:nvCxnSpPr><p:spPr>"
        f'<a:xfrm{flip}><a:off x="{emu(min(x, left))}" y="{emu(min(y, top))}"/>'
        f'<a:ext cx="{emu(width)}" cy="{emu(height)}"/></a:xfrm>'
        f'<a:prstGeom prst="line"><a:avLst/></a:prstGeom>{line_xml("tx1", 2.25)}</p:spPr></p:cxnSp>'
    )


def _disc(shapes: Shapes, x: float, y: float, size: float, text: str) -> str:
    words = run_xml(text, shapes.language, ' sz="2400" b="1"', fill_xml("bg1")) if text else ""
    name = f"Pointer {text}" if text else "Spot"
    told = (
        f"<p:txBody>{body_xml((0, 0, 0, 0), 'ctr').replace('square', 'none')}<a:lstStyle/>"
        f'<a:p><a:pPr algn="ctr"/>{words}</a:p></p:txBody>'
        if text
        else ""
    )
    return (
        f"<p:sp><p:nvSpPr>{shapes.named(name, decorative=not text)}<p:cNvSpPr/><p:nvPr/></p:nvSpPr>"
        f"<p:spPr>{frame_xml(x - size / 2, y - size / 2, size, size)}"
        f'<a:prstGeom prst="ellipse"><a:avLst/></a:prstGeom>{fill_xml("tx1")}'
        f"{line_xml('bg1', 1.5 if text else 1.2)}</p:spPr>{told}</p:sp>"
    )

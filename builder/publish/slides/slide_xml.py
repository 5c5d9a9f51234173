"""Shapes of a .pptx as XML (ECMA-376 part 1, chapters 19 to 21): text, pictures, signals, landmarks, pointers."""

from collections.abc import Iterator
from dataclasses import dataclass
from xml.sax.saxutils import escape, quoteattr

from builder.compose.slides.slide import PictureFrame, SlideBox, SlidePicture, SlideRow
from builder.compose.slides.slide_beside import DISC
from builder.compose.slides.slide_text import width_of
from builder.publish.slides.slide_look import LOOKS, PICTURE, SIGNALS

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


def spot_xml(x: float, y: float, name: str = "off") -> str:
    """Return a place in points."""
    return f'<a:{name} x="{emu(x)}" y="{emu(y)}"/>'


def size_xml(width: float, height: float, name: str = "ext") -> str:
    """Return a size in points."""
    return f'<a:{name} cx="{emu(width)}" cy="{emu(height)}"/>'


def frame_xml(at: PictureFrame | SlideBox) -> str:
    """Return where a shape stands."""
    return f"<a:xfrm>{spot_xml(at.left, at.top)}{size_xml(at.width, at.height)}</a:xfrm>"


def form_xml(name: str, adjusted: str = "") -> str:
    """Return a form that every program knows by its ``name``."""
    return f'<a:prstGeom prst="{name}"><a:avLst>{adjusted}</a:avLst></a:prstGeom>'


RECT = form_xml("rect")


def fill_xml(colour: str) -> str:
    """Return a fill in a colour of the theme ("" = none)."""
    return f'<a:solidFill><a:schemeClr val="{colour}"/></a:solidFill>' if colour else "<a:noFill/>"


def line_xml(colour: str, pt: float = 1.5) -> str:
    """Return an outline in a colour of the theme ("" = none)."""
    return f'<a:ln w="{emu(pt)}">{fill_xml(colour)}<a:miter lim="800000"/></a:ln>' if colour else _NO_LINE


def body_xml(pad: tuple[float, float, float, float] = (0, 0, 0, 0), anchor: str = "t", wrap: str = "square") -> str:
    """Return how text stands in its shape: ``pad`` is left, top, right, bottom; its size never changes by itself."""
    left, top, right, bottom = map(emu, pad)
    return (
        f'<a:bodyPr wrap="{wrap}" lIns="{left}" tIns="{top}" rIns="{right}" bIns="{bottom}" anchor="{anchor}">'
        "<a:noAutofit/></a:bodyPr>"
    )


def run_xml(text: str, language: str, properties: str = "", inner: str = "") -> str:
    """Return words in one look."""
    return (
        f'<a:r><a:rPr lang={quoteattr(language)}{properties} dirty="0">{inner}</a:rPr><a:t>{escape(text)}</a:t></a:r>'
    )


def shape_xml(named: str, look: str, text: str = "", *, holder: str = "", drawn: bool = False) -> str:
    """Return a shape: its ``look`` is place, form and colours, ``holder`` the placeholder that it is ("" = none).

    ``drawn`` says that it only decorates.
    """
    locks = '<p:cNvSpPr><a:spLocks noGrp="1"/></p:cNvSpPr>' if holder else "<p:cNvSpPr/>"
    use = f"<p:nvPr>{holder}</p:nvPr>" if holder else '<p:nvPr userDrawn="1"/>' if drawn else "<p:nvPr/>"
    words = f"<p:txBody>{text}</p:txBody>" if text else ""
    return f"<p:sp><p:nvSpPr>{named}{locks}{use}</p:nvSpPr><p:spPr>{look}</p:spPr>{words}</p:sp>"


def decoration_xml(named: str, at: PictureFrame, fill: str, line: str = "", pt: float = 1.5) -> str:
    """Return a rectangle that only decorates."""
    return shape_xml(named, f"{frame_xml(at)}{RECT}{fill_xml(fill)}{line_xml(line, pt)}", drawn=True)


def text_shape(box: SlideBox, shapes: Shapes, turn: int) -> str:
    """Return the words of ``box`` in the placeholder of their role; ``turn`` counts boxes of that role from 0."""
    if box.role == "title":
        holder, name, size = '<p:ph type="title"/>', "Title", f' sz="{round(box.style.pt * 100)}"'
    else:
        look = LOOKS[box.role]
        holder, name, size = f'<p:ph type="body" sz="quarter" idx="{look.idx + turn}"/>', look.name, ""
    rows = "".join(_row(box, row, at, shapes.language, size) for at, row in enumerate(box.rows))
    return shape_xml(shapes.named(name), frame_xml(box), f"<a:bodyPr/><a:lstStyle/>{rows}", holder=holder)


def _row(box: SlideBox, row: SlideRow, at: int, language: str, size: str) -> str:
    before = f'<a:spcBef><a:spcPts val="{round(box.style.gap * 100)}"/></a:spcBef>' if at and box.style.gap else ""
    leading = f'<a:lnSpc><a:spcPts val="{round(box.style.leading * 100)}"/></a:lnSpc>' if box.role == "title" else ""
    properties = f"<a:pPr>{leading}{before}</a:pPr>"
    words = run_xml(row.text, language, size)
    if row.label and box.style.above:
        colour = LOOKS[box.role].colour
        label = run_xml(row.label, language, ' sz="2400" b="0"', fill_xml("tx2" if colour == "tx1" else colour))
        spacing = '<a:pPr><a:lnSpc><a:spcPts val="3100"/></a:lnSpc></a:pPr>'
        return f"<a:p>{spacing}{label}</a:p><a:p>{properties}{words}</a:p>"
    if row.label:
        apart = "\t" if box.style.indent else " "
        words = run_xml(f"{row.label}{apart}", language, ' b="1"') + words
    return f"<a:p>{properties}{words}</a:p>"


def bars(box: SlideBox, shapes: Shapes) -> Iterator[str]:
    """Yield the bars at the left of ``box``, which repeat by shape what its label says."""
    bar = LOOKS[box.role].bar if box.role in LOOKS else ""
    strokes = {"single": ((6.0, 6.0),), "double": ((6.0, 2.0), (2.0, 2.0))}.get(bar, ())
    for back, width in strokes:
        at = PictureFrame(box.left - back, box.top, width, box.height)
        yield decoration_xml(shapes.named("Decoration", decorative=True), at, "tx1")


def landmark(box: SlideBox, shapes: Shapes) -> str:
    """Return the number of a step in its shield, or the letter of a branch."""
    dark = box.role in ("critical", "letter")
    corner = round(9.0 / min(box.width, box.height) * 100000)
    rounded = form_xml("roundRect", f'<a:gd name="adj" fmla="val {corner}"/>')
    form = {"critical": _shield(box), "number": rounded}.get(box.role, RECT)
    name = {"letter": "Letter of the way", "critical": "Number of the critical step"}.get(box.role, "Number")
    look = f"{form}{fill_xml('tx1' if dark else 'bg1')}{line_xml('' if dark else 'tx1', 2.25)}"
    size = f' sz="{round(box.style.pt * 100)}" b="1"'
    words = run_xml(box.rows[0].text, shapes.language, size, fill_xml("bg1" if dark else "tx1"))
    return shape_xml(shapes.named(name), f"{frame_xml(box)}{look}", _in_the_middle(words))


def _in_the_middle(words: str, across: str = "ctr", left: float = 0.0, wrap: str = "square") -> str:
    """Return a line of ``words`` at half the height of its shape."""
    body = body_xml((left, 0, 0, 0), "ctr", wrap)
    return f'{body}<a:lstStyle/><a:p><a:pPr algn="{across}"/>{words}</a:p>'


def _path(width: str | int, height: str | int, lines: str) -> str:
    """Return a form of our own, which ``lines`` draw in a field of ``width`` by ``height``."""
    return (
        '<a:custGeom><a:avLst/><a:gdLst/><a:ahLst/><a:cxnLst/><a:rect l="0" t="0" r="r" b="b"/><a:pathLst>'
        f'<a:path w="{width}" h="{height}">{lines}</a:path></a:pathLst></a:custGeom>'
    )


def _to(x: float, y: float, name: str = "lnTo") -> str:
    return f'<a:{name}><a:pt x="{x}" y="{y}"/></a:{name}>'


def _shield(box: SlideBox) -> str:
    """Return a form with round corners at the right only."""
    width, height, radius = emu(box.width), emu(box.height), emu(_RADIUS)
    arc = f'<a:arcTo wR="{radius}" hR="{radius}" stAng="{{}}" swAng="5400000"/>'
    return _path(
        width, height,
        f"{_to(0, 0, 'moveTo')}{_to(width - radius, 0)}{arc.format(16200000)}"
        f"{_to(width, height - radius)}{arc.format(0)}{_to(0, height)}<a:close/>",
    )  # fmt: skip


_EXCLAMATION = _path(
    240, 210,
    f"{_to(107, 74, 'moveTo')}{_to(133, 74)}{_to(128, 138)}{_to(112, 138)}<a:close/>{_to(106, 166, 'moveTo')}"
    '<a:arcTo wR="14" hR="14" stAng="10800000" swAng="21600000"/><a:close/>',
)  # fmt: skip


def signal(box: SlideBox, shapes: Shapes) -> Iterator[str]:
    """Yield the block of a signal word, with the safety alert symbol that ISO 3864-2 puts before all but notice."""
    fill, colour = SIGNALS[box.mark]
    word = box.rows[0].text
    wide = width_of(word.upper(), box.style.pt, bold=True) + len(word) * _TRACKING / 100
    symbol = 0.0 if box.mark == "notice" else box.style.pt * 0.95
    room = symbol + 8.0 * bool(symbol)
    start = max(4.0, (box.width - wide - room) / 2)
    slant = ' i="1"' if box.mark == "notice" else ""
    properties = f' sz="{round(box.style.pt * 100)}" b="1"{slant} cap="all" spc="{_TRACKING}"'
    words = run_xml(word, shapes.language, properties, fill_xml(colour))
    look = f"{frame_xml(box)}{RECT}{fill_xml(fill)}{line_xml('tx1')}"
    yield shape_xml(shapes.named("Signal word"), look, _in_the_middle(words, "l", start + room))
    if symbol:
        height = symbol * 0.875
        at = PictureFrame(box.left + start, box.top + (box.height - height) / 2, symbol, height)
        yield _alert(shapes, at, ("bg1", fill) if box.mark == "danger" else ("tx1", "bg1"))


def _alert(shapes: Shapes, at: PictureFrame, colours: tuple[str, str]) -> str:
    """Return the safety alert symbol: a triangle with an exclamation mark, drawn like that on paper."""
    head = shapes.named("Safety alert symbol", "Safety alert")
    forms = zip(("Triangle", "Mark"), (form_xml("triangle"), _EXCLAMATION), colours, strict=True)
    parts = (
        shape_xml(shapes.named(name, decorative=True), f"{frame_xml(at)}{form}{fill_xml(colour)}{_NO_LINE}")
        for name, form, colour in forms
    )
    return _group(head, at, "".join(parts))


def _group(head: str, at: PictureFrame, parts: str) -> str:
    place = f"{spot_xml(at.left, at.top)}{size_xml(at.width, at.height)}"
    inner = f"{spot_xml(at.left, at.top, 'chOff')}{size_xml(at.width, at.height, 'chExt')}"
    return (
        f"<p:grpSp><p:nvGrpSpPr>{head}<p:cNvGrpSpPr/><p:nvPr/></p:nvGrpSpPr><p:grpSpPr>"
        f"<a:xfrm>{place}{inner}</a:xfrm></p:grpSpPr>{parts}</p:grpSp>"
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
        f"<p:pic><p:nvPicPr>{shapes.named('Figure', shown.alt)}"
        '<p:cNvPicPr><a:picLocks noGrp="1" noChangeAspect="1"/></p:cNvPicPr>'
        f'<p:nvPr><p:ph type="pic" idx="{PICTURE}"/></p:nvPr></p:nvPicPr>'
        f'<p:blipFill><a:blip r:embed="{points}">{vector if drawing else ""}</a:blip>'
        "<a:stretch><a:fillRect/></a:stretch></p:blipFill>"
        f"<p:spPr>{frame_xml(at)}</p:spPr></p:pic>"
    )


def pointers(shown: SlidePicture, at: PictureFrame, shapes: Shapes) -> str:
    """Return the numbers on a figure, with lines to what they show, as one group of shapes."""

    def on_slide(x: float, y: float) -> tuple[float, float]:
        return at.left + x / 100 * at.width, at.top + y / 100 * at.height

    listed = "; ".join(f"{spot.number} {spot.name}" for spot in shown.spots)
    head = shapes.named("Pointers", f"Numbers on the figure: {listed}.")
    parts: list[str] = []
    for spot in shown.spots:
        goal, number = on_slide(spot.x, spot.y), on_slide(spot.left, spot.top)
        parts.extend((_line(shapes, goal, number), _disc(shapes, goal, 9.0, "")))
    parts.extend(_disc(shapes, on_slide(spot.left, spot.top), DISC, str(spot.number)) for spot in shown.spots)
    return _group(head, at, "".join(parts))


def _line(shapes: Shapes, start: tuple[float, float], end: tuple[float, float]) -> str:
    (x, y), (left, top) = start, end
    flip = ' flipH="1"' * (left < x) + ' flipV="1"' * (top < y)
    return (
        f"<p:cxnSp><p:nvCxnSpPr>{shapes.named('Line', decorative=True)}<p:cNvCxnSpPr/><p:nvPr/></p:nvCxnSpPr><p:spPr>"
        f"<a:xfrm{flip}>{spot_xml(min(x, left), min(y, top))}{size_xml(abs(left - x), abs(top - y))}</a:xfrm>"
        f"{form_xml('line')}{line_xml('tx1', 2.25)}</p:spPr></p:cxnSp>"
    )


def _disc(shapes: Shapes, middle: tuple[float, float], size: float, text: str) -> str:
    words = run_xml(text, shapes.language, ' sz="2400" b="1"', fill_xml("bg1"))
    at = PictureFrame(middle[0] - size / 2, middle[1] - size / 2, size, size)
    look = f"{frame_xml(at)}{form_xml('ellipse')}{fill_xml('tx1')}{line_xml('bg1', 1.5 if text else 1.2)}"
    named = shapes.named(f"Pointer {text}" if text else "Spot", decorative=not text)
    return shape_xml(named, look, _in_the_middle(words, wrap="none") if text else "")

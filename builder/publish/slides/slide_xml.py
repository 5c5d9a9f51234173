"""Shapes of a .pptx (ECMA-376 part 1, chapters 19 to 21): text, pictures, signals, landmarks, pointers."""

from collections import Counter
from collections.abc import Iterator
from typing import Any

from lxml.builder import ElementMaker
from pptx.oxml.ns import namespaces, qn

from builder.compose.slides.slide import SlideBox, SlideFrame, SlidePart, SlidePicture
from builder.compose.slides.slide_beside import DISC
from builder.compose.slides.slide_layout import LEFT, RIGHT
from builder.compose.slides.slide_text import width_of
from builder.load.program_words import gettext
from builder.publish.slides.slide_look import LOOKS, PICTURE, SIGNALS

EMU = 12700
"""English metric units in a point."""
SPACES = namespaces("a", "r", "p")
A, P = (ElementMaker(namespace=SPACES[name], nsmap=SPACES) for name in "ap")
_DRAWING = "http://schemas.microsoft.com/office/drawing"
_MORE = {"adec": f"{_DRAWING}/2017/decorative", "asvg": f"{_DRAWING}/2016/SVG/main"}
_ADEC, _ASVG = (ElementMaker(namespace=space, nsmap={name: space}) for name, space in _MORE.items())
_EMBED = qn("r:embed")
_RADIUS = 22.0
_TRACKING = 60  # hundredths of a point between capitals
FOOT = {"ftr": 3, "sldNum": 4}
"""Numbers of the placeholders that run along at the foot of every slide."""


def named(name: str, alt: str = "", *, decorative: bool = False) -> Any:
    """Return the properties that every shape has; ``alt`` is its description. ``finished`` gives it its number."""
    told = A.extLst(A.ext(_ADEC.decorative(val="1"), uri="{C183D7F6-B498-43B3-948B-1728B52AA6E4}"))
    described = {"descr": alt} if alt else {}
    return P.cNvPr(*([told] if decorative else []), id="", name=name, **described)


def run(text: str, *inner: Any, **look: str) -> Any:
    """Return words in one look; ``finished`` gives them their language."""
    return A.r(A.rPr(*inner, lang="", dirty="0", **look), A.t(text))


def finished(page: Any, language: str) -> Any:
    """Return ``page`` with its shapes numbered in reading order, and its words in ``language``."""
    for number, told in enumerate(page.iter("{*}cNvPr"), start=1):
        told.set("id", str(number))
    for words in page.iter("{*}rPr", "{*}endParaRPr"):
        words.set("lang", language)
    return page


def emu(pt: float) -> str:
    """Return points in the units of the format."""
    return str(round(pt * EMU))


def frame(at: SlideFrame) -> Any:
    """Return where a shape stands."""
    off, size = A.off(x=emu(at.left), y=emu(at.top)), A.ext(cx=emu(at.width), cy=emu(at.height))
    return A.xfrm(off, size)


def form(name: str, *adjusted: Any) -> Any:
    """Return a form that every program knows by its ``name``."""
    return A.prstGeom(A.avLst(*adjusted), prst=name)


def fill(colour: str) -> Any:
    """Return a fill in a colour of the theme ("" = none)."""
    return A.solidFill(A.schemeClr(val=colour)) if colour else A.noFill()


def line(colour: str, pt: float = 1.5) -> Any:
    """Return an outline in a colour of the theme ("" = none)."""
    return A.ln(fill(colour), A.miter(lim="800000"), w=emu(pt)) if colour else A.ln(A.noFill())


def shape(told: Any, look: list[Any], *text: Any, holder: dict[str, str] | None = None) -> Any:
    """Return a shape: its ``look`` is place, form and colours, ``holder`` the placeholder that it is (None: none)."""
    locks = P.cNvSpPr(A.spLocks(noGrp="1")) if holder else P.cNvSpPr()
    use = P.nvPr(P.ph(**holder)) if holder else P.nvPr()
    return P.sp(P.nvSpPr(told, locks, use), P.spPr(*look), *([P.txBody(*text)] if text else []))


def body_holder(idx: int) -> dict[str, str]:
    """Return what a placeholder for text says of itself."""
    return {"type": "body", "sz": "quarter", "idx": str(idx)}


def _in_the_middle(words: Any, across: str = "ctr", left: float = 0.0, wrap: str = "square") -> list[Any]:
    """Return a line of ``words`` at half the height of its shape; its size never changes by itself."""
    insets = {"lIns": emu(left), "tIns": "0", "rIns": "0", "bIns": "0"}
    body = A.bodyPr(A.noAutofit(), wrap=wrap, anchor="ctr", **insets)
    return [body, A.lstStyle(), A.p(A.pPr(algn=across), words)]


def decoration(at: SlideFrame, colour: str, edge: str = "", pt: float = 1.5) -> Any:
    """Return a rectangle that only decorates, filled with ``colour``; ``edge`` is that of its outline."""
    return shape(named("Decoration", decorative=True), [frame(at), form("rect"), fill(colour), line(edge, pt)])


def _text_shape(box: SlideBox, turn: int) -> Any:
    """Return the words of ``box`` in the placeholder of their role; ``turn`` counts boxes of that role from 0."""
    look, is_title = LOOKS[box.role], box.role == "title"
    holder = {"type": "title"} if is_title else body_holder(look.idx + turn)
    rows = (part for at, row in enumerate(box.rows) for part in _row(box, row, is_first=at == 0))
    return shape(named(look.name), [frame(box)], A.bodyPr(), A.lstStyle(), *rows, holder=holder)


def _row(box: SlideBox, row: SlidePart, *, is_first: bool) -> Iterator[Any]:
    is_title, colour = box.role == "title", LOOKS[box.role].colour
    spacing = [A.lnSpc(points(box.style.leading))] if is_title else []
    spacing += [A.spcBef(points(box.style.gap))] if box.style.gap and not is_first else []
    words = [run(row.text, **({"sz": hundredths(box.style.pt)} if is_title else {}))]
    if row.label and box.style.above:
        label = run(row.label, fill("tx2" if colour == "tx1" else colour), sz="2400", b="0")
        yield A.p(A.pPr(A.lnSpc(points(31))), label)
    elif row.label:
        words.insert(0, run(row.label + ("\t" if box.style.indent else " "), b="1"))
    yield A.p(A.pPr(*spacing), *words)


def hundredths(pt: float) -> str:
    """Return a size of type, or a height, in the unit of the format."""
    return str(round(pt * 100))


def points(pt: float) -> Any:
    """Return a height in points, as lines and gaps are measured."""
    return A.spcPts(val=hundredths(pt))


def _landmark(box: SlideBox) -> Any:
    """Return the number of a step in its shield, or the letter of a branch."""
    dark = box.role in ("critical", "letter")
    corner = round(9.0 / min(box.width, box.height) * 100000)
    rounded = form("roundRect", A.gd(name="adj", fmla=f"val {corner}"))
    outline = {"critical": _shield(box), "number": rounded}.get(box.role, form("rect"))
    name = {"letter": "Letter of the way", "critical": "Number of the critical step"}.get(box.role, "Number")
    look = [frame(box), outline, fill("tx1" if dark else "bg1"), line("" if dark else "tx1", 2.25)]
    words = run(box.rows[0].text, fill("bg1" if dark else "tx1"), sz=hundredths(box.style.pt), b="1")
    return shape(named(name), look, *_in_the_middle(words))


def _path(width: int, height: int, *strokes: Any) -> Any:
    """Return a form of our own, which ``strokes`` draw in a field of ``width`` by ``height``."""
    return A.custGeom(
        A.avLst(), A.gdLst(), A.ahLst(), A.cxnLst(), A.rect(l="0", t="0", r="r", b="b"),
        A.pathLst(A.path(*strokes, A.close(), w=str(width), h=str(height))),
    )  # fmt: skip


def _to(x: float, y: float, how: str = "lnTo") -> Any:
    return A(how, A.pt(x=str(x), y=str(y)))


def _arc(radius: int, start: int, turn: int) -> Any:
    """Return an arc from ``start``, both in degrees."""
    return A.arcTo(wR=str(radius), hR=str(radius), stAng=str(start * 60000), swAng=str(turn * 60000))


def _shield(box: SlideBox) -> Any:
    """Return a form with round corners at the right only."""
    width, height, radius = (round(pt * EMU) for pt in (box.width, box.height, _RADIUS))
    above = _to(0, 0, "moveTo"), _to(width - radius, 0), _arc(radius, 270, 90)
    return _path(width, height, *above, _to(width, height - radius), _arc(radius, 0, 90), _to(0, height))


def _signal(box: SlideBox) -> Iterator[Any]:
    """Yield the block of a signal word, with the safety alert symbol that ISO 3864-2 puts before all but notice."""
    ground, colour = SIGNALS[box.mark]
    word = box.rows[0].text
    wide = width_of(word.upper(), box.style.pt, bold=True) + len(word) * _TRACKING / 100
    symbol = 0.0 if box.mark == "notice" else box.style.pt * 0.95
    room = symbol + 8.0 * bool(symbol)
    start = max(4.0, (box.width - wide - room) / 2)
    slant = {"i": "1"} if box.mark == "notice" else {}
    words = run(word, fill(colour), sz=hundredths(box.style.pt), b="1", cap="all", spc=str(_TRACKING), **slant)
    look = [frame(box), form("rect"), fill(ground), line("tx1")]
    yield shape(named("Signal word"), look, *_in_the_middle(words, "l", start + room))
    if symbol:
        height = symbol * 0.875
        at = SlideFrame(box.left + start, box.top + (box.height - height) / 2, symbol, height)
        yield _alert(at, *(("bg1", ground) if box.mark == "danger" else ("tx1", "bg1")))


def _alert(at: SlideFrame, triangle: str, mark: str) -> Any:
    """Return the safety alert symbol: a triangle with an exclamation mark in it, drawn like that on paper."""
    stroke = _to(107, 74, "moveTo"), _to(133, 74), _to(128, 138), _to(112, 138), A.close()
    shown = _path(240, 210, *stroke, _to(106, 166, "moveTo"), _arc(14, 180, 360))
    parts = (("Triangle", form("triangle"), triangle), ("Mark", shown, mark))
    return _group(
        named("Safety alert symbol", gettext("Safety alert")), at,
        *(shape(named(name, decorative=True), [frame(at), outline, fill(colour), line("")])
          for name, outline, colour in parts),
    )  # fmt: skip


def _group(head: Any, at: SlideFrame, *parts: Any) -> Any:
    place = frame(at)
    place.extend([A.chOff(x=emu(at.left), y=emu(at.top)), A.chExt(cx=emu(at.width), cy=emu(at.height))])
    return P.grpSp(P.nvGrpSpPr(head, P.cNvGrpSpPr(), P.nvPr()), P.grpSpPr(place), *parts)


def picture(shown: SlidePicture, at: SlideFrame, points: str, drawing: str) -> Any:
    """Return a figure in its placeholder: ``points`` and ``drawing`` are the relationships of its PNG and, where it
    has one, its SVG ([MS-ODRAWXML] 2.3.2.8)."""
    vector = _ASVG.svgBlip(**{_EMBED: drawing})
    extension = A.extLst(A.ext(vector, uri="{96DAC541-7B7A-43D3-8B79-37D633B846F1}"))
    blip = A.blip(*([extension] if drawing else []), **{_EMBED: points})
    locks = P.cNvPicPr(A.picLocks(noGrp="1", noChangeAspect="1"))
    use = P.nvPr(P.ph(type="pic", idx=str(PICTURE)))
    return P.pic(
        P.nvPicPr(named("Figure", shown.alt), locks, use),
        P.blipFill(blip, A.stretch(A.fillRect())),
        P.spPr(frame(at)),
    )


def pointers(shown: SlidePicture, at: SlideFrame) -> Any:
    """Return the numbers on a figure, with lines to what they show, as one group of shapes."""

    def on_slide(x: float, y: float) -> tuple[float, float]:
        return at.left + x / 100 * at.width, at.top + y / 100 * at.height

    listed = "; ".join(f"{spot.number} {spot.name}" for spot in shown.spots)
    head = named("Pointers", gettext("Numbers on the figure: %(numbers)s.", numbers=listed))
    parts: list[Any] = []
    for spot in shown.spots:
        goal, number = on_slide(spot.x, spot.y), on_slide(spot.left, spot.top)
        parts.extend((_lead(goal, number), _disc(goal, 9.0, "")))
    parts.extend(_disc(on_slide(spot.left, spot.top), DISC, str(spot.number)) for spot in shown.spots)
    return _group(head, at, *parts)


def _lead(start: tuple[float, float], end: tuple[float, float]) -> Any:
    (x, y), (left, top) = start, end
    place = frame(SlideFrame(min(x, left), min(y, top), abs(left - x), abs(top - y)))
    for name in (["flipH"] if left < x else []) + (["flipV"] if top < y else []):
        place.set(name, "1")
    head = P.nvCxnSpPr(named("Line", decorative=True), P.cNvCxnSpPr(), P.nvPr())
    return P.cxnSp(head, P.spPr(place, form("line"), line("tx1", 2.25)))


def _disc(middle: tuple[float, float], size: float, text: str) -> Any:
    at = SlideFrame(middle[0] - size / 2, middle[1] - size / 2, size, size)
    look = [frame(at), form("ellipse"), fill("tx1"), line("bg1", 1.5 if text else 1.2)]
    told = named(f"Pointer {text}" if text else "Spot", decorative=not text)
    words = _in_the_middle(run(text, fill("bg1"), sz="2400", b="1"), wrap="none") if text else []
    return shape(told, look, *words)


def foot_shapes(mark: str, running: str) -> Iterator[Any]:
    """Yield what runs along at the foot of a slide: the mark of what is not approved, then edition and number."""

    def foot(name: str, holder: str, at: SlideFrame, *words: Any) -> Any:
        place = {"type": holder, "sz": "quarter", "idx": str(FOOT[holder])}
        # Not every program takes the look of what runs along from the layout.
        look = A.defRPr(fill("tx1"), A.latin(typeface="+mn-lt"), sz="2400", b=str(int(holder == "ftr")))
        level = A.lvl1pPr(A.buNone(), look, algn="l" if holder == "ftr" else "r", marL="0", indent="0")
        body = A.bodyPr(wrap="square", lIns="0", tIns="0", rIns="0", bIns="0", anchor="t")
        return shape(named(name), [frame(at)], body, A.lstStyle(level), A.p(*words), holder=place)

    if mark:
        yield foot("Standing", "ftr", SlideFrame(LEFT, 492.0, 600.0, 32.0), run(mark))
    number = A.fld(A.rPr(lang=""), A.t("‹#›"), id="{B6F15528-21DE-4FAA-801E-634DDDAF4B2B}", type="slidenum")
    edition = [run(f"{running} · ")] if running else []
    at = SlideFrame(660.0, 492.0, RIGHT - 660.0, 32.0)
    yield foot("Edition and number of the slide", "sldNum", at, *edition, number)


def note(label: str, text: str) -> Any:
    """Return a paragraph of the notes."""
    return A.p(A.pPr(A.spcBef(points(5))), run(f"{label}: ", b="1"), run(text))


def box_shapes(box: SlideBox, turns: Counter[int]) -> Iterator[Any]:
    """Yield the shapes of ``box``, in reading order; ``turns`` counts the boxes that share a place of the layout."""
    if box.role in ("number", "critical", "letter"):
        yield _landmark(box)
    elif box.role == "signal":
        yield from _signal(box)
    else:
        look = LOOKS[box.role]
        for back, width in look.bars:  # they repeat by shape what the label says
            yield decoration(SlideFrame(box.left - back, box.top, width, box.height), "tx1")
        yield _text_shape(box, turns[look.idx])
        turns[look.idx] += 1

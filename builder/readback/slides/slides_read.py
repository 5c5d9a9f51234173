"""A finished .pptx as a reader meets it: what each slide shows and where, what is said of it, what the file carries.

Read from the XML of the file alone; nothing of the writer is used.
"""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from typing import Any

from builder.readback.paper.finished_pdf import Rectangle

EMU = 12700
A = "{http://schemas.openxmlformats.org/drawingml/2006/main}"
P = "{http://schemas.openxmlformats.org/presentationml/2006/main}"
_DECORATIVE = "{http://schemas.microsoft.com/office/drawing/2017/decorative}decorative"
_SHAPES = (f"{P}sp", f"{P}pic", f"{P}cxnSp", f"{P}grpSp", f"{P}graphicFrame")
_Turn = tuple[float, float, float, float]  # how much longer across and down, and how far from the left and top
_INSETS = {"lIns": 7.2, "tIns": 3.6, "rIns": 7.2, "bIns": 3.6}  # where nothing is written (ECMA-376 part 1, 21.1.2.1.1)


@dataclass(frozen=True, slots=True)
class SlideWords:
    """Words in one look: ``pt`` is 0 where the file does not say how large they are; ``colour`` a name of the theme."""

    text: str
    pt: float
    bold: bool
    colour: str
    language: str


@dataclass(frozen=True, slots=True)
class Paragraph:
    """Words in one paragraph: its line height in pt (0 = that of the type), what is free before it, its indent."""

    words: tuple[SlideWords, ...]
    leading: float
    before: float
    indent: float

    @property
    def text(self) -> str:
        """The words without their look."""
        return "".join(run.text for run in self.words)


@dataclass(frozen=True, slots=True)
class SlideShape:
    """A shape of a slide: ``kind`` is sp, pic, cxnSp or grpSp; ``holds`` the type of its placeholder ("" = none);
    ``box`` in pt from the top left corner, ``top`` above ``bottom``; ``fill`` a name of the theme."""

    kind: str
    name: str
    alt: str
    box: Rectangle
    holds: str = ""
    fill: str = ""
    paragraphs: tuple[Paragraph, ...] = ()
    insets: tuple[float, float, float, float] = (0.0, 0.0, 0.0, 0.0)
    decorative: bool = False
    hidden: bool = False
    inside: str = ""

    @property
    def text(self) -> str:
        """All its words."""
        return " ".join(paragraph.text for paragraph in self.paragraphs if paragraph.text)

    @property
    def runs(self) -> Iterator[SlideWords]:
        """Its words by their look, but for white space."""
        return (run for paragraph in self.paragraphs for run in paragraph.words if run.text.strip())


@dataclass(frozen=True, slots=True)
class Seen:
    """A slide: its shapes in reading order, what lies beneath them (``ground``), its notes, whether it is shown."""

    number: int
    shapes: tuple[SlideShape, ...]
    ground: tuple[SlideShape, ...]
    notes: str
    shown: bool

    def texts(self) -> Iterator[SlideShape]:
        """Yield the shapes that hold words."""
        return (shape for shape in self.shapes if shape.text)


def slides_in(presentation: Any) -> tuple[Seen, ...]:
    """Return every slide of an opened presentation."""
    return tuple(_seen(slide, number) for number, slide in enumerate(presentation.slides, start=1))


def _seen(slide: Any, number: int) -> Seen:
    styles = _Styles(slide)
    notes = ""
    if slide.has_notes_slide and slide.notes_slide.notes_text_frame is not None:
        notes = "\n".join(paragraph.text for paragraph in slide.notes_slide.notes_text_frame.paragraphs)
    layout = slide.slide_layout
    decoration = [shape for shape in styles.shapes(layout.element) if not shape.holds]
    shown = slide.element.get("show", "1") not in ("0", "false")
    return Seen(number, tuple(styles.shapes(slide.element)), tuple(decoration), notes, shown)


class _Styles:
    """Finds what a shape of a slide takes from its layout and master."""

    def __init__(self, slide: Any) -> None:
        self._layout = list(slide.slide_layout.element.iter(f"{P}sp"))
        self._master = slide.slide_layout.slide_master.element

    def shapes(self, element: Any) -> Iterator[SlideShape]:
        """Yield the shapes of a slide or layout, those of a group behind it."""
        tree = element.find(f"{P}cSld/{P}spTree")
        yield from self._below(tree, (1.0, 1.0, 0.0, 0.0), "")

    def _below(self, tree: Any, turn: _Turn, inside: str) -> Iterator[SlideShape]:
        for node in tree:
            if node.tag not in _SHAPES:
                continue
            shape = self._shape(node, turn, inside)
            yield shape
            if node.tag == f"{P}grpSp":
                yield from self._below(node, _inner(node, turn), shape.name)

    def _shape(self, node: Any, turn: _Turn, inside: str) -> SlideShape:
        told = next(node.iter(f"{P}cNvPr"))
        holder = node.find(f".//{P}nvPr/{P}ph") if node.tag != f"{P}grpSp" else None
        base = self._base(holder)
        fill = _first((node, base), f"{P}spPr/{A}noFill", f"{P}spPr/{A}solidFill/*")
        places = _first((node, base), f"{P}spPr/{A}xfrm", f"{P}grpSpPr/{A}xfrm", f"{P}xfrm")
        return SlideShape(
            kind=node.tag.removeprefix(P),
            name=told.get("name", ""),
            alt=told.get("descr", ""),
            box=_placed(places, turn),
            holds=holder.get("type", "body") if holder is not None else "",
            fill=fill.get("val", "") if fill is not None else "",
            paragraphs=tuple(self._paragraph(words, node, base) for words in node.findall(f"{P}txBody/{A}p")),
            insets=_insets(node, base),
            decorative=any(mark.get("val") in ("1", "true") for mark in told.iter(_DECORATIVE)),
            hidden=told.get("hidden") in ("1", "true"),
            inside=inside,
        )

    def _base(self, holder: Any) -> Any:
        """Return the shape of the layout whose place ``holder`` takes, None where it takes none."""
        for shape in self._layout if holder is not None else ():
            held = shape.find(f".//{P}nvPr/{P}ph")
            if held is not None and _role(held) == _role(holder):
                return shape
        return None

    def _paragraph(self, node: Any, shape: Any, base: Any) -> Paragraph:
        looks = (node.find(f"{A}pPr"), self._level(shape, base))
        words = tuple(_words(run, looks[1]) for run in node if run.tag in (f"{A}r", f"{A}fld"))
        leading, before = (_first(looks, f"{A}{name}/{A}spcPts") for name in ("lnSpc", "spcBef"))
        indent = int(_told(looks, "marL", "0")) / EMU
        return Paragraph(words, _points(leading), _points(before), indent)

    def _level(self, shape: Any, base: Any) -> Any:
        """Return how the text of ``shape`` is set where its paragraphs say nothing."""
        level = _first((shape, base), f"{P}txBody/{A}lstStyle/{A}lvl1pPr")
        if level is not None or base is None:
            return level
        kind = "titleStyle" if base.find(f".//{P}nvPr/{P}ph").get("type") == "title" else "bodyStyle"
        return self._master.find(f"{P}txStyles/{P}{kind}/{A}lvl1pPr")


def _first(nodes: Iterable[Any], *paths: str) -> Any:
    """Return what stands at one of ``paths`` in the first of ``nodes`` that has it, None where none does."""
    found = (node.find(path) for node in nodes if node is not None for path in paths)
    return next((element for element in found if element is not None), None)


def _told(nodes: Iterable[Any], name: str, usual: str) -> str:
    """Return the attribute ``name`` of the first of ``nodes`` that has it."""
    return next((str(node.get(name)) for node in nodes if node is not None and node.get(name)), usual)


def _role(holder: Any) -> tuple[str | None, str]:
    return holder.get("type"), holder.get("idx", "0")


def _insets(node: Any, base: Any) -> tuple[float, float, float, float]:
    frames = [shape.find(f"{P}txBody/{A}bodyPr") for shape in (node, base) if shape is not None]
    left, top, right, bottom = (int(_told(frames, name, str(round(pt * EMU)))) / EMU for name, pt in _INSETS.items())
    return left, top, right, bottom


def _words(run: Any, level: Any) -> SlideWords:
    own = run.find(f"{A}rPr")
    looks = (own, level.find(f"{A}defRPr") if level is not None else None)
    colour, text = _first(looks, f"{A}solidFill/*"), run.find(f"{A}t")
    return SlideWords(
        text="".join(text.itertext()) if text is not None else "",
        pt=int(_told(looks, "sz", "0")) / 100,
        bold=_told(looks, "b", "0") in ("1", "true"),
        colour=str(colour.get("val")) if colour is not None else "tx1",
        language=_told((own,), "lang", ""),
    )


def _points(spacing: Any) -> float:
    return int(spacing.get("val")) / 100 if spacing is not None else 0.0


def _measures(place: Any, name: str) -> tuple[float, float]:
    """Return what a place says of ``name``, across and down in pt."""
    keys = ("x", "y") if name.casefold().endswith("off") else ("cx", "cy")
    across, down = (int(place.find(f"{A}{name}").get(key)) / EMU for key in keys)
    return across, down


def _placed(place: Any, turn: _Turn) -> Rectangle:
    if place is None or place.find(f"{A}off") is None:
        return Rectangle(0.0, 0.0, 0.0, 0.0)
    across, down, left, top = turn
    (x, y), (width, height) = _measures(place, "off"), _measures(place, "ext")
    # From the bottom left corner as everywhere in read-back: up is negative here.
    return Rectangle(left + x * across, -(top + (y + height) * down), left + (x + width) * across, -(top + y * down))


def _inner(group: Any, turn: _Turn) -> _Turn:
    place = group.find(f"{P}grpSpPr/{A}xfrm")
    if place is None:
        return turn
    (x, y), (inner_x, inner_y), (width, height), (inner_width, inner_height) = (
        _measures(place, name) for name in ("off", "chOff", "ext", "chExt")
    )
    across, down = width / (inner_width or 1.0), height / (inner_height or 1.0)
    left, top = x - inner_x * across, y - inner_y * down
    return turn[0] * across, turn[1] * down, turn[2] + left * turn[0], turn[3] + top * turn[1]

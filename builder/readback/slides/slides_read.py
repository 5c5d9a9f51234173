"""A finished .pptx as a reader meets it: what each slide shows and where, what is said of it, what the file carries.

Read from the XML of the file alone; nothing of the writer is used.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field
from typing import Any

from builder.readback.paper.finished_pdf import Rectangle

EMU = 12700
A = "{http://schemas.openxmlformats.org/drawingml/2006/main}"
P = "{http://schemas.openxmlformats.org/presentationml/2006/main}"
R = "{http://schemas.openxmlformats.org/officeDocument/2006/relationships}"
_DECORATIVE = "{http://schemas.microsoft.com/office/drawing/2017/decorative}decorative"
_SHAPES = (f"{P}sp", f"{P}pic", f"{P}cxnSp", f"{P}grpSp", f"{P}graphicFrame")
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
        return "".join(one.text for one in self.words)


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
    picture: str = ""

    @property
    def text(self) -> str:
        """All its words."""
        return " ".join(one.text for one in self.paragraphs if one.text)


@dataclass(frozen=True, slots=True)
class Seen:
    """A slide: its shapes in reading order, what lies beneath them (``ground``), its notes, whether it is shown."""

    number: int
    layout: str
    shapes: tuple[SlideShape, ...]
    ground: tuple[SlideShape, ...]
    notes: str
    shown: bool

    def texts(self) -> Iterator[SlideShape]:
        """Yield the shapes that hold words."""
        return (one for one in self.shapes if one.text)


@dataclass(frozen=True, slots=True)
class Member:
    """A file inside the .pptx."""

    name: str
    content: bytes = field(repr=False)


def slides_in(presentation: Any) -> tuple[Seen, ...]:
    """Return every slide of an opened presentation."""
    return tuple(_seen(slide, number) for number, slide in enumerate(presentation.slides, start=1))


def _seen(slide: Any, number: int) -> Seen:
    styles = _Styles(slide)
    notes = ""
    if slide.has_notes_slide and slide.notes_slide.notes_text_frame is not None:
        notes = "\n".join(one.text for one in slide.notes_slide.notes_text_frame.paragraphs)
    layout = slide.slide_layout
    decoration = [one for one in styles.shapes(layout.element) if not one.holds]
    shown = slide.element.get("show", "1") not in ("0", "false")
    return Seen(number, layout.name, tuple(styles.shapes(slide.element)), tuple(decoration), notes, shown)


class _Styles:
    """Finds what a shape of a slide takes from its layout and master."""

    def __init__(self, slide: Any) -> None:
        self._layout = list(slide.slide_layout.element.iter(f"{P}sp"))
        self._master = slide.slide_layout.slide_master.element

    def shapes(self, element: Any) -> Iterator[SlideShape]:
        """Yield the shapes of a slide or layout, those of a group behind it."""
        tree = element.find(f"{P}cSld/{P}spTree")
        yield from self._below(tree, (1.0, 1.0, 0.0, 0.0), "")

    def _below(self, tree: Any, turn: tuple[float, float, float, float], inside: str) -> Iterator[SlideShape]:
        for node in tree:
            if node.tag not in _SHAPES:
                continue
            shape = self._shape(node, turn, inside)
            yield shape
            if node.tag == f"{P}grpSp":
                yield from self._below(node, _inner(node, turn), shape.name)

    def _shape(self, node: Any, turn: tuple[float, float, float, float], inside: str) -> SlideShape:
        told = next(node.iter(f"{P}cNvPr"))
        holder = node.find(f".//{P}nvPr/{P}ph") if node.tag != f"{P}grpSp" else None
        base = self._base(holder)
        place = _first(node, base, f"{P}spPr/{A}xfrm", f"{P}grpSpPr/{A}xfrm", f"{P}xfrm")
        blip = node.find(f"{P}blipFill/{A}blip")
        return SlideShape(
            kind=node.tag.removeprefix(P),
            name=told.get("name", ""),
            alt=told.get("descr", ""),
            box=_placed(place, turn),
            holds=holder.get("type", "body") if holder is not None else "",
            fill=self._fill(node, base),
            paragraphs=tuple(self._paragraph(one, node, base) for one in node.findall(f"{P}txBody/{A}p")),
            insets=self._insets(node, base),
            decorative=any(one.get("val") in ("1", "true") for one in told.iter(_DECORATIVE)),
            hidden=told.get("hidden") in ("1", "true"),
            inside=inside,
            picture=blip.get(f"{R}embed", "") if blip is not None else "",
        )

    def _base(self, holder: Any) -> Any:
        if holder is None:
            return None
        for one in self._layout:
            other = one.find(f".//{P}nvPr/{P}ph")
            if other is not None and (holder.get("type"), holder.get("idx", "0")) == (
                other.get("type"),
                other.get("idx", "0"),
            ):
                return one
        return None

    @staticmethod
    def _fill(node: Any, base: Any) -> str:
        for one in (node, base):
            found = one.find(f"{P}spPr") if one is not None else None
            if found is not None and found.find(f"{A}noFill") is not None:
                return ""
            colour = found.find(f"{A}solidFill/*") if found is not None else None
            if colour is not None:
                return str(colour.get("val"))
        return ""

    @staticmethod
    def _insets(node: Any, base: Any) -> tuple[float, float, float, float]:
        frames = [one.find(f"{P}txBody/{A}bodyPr") for one in (node, base) if one is not None]
        found = []
        for name, usual in _INSETS.items():
            value = next((one.get(name) for one in frames if one is not None and one.get(name)), None)
            found.append(int(value) / EMU if value is not None else usual)
        return found[0], found[1], found[2], found[3]

    def _paragraph(self, node: Any, shape: Any, base: Any) -> Paragraph:
        level = self._level(shape, base)
        own = node.find(f"{A}pPr")
        words = tuple(self._words(run, level) for run in node if run.tag in (f"{A}r", f"{A}fld"))
        indent = next((int(one.get("marL")) for one in (own, level) if one is not None and one.get("marL")), 0)
        return Paragraph(words, _points(own, level, "lnSpc"), _points(own, level, "spcBef"), indent / EMU)

    def _level(self, shape: Any, base: Any) -> Any:
        for one in (shape, base):
            found = one.find(f"{P}txBody/{A}lstStyle/{A}lvl1pPr") if one is not None else None
            if found is not None:
                return found
        if base is None:
            return None
        kind = "titleStyle" if base.find(f".//{P}nvPr/{P}ph").get("type") == "title" else "bodyStyle"
        return self._master.find(f"{P}txStyles/{P}{kind}/{A}lvl1pPr")

    @staticmethod
    def _words(run: Any, level: Any) -> SlideWords:
        own = run.find(f"{A}rPr")
        usual = level.find(f"{A}defRPr") if level is not None else None
        both = [one for one in (own, usual) if one is not None]
        size = next((one.get("sz") for one in both if one.get("sz")), "0")
        bold = next((one.get("b") for one in both if one.get("b")), "0")
        colour = next((one.find(f"{A}solidFill/*") for one in both if one.find(f"{A}solidFill/*") is not None), None)
        text = "".join(run.find(f"{A}t").itertext()) if run.find(f"{A}t") is not None else ""
        return SlideWords(
            text=text,
            pt=int(size) / 100,
            bold=bold in ("1", "true"),
            colour=str(colour.get("val")) if colour is not None else "tx1",
            language=own.get("lang", "") if own is not None else "",
        )


def _first(node: Any, base: Any, *paths: str) -> Any:
    for one in (node, base):
        for path in paths:
            found = one.find(path) if one is not None else None
            if found is not None:
                return found
    return None


def _points(own: Any, level: Any, name: str) -> float:
    for one in (own, level):
        found = one.find(f"{A}{name}/{A}spcPts") if one is not None else None
        if found is not None:
            return int(found.get("val")) / 100
    return 0.0


def _placed(place: Any, turn: tuple[float, float, float, float]) -> Rectangle:
    if place is None or place.find(f"{A}off") is None:
        return Rectangle(0.0, 0.0, 0.0, 0.0)
    across, down, left, top = turn
    x, y = (int(place.find(f"{A}off").get(name)) / EMU for name in ("x", "y"))
    width, height = (int(place.find(f"{A}ext").get(name)) / EMU for name in ("cx", "cy"))
    # From the bottom left corner as everywhere in read-back: up is negative here.
    return Rectangle(left + x * across, -(top + (y + height) * down), left + (x + width) * across, -(top + y * down))


def _inner(group: Any, turn: tuple[float, float, float, float]) -> tuple[float, float, float, float]:
    place = group.find(f"{P}grpSpPr/{A}xfrm")
    if place is None:
        return turn
    values = {}
    for name, keys in (("off", "xy"), ("chOff", "xy"), ("ext", ("cx", "cy")), ("chExt", ("cx", "cy"))):
        values[name] = [int(place.find(f"{A}{name}").get(key)) / EMU for key in keys]
    across = values["ext"][0] / (values["chExt"][0] or 1.0)
    down = values["ext"][1] / (values["chExt"][1] or 1.0)
    left = values["off"][0] - values["chOff"][0] * across
    top = values["off"][1] - values["chOff"][1] * down
    return turn[0] * across, turn[1] * down, turn[2] + left * turn[0], turn[3] + top * turn[1]

"""A finished .pptx as a reader meets it: what each slide shows and where, and what is said of it.

Opened by python-pptx, which knows the places that shapes take from their layout; nothing of the writer is used. How
words look is found in the shape, else in its place in the layout, else in the master.
"""

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import cache, partial
from typing import Any, NamedTuple

from lxml.etree import XPath
from pptx.oxml.ns import namespaces
from pptx.util import Emu, Pt

from builder.compose.slides.slide_text import lines_of
from builder.readback.paper.finished_pdf import Rectangle

_SPACES = namespaces("a", "p") | {"adec": "http://schemas.microsoft.com/office/drawing/2017/decorative"}
_path = cache(partial(XPath, namespaces=_SPACES))
_LEVEL = "p:txBody/a:lstStyle/a:lvl1pPr"
_SAME = "a:off/@x = a:chOff/@x and a:off/@y = a:chOff/@y and a:ext/@cx = a:chExt/@cx and a:ext/@cy = a:chExt/@cy"
_FAULTS = (
    ("is hidden", "*/p:cNvPr[@hidden = '1' or @hidden = 'true']"),
    ("is drawn to another measure", f"p:grpSpPr/a:xfrm[not({_SAME})]"),
)
_INSETS = {"lIns": 91440, "tIns": 45720, "rIns": 91440, "bIns": 45720}  # ECMA-376 part 1, 21.1.2.1.1
_SINGLE = 1.17  # line height of stock type, as a multiple of its size
_YES = ("1", "true")


class SlideWords(NamedTuple):
    """Words in one look: ``pt`` is 0 where the file does not say how large they are; ``colour`` a name of the theme."""

    text: str
    pt: float
    bold: bool
    colour: str
    language: str


@dataclass(frozen=True, slots=True)
class SlideShape:
    """A shape of a slide: ``kind`` is sp, pic, cxnSp or grpSp; ``holds`` the type of its placeholder ("" = none);
    ``box`` in pt from the top left corner, up being negative; ``fill`` a name of the theme; ``needs`` the height in pt
    that its words take, measured anew; ``faults`` say whether it is hidden, or what is in it stretched."""

    kind: str
    name: str
    alt: str
    box: Rectangle
    holds: str
    fill: str
    text: str
    runs: tuple[SlideWords, ...]
    needs: float
    decorative: bool
    faults: tuple[str, ...]
    inside: str


@dataclass(frozen=True, slots=True)
class Seen:
    """A slide: its shapes in reading order, those of a group behind it; what lies beneath them (``ground``); its notes;
    whether it is shown."""

    number: int
    shapes: tuple[SlideShape, ...]
    ground: tuple[SlideShape, ...]
    notes: str
    shown: bool

    def texts(self) -> list[SlideShape]:
        """Return the shapes that hold words."""
        return [shape for shape in self.shapes if shape.text]

    def titles(self) -> list[str]:
        """Return the words of each of its titles."""
        return [shape.text for shape in self.shapes if shape.holds == "title"]

    def words(self, *, runs_along: bool, but: str = "") -> str:
        """Return the words at its foot or all others, ``but`` those in the group of that name."""
        foot = ("ftr", "sldNum", "dt")
        shown = (shape for shape in self.texts() if (shape.holds in foot) == runs_along)
        return " ".join(shape.text for shape in shown if not but or shape.inside != but)

    def runs(self) -> list[SlideWords]:
        """Return all words by their look."""
        return [run for shape in self.shapes for run in shape.runs]


def slides_in(presentation: Any) -> tuple[Seen, ...]:
    """Return every slide of an opened presentation."""
    return tuple(_seen(slide, number) for number, slide in enumerate(presentation.slides, start=1))


def _seen(slide: Any, number: int) -> Seen:
    layout = slide.slide_layout
    bases = {holder.placeholder_format.idx: holder.element for holder in layout.placeholders}
    notes = slide.notes_slide.notes_text_frame if slide.has_notes_slide else None
    return Seen(
        number,
        shapes=tuple(_shapes(slide.shapes, bases)),
        ground=tuple(shape for shape in _shapes(layout.shapes, {}) if not shape.holds),
        notes=notes.text if notes else "",
        shown=slide.element.get("show", "1") in _YES,
    )


def _shapes(shapes: Iterable[Any], bases: Mapping[int, Any], inside: str = "") -> Iterator[SlideShape]:
    for shape in shapes:
        base = bases.get(shape.placeholder_format.idx) if shape.is_placeholder else None
        yield _shape(shape, base, inside)
        yield from _shapes(getattr(shape, "shapes", ()), bases, shape.name)


def _shape(shape: Any, base: Any, inside: str) -> SlideShape:
    """Return ``shape`` as it looks; ``base`` is the place in the layout that it takes."""
    element = shape.element
    nodes = [element] if base is None else [element, base]
    told = element.xpath("./*/p:cNvPr")[0]
    left, top, width, height = (Emu(length or 0).pt for length in (shape.left, shape.top, shape.width, shape.height))
    fill = _first(nodes, "p:spPr/a:noFill | p:spPr/a:solidFill/*")
    runs, needs = _set(shape, nodes, width)
    return SlideShape(
        kind=element.tag.rpartition("}")[2],
        name=shape.name,
        alt=told.get("descr", ""),
        box=Rectangle(left, -top - height, left + width, -top),
        holds=_first(nodes[:1], "*/p:nvPr/p:ph/@type", "body") if shape.is_placeholder else "",
        fill=fill.get("val", "") if fill is not None else "",
        text=" ".join(filter(None, ("".join(run.text for run in words) for words in runs))),
        runs=tuple(run for words in runs for run in words if run.text.strip()),
        needs=needs,
        decorative=_first([told], ".//adec:decorative/@val") in _YES,
        faults=tuple(fault for fault, path in _FAULTS if _first([element], path) is not None),
        inside=inside,
    )


def _first(nodes: Sequence[Any], path: str, usual: Any = None) -> Any:
    """Return what stands at ``path`` in the first of ``nodes`` that has it."""
    return next((found for node in nodes for found in _path(path)(node)), usual)


def _set(shape: Any, nodes: Sequence[Any], width: float) -> tuple[list[list[SlideWords]], float]:
    """Return the words of each paragraph of ``shape``, and the height in pt that they take together."""
    levels = [level for node in nodes for level in node.findall(_LEVEL, _SPACES)]
    if len(nodes) > 1:
        style = "title" if nodes[1].xpath("*/p:nvPr/p:ph[@type='title']") else "body"
        levels += shape.part.slide_layout.slide_master.element.findall(f"p:txStyles/p:{style}Style/a:lvl1pPr", _SPACES)
    left, top, right, bottom = (
        int(_first(nodes, f"p:txBody/a:bodyPr/@{side}", usual)) / Pt(1) for side, usual in _INSETS.items()
    )
    paragraphs, needs = [], top + bottom
    for at, node in enumerate(shape.element.xpath("p:txBody/a:p")):
        words = [_words(run, levels) for run in node.xpath("a:r | a:fld")]
        if any(run.text for run in words):
            needs += _tall(words, [*node.xpath("a:pPr"), *levels], width - left - right, is_first=at == 0)
        paragraphs.append(words)
    return paragraphs, needs


def _words(run: Any, levels: Sequence[Any]) -> SlideWords:
    own = run.findall("a:rPr", _SPACES)
    looks = [*own, *(look for level in levels for look in level.findall("a:defRPr", _SPACES))]
    return SlideWords(
        text=run.findtext("a:t", "", _SPACES),
        pt=int(_first(looks, "@sz", 0)) / 100,
        bold=_first(looks, "@b") in _YES,
        colour=_first(looks, "a:solidFill/*/@val", "tx1"),
        language=_first(own, "@lang", ""),
    )


def _tall(words: Sequence[SlideWords], looks: Sequence[Any], room: float, *, is_first: bool) -> float:
    """Return how high in pt a paragraph of ``words`` stands in ``room``; ``looks`` say how its lines are set."""
    pt = max(run.pt for run in words)
    bold = any(run.bold for run in words if len(run.text) > 3)  # a number before a line hardly widens it
    text = "".join(run.text for run in words)
    indent = int(_first(looks, "@marL", 0)) / Pt(1)
    leading, before = (int(_first(looks, f"a:{name}/a:spcPts/@val", 0)) / 100 for name in ("lnSpc", "spcBef"))
    lines = lines_of(text.partition("\t")[2] or text, pt, max(room - indent, 1.0), bold=bold)
    return lines * (leading or pt * _SINGLE) + (0.0 if is_first else before)

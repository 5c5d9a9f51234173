"""A finished PDF as a reader meets it: what is painted where, and the tree a screen reader walks."""

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any, NamedTuple

from builder.readback.comparison import bare

MM = 72 / 25.4
"""Points in a millimetre."""
HEADINGS = frozenset({"H1", "H2", "H3", "H4", "H5", "H6"})
"""Roles of headings in the structure tree."""


class Rectangle(NamedTuple):
    """A rectangle on a page in pt, from the bottom left corner."""

    left: float
    bottom: float
    right: float
    top: float

    def inside(self, other: "Rectangle", slack: float) -> bool:
        """Tell whether this lies within ``other``, give or take ``slack`` pt."""
        return (
            self.left >= other.left - slack
            and self.bottom >= other.bottom - slack
            and self.right <= other.right + slack
            and self.top <= other.top + slack
        )

    def meet(self, other: "Rectangle") -> "Rectangle":
        """Return what this and ``other`` share; its sides cross where they share nothing."""
        return Rectangle(
            max(self.left, other.left),
            max(self.bottom, other.bottom),
            min(self.right, other.right),
            min(self.top, other.top),
        )

    def shared(self, other: "Rectangle") -> float:
        """Return how much of the smaller of both lies on the other, as a share."""
        both = self.meet(other)
        if both.left >= both.right or both.bottom >= both.top:
            return 0.0
        return both.area / max(0.01, min(self.area, other.area))

    @property
    def area(self) -> float:
        """Its area in square points."""
        return (self.right - self.left) * (self.top - self.bottom)


@dataclass(frozen=True, slots=True)
class PaintedText:
    """Text painted in one go: ``box`` of its glyphs, ``size_pt`` as painted, ``colour`` (red,
    green, blue, opacity), ``mark`` its marked-content id (-1 = none), ``clip`` what clips it, whether it belongs
    to a ``figure``, its ``turn`` in degrees from upright, whether it is ``mirrored``, and whether it is painted at all
    (``invisible`` text render modes)."""

    page: int
    text: str
    box: Rectangle
    size_pt: float
    font: str
    colour: tuple[int, int, int, int]
    mark: int = -1
    clip: Rectangle | None = None
    figure: bool = False
    turn: int = 0
    mirrored: bool = False
    invisible: bool = False

    @property
    def named(self) -> str:
        """What a problem calls it."""
        return f"page {self.page}: “{self.text.strip()[:60]}”"


@dataclass(frozen=True, slots=True)
class PaintedPage:
    """One page: its number from 1, its size in pt, its pieces in the order in which they are painted."""

    number: int
    width: float
    height: float
    pieces: tuple[PaintedText, ...]

    @property
    def texts(self) -> tuple[PaintedText, ...]:
        """The pieces that show more than white space."""
        return tuple(piece for piece in self.pieces if bare(piece.text))


@dataclass(frozen=True, slots=True)
class StructureElement:
    """An element of the structure tree: ``role`` such as H1 or TD, kids in order (elements, or ``(page, mark)``)."""

    role: str
    kids: "tuple[StructureElement | tuple[int, int], ...]" = ()
    alt: str = ""
    scope: str = ""
    key: str = ""

    def walk(self) -> "Iterator[StructureElement]":
        """Yield this element and every element below it, in reading order."""
        yield self
        for kid in self.kids:
            if isinstance(kid, StructureElement):
                yield from kid.walk()

    def marks(self) -> Iterator[tuple[int, int]]:
        """Yield the marked content of this element and below, in reading order."""
        for kid in self.kids:
            if isinstance(kid, StructureElement):
                yield from kid.marks()
            else:
                yield kid


@dataclass(frozen=True, slots=True)
class DocumentCatalogue:
    """What the file says of itself as a whole."""

    title: str = ""
    keywords: str = ""
    language: str = ""
    marked: bool = False
    shows_title: bool = False
    bookmarks: int = 0
    ids: frozenset[str] = frozenset()
    claims: str = ""
    right_to_left: bool = False


RenderPage = Callable[..., Any]
"""Renders a page (number from 1, dots per inch), or only ``part`` of it (pixels left, top, right, bottom), as an RGB
image of Pillow."""


@dataclass(frozen=True)
class FinishedPdf:
    """A finished PDF, read. ``picture`` renders a page (number from 1, dots per inch) as an RGB image;
    ``drawn`` has the boxes of the shapes painted in each marked content, ``frames`` the largest frame of a drawing or
    photograph in it, as the renderer knows it, ``lines`` the flat lines of each, and ``clip_of`` what clips a
    marked content, as it is written."""

    sheets: tuple[PaintedPage, ...]
    tree: StructureElement
    catalogue: DocumentCatalogue
    picture: RenderPage
    by_mark: Mapping[tuple[int, int], Sequence[PaintedText]] = field(default_factory=dict)
    drawn: Mapping[tuple[int, int], Sequence[Rectangle]] = field(default_factory=dict)
    frames: Mapping[tuple[int, int], Rectangle] = field(default_factory=dict)
    lines: Mapping[tuple[int, int], Sequence[Rectangle]] = field(default_factory=dict)
    clip_of: Callable[[tuple[int, int]], Rectangle | None] = lambda _: None

    def texts(self) -> Iterator[PaintedText]:
        """Yield what every page shows, but for white space."""
        return (piece for sheet in self.sheets for piece in sheet.texts)

    def text_of(self, node: StructureElement) -> str:
        """Return what ``node`` says, as painted."""
        return "".join(piece.text for mark in node.marks() for piece in self.by_mark.get(mark, ()))

"""What a deck of slides is: a sketch says what a slide holds; once it is set, it says where each word stands, too.

A Deck feeds both the PDF and the .pptx, so neither decides anything. Lengths are in points on a slide of 16:9.
"""

from dataclasses import dataclass
from typing import NamedTuple

WIDTH, HEIGHT = 960.0, 540.0
"""13.333 by 7.5 inches."""


@dataclass(frozen=True, slots=True)
class SlidePart:
    """Words of a slide: their ``role`` (which says how they look), a ``label`` before them, and a ``mark``: the signal
    of a caution, the letter of a branch, the number of a pointer. Of a note the role says what it is for, such as Say
    or Ask."""

    role: str
    text: str
    label: str = ""
    mark: str = ""


@dataclass(frozen=True, slots=True)
class PointerSpot:
    """A pointer: its ``number`` stands at ``left``, ``top`` and shows ``x``, ``y``, all in per cent of the picture; the
    line from there to the number has this ``length`` in pt, and ``turn`` in degrees."""

    number: int
    name: str
    x: float
    y: float
    left: float
    top: float
    length: float
    turn: float


@dataclass(frozen=True, slots=True)
class SlidePicture:
    """A figure: the file at ``path`` in the department's folder, its description, width by height, and pointers; or
    a ``drawing`` of our own, as SVG, which has no path."""

    path: str
    alt: str
    aspect: float
    spots: tuple[PointerSpot, ...] = ()
    drawing: str = ""


def filled(*parts: SlidePart) -> tuple[SlidePart, ...]:
    """Return those of ``parts`` that say something."""
    return tuple(part for part in parts if part.text)


class Cite(NamedTuple):
    """A use of a source: its key, "" for common practice, and the locator such as ``p. 12``."""

    key: str
    locator: str = ""


@dataclass(frozen=True, slots=True)
class RoleStyle:
    """How a role is set: type of ``pt`` points in lines of ``leading`` points; ``pad`` is what stays free inside (left,
    top, right, bottom), ``gap`` what stays free between rows, ``indent`` how far lines behind the first stand in
    (labels stand in that space). With ``above`` labels are lines of their own. ``many``: its parts share one box;
    ``foot``: it stands at the foot of the slide; ``mark``: the width of what stands before it."""

    pt: float
    leading: float
    bold: bool = False
    pad: tuple[float, float, float, float] = (0.0, 0.0, 0.0, 0.0)
    gap: float = 0.0
    indent: float = 0.0
    above: bool = False
    many: bool = False
    foot: bool = False
    mark: float = 0.0


@dataclass(frozen=True, slots=True)
class SlideFrame:
    """Where something stands on its slide."""

    left: float
    top: float
    width: float
    height: float


@dataclass(frozen=True, slots=True)
class SlideBox(SlideFrame):
    """Parts of one role at their place, in their ``style``."""

    style: RoleStyle
    rows: tuple[SlidePart, ...]

    @property
    def role(self) -> str:
        """The role of its rows."""
        return self.rows[0].role

    @property
    def mark(self) -> str:
        """The mark of its first row."""
        return self.rows[0].mark


@dataclass(frozen=True, slots=True)
class Slide:
    """A slide.

    ``kind`` chooses the layout; ``block`` is the step, choice or place it belongs to, ``id`` is unique in the deck;
    ``eyebrow`` stands small above the title, ``mark`` in the rail. ``say`` is what is said, then ``ask`` goes to the
    room, which should ``answer`` and has so many seconds to ``wait`` for that; ``asides`` are notes that are not
    spoken; ``backing`` are the citations that number its sources. A sketch has no more; once it is set there are
    ``boxes`` in reading order, the title among them, the ``frame`` of its picture, all ``notes``, when it begins by the
    ``clock`` of the talk, and the ``seconds`` it takes.
    """

    kind: str
    id: str
    block: str
    title: str
    say: str
    eyebrow: str = ""
    mark: str = ""
    critical: bool = False
    signal: str = ""
    parts: tuple[SlidePart, ...] = ()
    picture: SlidePicture | None = None
    asides: tuple[SlidePart, ...] = ()
    backing: tuple[Cite, ...] = ()
    ask: str = ""
    answer: str = ""
    wait: float = 0.0
    boxes: tuple[SlideBox, ...] = ()
    frame: SlideFrame | None = None
    notes: tuple[SlidePart, ...] = ()
    clock: str = ""
    seconds: float = 0.0

    def parts_of(self, *roles: str) -> tuple[SlidePart, ...]:
        """Return its parts of these ``roles``."""
        return tuple(part for part in self.parts if part.role in roles)

    def without(self, *roles: str) -> tuple[SlidePart, ...]:
        """Return its parts of all other roles."""
        return tuple(part for part in self.parts if part.role not in roles)

    @property
    def shown(self) -> str:
        """All words on the slide, in reading order, but for those of the line that runs along below."""
        words = (word for box in self.boxes for row in box.rows for word in (row.label, row.text))
        return " ".join(word for word in words if word).replace("\xa0", " ")


@dataclass(frozen=True, slots=True)
class Deck:
    """All slides of one talk. ``mark`` and ``running`` stand at the foot of every slide, before its number."""

    title: str
    department: str
    language: str
    edition: str
    day: str
    mark: str
    running: str
    slides: tuple[Slide, ...] = ()

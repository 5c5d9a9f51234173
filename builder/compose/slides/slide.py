"""What a deck of slides is: sketches say what a slide holds, slides say where each word of it stands.

A Deck feeds both the PDF and the .pptx, so neither decides anything. Lengths are in points on a slide of 16:9.
"""

from dataclasses import dataclass
from typing import TypeVar

WIDTH, HEIGHT = 960.0, 540.0
"""13.333 by 7.5 inches."""


@dataclass(frozen=True, slots=True)
class SlidePart:
    """Words of a slide: their ``role`` (which says how they look), a ``label`` before them, and a ``mark``: the signal
    of a caution, the letter of a branch, the number of a pointer."""

    role: str
    text: str
    label: str = ""
    mark: str = ""


@dataclass(frozen=True, slots=True)
class PointerSpot:
    """A pointer: its ``number`` stands at ``left``, ``top`` and shows ``x``, ``y``, all in per cent of the picture."""

    number: int
    name: str
    x: float
    y: float
    left: float
    top: float


@dataclass(frozen=True, slots=True)
class SlidePicture:
    """A figure: the file at ``path`` in the department's folder, its description, width by height, and pointers; or
    a ``drawing`` of our own, as SVG."""

    anchor: str
    path: str
    alt: str
    aspect: float
    spots: tuple[PointerSpot, ...] = ()
    drawing: str = ""


@dataclass(frozen=True, slots=True)
class SpeakerNote:
    """A paragraph of the notes: ``label`` says what it is for, such as Say or Ask."""

    label: str
    text: str


Words = TypeVar("Words", SlidePart, SpeakerNote)


def filled(*words: Words) -> tuple[Words, ...]:
    """Return those of ``words`` that say something."""
    return tuple(part for part in words if part.text)


@dataclass(frozen=True, slots=True)
class Cite:
    """A use of a source: its key, and the locator such as ``p. 12``."""

    key: str
    locator: str = ""


@dataclass(frozen=True, slots=True)
class Speech:
    """What is said at a slide; then the ``prompt`` for the room, what it should ``answer``, and how many seconds are
    given to ``wait`` for that."""

    text: str
    prompt: str = ""
    answer: str = ""
    wait: float = 0.0


@dataclass(frozen=True, slots=True)
class Sketch:
    """A slide before it is set.

    ``kind`` chooses the layout; ``block`` is the step, choice or place it belongs to, ``id`` is unique in the deck;
    ``eyebrow`` stands small above the title, ``mark`` in the rail; ``asides`` are notes that are not spoken;
    ``backing`` are the citations that number its sources.
    """

    kind: str
    id: str
    block: str
    title: str
    speech: Speech
    eyebrow: str = ""
    mark: str = ""
    critical: bool = False
    signal: str = ""
    parts: tuple[SlidePart, ...] = ()
    picture: SlidePicture | None = None
    asides: tuple[SpeakerNote, ...] = ()
    backing: tuple[Cite, ...] = ()
    practice: bool = False

    def parts_of(self, *roles: str) -> tuple[SlidePart, ...]:
        """Return its parts of these ``roles``."""
        return tuple(part for part in self.parts if part.role in roles)

    def without(self, *roles: str) -> tuple[SlidePart, ...]:
        """Return its parts of all other roles."""
        return tuple(part for part in self.parts if part.role not in roles)


@dataclass(frozen=True, slots=True)
class SlideRow:
    """A line of a box, with the ``label`` that stands before it."""

    text: str
    label: str = ""


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
class SlideBox:
    """Rows of words at their place, in their ``style``; ``role`` and ``mark`` are as in Part."""

    role: str
    left: float
    top: float
    width: float
    height: float
    style: RoleStyle
    rows: tuple[SlideRow, ...]
    mark: str = ""


@dataclass(frozen=True, slots=True)
class PictureFrame:
    """Where a picture stands on its slide."""

    left: float
    top: float
    width: float
    height: float


@dataclass(frozen=True, slots=True)
class Slide:
    """A slide as it is shown: ``boxes`` in reading order, the title among them; ``seconds`` it takes."""

    kind: str
    id: str
    title: str
    boxes: tuple[SlideBox, ...]
    critical: bool = False
    signal: str = ""
    picture: SlidePicture | None = None
    frame: PictureFrame | None = None
    notes: tuple[SpeakerNote, ...] = ()
    seconds: float = 0.0

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
    owner: str
    language: str
    edition: str
    day: str
    mark: str
    running: str
    slides: tuple[Slide, ...] = ()

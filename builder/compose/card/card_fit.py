"""Fills the sides of a card: the most of the plan that they take, then the largest type, then the widest spacing.

Lines are measured once at each type size; that no line is parted makes heights add up, so a side is filled by sums.
"""

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from math import radians, tan

from builder.compose.card.card_plan import LEVELS, MUST, CardLine

TYPES = (8.5, 9.2, 10.0, 10.9)
"""In pt, the smallest first; the largest reads to 60 cm."""
FOLDED, SINGLE = 4, 2
"""The sides of a sheet folded twice, and of a single card."""
_GAPS = (1.5, 1.2, 0.9, 0.6, 0.4, 0.2, 0.1)
_SLACK_MM = 0.6  # rounding
_X_HEIGHT = 1118 / 2048  # of the em, from the OS/2 table of site_templates/fonts
_MM_PER_PT = 25.4 / 72
_FLUENT_DEGREES = 0.2
_GROWTH = 1.7  # of the height of text with its type; only a guess of where to begin rests on it
_LETTERS_PT2 = 240_000  # letters by the square of their type on two sides, with what the ends of lines leave; a guess
_APART = "steps"


def readable_cm(pt: float) -> int:
    """Return the farthest distance in cm at which type of ``pt`` is still read fluently.

    Fluent reading needs an x-height of at least 0.2 degrees of visual angle (Legge and Bigelow, Does print size
    matter for reading? J Vis 2011;11(5):8; value from memory).
    """
    return int(pt * _X_HEIGHT * _MM_PER_PT / tan(radians(_FLUENT_DEGREES)) / 10)


@dataclass(frozen=True, slots=True)
class Heights:
    """Measured heights in mm, without gaps: of each line by its level, of each heading, of the foot, and the room of
    the ``first`` side and of every ``other``."""

    lines: Mapping[str, tuple[float, ...]]
    headings: Mapping[str, float]
    foot: float
    first: float
    other: float

    def scaled(self, factor: float) -> "Heights":
        """Return a lower bound of these heights in type larger by ``factor``: no line gets fewer rows."""
        lines = {id: tuple(height * factor for height in heights) for id, heights in self.lines.items()}
        return replace(self, lines=lines)


@dataclass(frozen=True, slots=True)
class CardSide:
    """What stands on a side, ``gap_mm`` above each line, and how many mm then are ``free``."""

    lines: tuple[CardLine, ...]
    gap_mm: float
    free: float

    def spaced(self) -> "CardSide":
        """Return the side with lines as far apart as it takes, up to the widest gap."""
        more = min(_GAPS[0] - self.gap_mm, max(0.0, self.free) / max(1, len(self.lines)))
        return replace(self, gap_mm=round(self.gap_mm + more - 0.005, 2), free=self.free - more * len(self.lines))


@dataclass(frozen=True, slots=True)
class Fit:
    """What stands on which side, in type of ``pt``: the plan up to ``level``; ``over`` is by how many mm the least of
    the plan is too long, ``over_single`` by how many for two sides."""

    pt: float
    level: int
    sides: tuple[CardSide, ...]
    over: float
    over_single: float
    heights: Heights


def fit(lines: Sequence[CardLine], measure: Callable[[float], Heights], *, single: bool) -> Fit:
    """Return the best filling: on two sides where all of the plan stands there, or at least what must where ``single``
    sides are asked for; else on four. Measuring is what is dear, so it begins where the number of letters makes likely
    that all stands, and larger type is measured only where it may do.
    """
    likely = _likely(lines)
    heights = measure(likely)
    if likely > TYPES[0]:
        if found := _filled(lines, heights, LEVELS[-1], SINGLE):
            return _enlarged(lines, measure, Fit(likely, LEVELS[-1], found, 0.0, 0.0, heights), SINGLE)
        heights = measure(TYPES[0])
    over_single = _over(lines, heights, SINGLE)
    for sides, least in ((SINGLE, MUST if single else LEVELS[-1]), (FOLDED, MUST)):
        for level in range(LEVELS[-1], least - 1, -1):
            found = _filled(lines, heights, level, sides)
            if found:
                made = Fit(TYPES[0], level, found, 0.0, over_single, heights)
                return _enlarged(lines, measure, made, sides) if level == LEVELS[-1] else made
    packed = tuple(_packed(lines, heights, MUST, _GAPS[-1], apart=False))
    return Fit(TYPES[0], MUST, packed, _over(lines, heights, FOLDED), over_single, heights)


def _likely(lines: Sequence[CardLine]) -> float:
    """Return the largest type in which so many letters may stand on two sides."""
    letters = sum(len(part.text) for line in lines for part in line.shown(LEVELS[-1]))
    return max((pt for pt in TYPES if letters * pt * pt <= _LETTERS_PT2), default=TYPES[0])


def _enlarged(lines: Sequence[CardLine], measure: Callable[[float], Heights], made: Fit, sides: int) -> Fit:
    """Return ``made`` in the largest type in which as much stands; it begins where the growth of text makes likely."""

    def may_fit(pt: float, best: Fit, growth: float = 1.0) -> bool:
        return _filled(lines, best.heights.scaled((pt / best.pt) ** growth), best.level, sides) is not None

    next_larger, failed = TYPES.index(made.pt) + 1, len(TYPES)
    at = max((at for at in range(next_larger + 1, failed) if may_fit(TYPES[at], made, _GROWTH)), default=next_larger)
    best = made
    while 0 < at < failed and may_fit(TYPES[at], best):
        heights = measure(TYPES[at])
        found = _filled(lines, heights, best.level, sides)
        if found:
            best = Fit(TYPES[at], best.level, found, 0.0, best.over_single, heights)
            at += 1
        else:
            failed = at
            at -= 1 if TYPES[at - 1] > best.pt else at
    return best


def _filled(lines: Sequence[CardLine], heights: Heights, level: int, sides: int) -> tuple[CardSide, ...] | None:
    """Return the sides on which ``lines`` stand, as far apart as may be, or None where they take more than ``sides``;
    steps begin a side of their own where there is room for it."""
    for apart in (True, False):
        for gap in _GAPS:
            packed = tuple(_packed(lines, heights, level, gap, apart=apart))
            if len(packed) <= sides and packed[-1].lines and all(side.free >= 0 for side in packed):
                return tuple(side.spaced() for side in packed)
    return None


def _packed(lines: Sequence[CardLine], heights: Heights, level: int, gap: float, *, apart: bool) -> Iterator[CardSide]:
    """Yield the sides one after the other; a heading stands again where its lines go on, the foot on the last."""
    side: list[CardLine] = []
    free = heights.first - _SLACK_MM
    for line in (line for line in lines if line.shown(level)):
        height = heights.lines[line.id][level] + gap
        is_new = not side or side[-1].section != line.section
        begins = apart and is_new and line.section == _APART
        if side and (begins or height + heights.headings[line.section] * is_new > free):
            yield CardSide(tuple(side), gap, free)
            side, free, is_new = [], heights.other - _SLACK_MM, True
        side.append(line)
        free -= height + heights.headings[line.section] * is_new
    if heights.foot > free:
        yield CardSide(tuple(side), gap, free)
        side, free = [], heights.other - _SLACK_MM
    yield CardSide(tuple(side), gap, free - heights.foot)


def _over(lines: Sequence[CardLine], heights: Heights, sides: int) -> float:
    """Return by how many mm what must stand is longer than ``sides``."""
    packed = tuple(_packed(lines, heights, MUST, _GAPS[-1], apart=False))
    beyond = sum(heights.other - _SLACK_MM - side.free for side in packed[sides:])
    return round(beyond + sum(max(0.0, -side.free) for side in packed[:sides]), 1)

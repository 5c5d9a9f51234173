"""Fits the lines of a pocket card to its two sides: an exact choice of the best forms, in the largest type that does.

A side is a knapsack (``compose.knapsack``): from each line at most one form, heights in tenths of a millimetre, worth
as given. The heading of a place costs height only when something stands in it.
"""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from math import radians, tan

from builder.compose.card.card_lines import BACK, FRONT, CardLine
from builder.compose.knapsack import Bundle, Candidate, best_choice
from builder.grouping import grouped

_TENTHS = 10
_X_HEIGHT = 1118 / 2048  # of the em, from the OS/2 table of site_templates/fonts
_MM_PER_PT = 25.4 / 72
_FLUENT_DEGREES = 0.2
_SLACK_MM = 0.6  # marks of two digits, and rounding


@dataclass(frozen=True, slots=True)
class Density:
    """How tightly the card is set: type size in pt and line height as a multiple of it."""

    name: str
    pt: float
    leading: float
    gap_mm: float

    def readable_cm(self) -> int:
        """Return the farthest distance in cm at which this type is still read fluently.

        Fluent reading needs an x-height of at least 0.2 degrees of visual angle (Legge and Bigelow, Does print size
        matter for reading? J Vis 2011;11(5):8; value from memory).
        """
        return int(self.pt * _X_HEIGHT * _MM_PER_PT / tan(radians(_FLUENT_DEGREES)) / 10)


DENSITIES = (
    Density("comfortable", 9.0, 1.36, 0.7),
    Density("even", 8.4, 1.33, 0.55),
    Density("close", 7.8, 1.3, 0.45),
    Density("tight", 7.1, 1.27, 0.3),
)


@dataclass(frozen=True, slots=True)
class Heights:
    """Measured heights in mm at one density: of the forms of each line, of each heading, and the room of each side."""

    forms: Mapping[str, tuple[float, ...]]
    headings: Mapping[str, float]
    front: float
    back: float


@dataclass(frozen=True, slots=True)
class SideFit:
    """The choice for one side: ``chosen`` form (index) of each line by id, ``over`` mm that the must is too long."""

    chosen: Mapping[str, int]
    used: float
    room: float
    over: float = 0.0


@dataclass(frozen=True, slots=True)
class Fit:
    """The choice for the whole card at one density; ``tried`` says for each density by how many mm
    the wanted lines were too long."""

    density: Density
    front: SideFit
    back: SideFit
    tried: tuple[tuple[str, float], ...]

    @property
    def chosen(self) -> Mapping[str, int]:
        """The form (index) of each line that stands on the card, by id."""
        return {**self.front.chosen, **self.back.chosen}

    @property
    def over(self) -> float:
        """How many mm the longer side is over when only what must stand on it does."""
        return max(self.front.over, self.back.over)


def fit(lines: Sequence[CardLine], measure: Callable[[Density], Heights]) -> Fit:
    """Return the choice at the largest type at which every wanted line stands, else at the smallest type.

    Measuring is what is dear, so it begins at the type that the length of the texts makes likely. ``over`` of the
    result is above 0 where not even what must be there fits.
    """
    at, whole, heights, overs = _largest(lines, measure)
    # What is smaller than what fits, fits.
    tried = tuple((SIZES[size].name, max(0.0, overs.get(size, 0) / _TENTHS)) for size in range(max(overs) + 1))
    kept = [replace(line, must=line.must or line.wanted) for line in lines] if whole else lines
    front = _best([line for line in kept if line.section in FRONT], heights, heights.front)
    back = _best([line for line in kept if line.section in BACK], heights, heights.back)
    return Fit(SIZES[at], front, back, tried)


SIZES = tuple(reversed(DENSITIES))
"""The smallest type first."""
_LETTER_EM = 0.5  # the usual width of a letter; only a guess of where to begin rests on it
_ROW_MM, _HEADING_MM, _SIDE_MM = 87.0, 4.3, 112.0


def _largest(
    lines: Sequence[CardLine], measure: Callable[[Density], Heights]
) -> tuple[int, bool, Heights, Mapping[int, int]]:
    """Return the place of the largest type that fits among ``SIZES`` (0 where none does), whether it fits, its
    heights, and by how many tenths the lines were too long at each type that was looked at."""
    at = likely(lambda density: all(_guessed(_wanted(lines, side), density) <= _SIDE_MM for side in (FRONT, BACK)))
    overs: dict[int, int] = {}
    measured: dict[int, Heights] = {}
    while at not in measured:
        measured[at] = measure(SIZES[at])
        overs[at] = _over(lines, measured[at])
        if overs[at] > 0:
            at = max(0, at - 1)
        elif at + 1 < len(SIZES) and at + 1 not in overs:
            overs[at + 1] = _over(lines, _at_least(measured[at], SIZES[at], SIZES[at + 1]))
            if overs[at + 1] <= 0:
                at += 1
    return at, overs[at] <= 0, measured[at], overs


def likely(may_fit: Callable[[Density], bool]) -> int:
    """Return the place among ``SIZES`` of the largest type in which what is wanted ``may_fit``."""
    return next((at for at in range(len(SIZES) - 1, 0, -1) if may_fit(SIZES[at])), 0)


def _guessed(lines: Sequence[CardLine], density: Density) -> float:
    headings = _HEADING_MM * len({line.section for line in lines})
    return headings + sum(guessed_height(line, 0, density, _ROW_MM) for line in lines)


def guessed_height(line: CardLine, form: int, density: Density, row_mm: float) -> float:
    """Return about how many mm a form of ``line`` takes in rows of ``row_mm``, by the number of its letters."""
    shown = line.forms[form]
    letters = len(line.lead) + len(shown.text) + len(shown.detail) + 1
    rows = 1 + int(letters * density.pt * _MM_PER_PT * _LETTER_EM / row_mm)
    return rows * density.pt * density.leading * _MM_PER_PT + density.gap_mm


def _at_least(heights: Heights, measured: Density, larger: Density) -> Heights:
    """Return a lower bound of the heights at a ``larger`` density: no line has fewer lines of type in larger type."""
    factor = larger.pt * larger.leading / (measured.pt * measured.leading)
    forms = {id: tuple(height * factor for height in some) for id, some in heights.forms.items()}
    return replace(heights, forms=forms)


def _wanted(lines: Sequence[CardLine], sections: Sequence[str]) -> list[CardLine]:
    return [line for line in lines if line.section in sections and (line.must or line.wanted)]


def _over(lines: Sequence[CardLine], heights: Heights) -> int:
    """Return by how many tenths the wanted lines of the worse side, in their shortest form, are too long (negative:
    room)."""
    sides = ((FRONT, heights.front), (BACK, heights.back))
    return max(_used(_wanted(lines, sections), heights) - _free(room) for sections, room in sides)


def _free(room: float) -> int:
    return int((room - _SLACK_MM) * _TENTHS)


def _best(lines: Sequence[CardLine], heights: Heights, room: float) -> SideFit:
    """Return the most valuable choice for one side."""
    free = _free(room)
    must = [line for line in lines if line.must]
    least = _used(must, heights)
    if least > free:
        return SideFit({line.id: 0 for line in must}, least / _TENTHS, room, round((least - free) / _TENTHS, 1))
    chosen = best_choice(_bundles(lines, heights), free)
    return SideFit(chosen, _used([line for line in lines if line.id in chosen], heights, chosen) / _TENTHS, room)


def _bundles(lines: Sequence[CardLine], heights: Heights) -> list[Bundle]:
    """Return the places of a side with their lines."""
    sections = grouped((line.section, _candidate(line, heights)) for line in lines)
    return [
        Bundle(_tenths(heights.headings[section]), any(candidate.needed for candidate in here), tuple(here))
        for section, here in sections.items()
    ]


def _candidate(line: CardLine, heights: Heights) -> Candidate:
    forms = zip(heights.forms[line.id], line.forms, strict=True)
    return Candidate(line.id, tuple((_tenths(height), form.worth) for height, form in forms), line.must)


def _used(lines: Sequence[CardLine], heights: Heights, chosen: Mapping[str, int] | None = None) -> int:
    """Return how many tenths ``lines`` take with their headings, in the forms ``chosen`` or else the shortest."""
    headings = sum(_tenths(heights.headings[section]) for section in {line.section for line in lines})
    return headings + sum(_tenths(heights.forms[line.id][chosen[line.id] if chosen else 0]) for line in lines)


def _tenths(mm: float) -> int:
    """Return ``mm`` in tenths, rounded up, so that a sum never promises room that is not there."""
    return int(mm * _TENTHS) + (mm * _TENTHS > int(mm * _TENTHS))

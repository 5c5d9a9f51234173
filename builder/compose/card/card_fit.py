"""Fits the lines of a pocket card to its two sides: an exact choice of the best forms, in the largest type that does.

A side is a multiple-choice knapsack: from each line at most one form, heights in tenths of a millimetre, worth as
given. It is solved exactly by dynamic programming (Kellerer, Pferschy, Pisinger: Knapsack Problems, 2004, ch. 11); the
heading of a place costs height only when something stands in it.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from math import radians, tan

from builder.compose.card.card_lines import BACK, FRONT, CardLine

_TENTHS = 10
_NEVER = -(10**9)
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
    density = _SIZES[at]
    # What is smaller than what fits, fits.
    tried = [(_SIZES[one].name, max(0.0, overs.get(one, 0) / _TENTHS)) for one in range(max(overs) + 1)]
    kept = [replace(line, must=line.must or line.wanted) for line in lines] if whole else lines
    front = _best([line for line in kept if line.section in FRONT], heights, heights.front)
    back = _best([line for line in kept if line.section in BACK], heights, heights.back)
    return Fit(density, front, back, tuple(tried))


_SIZES = tuple(reversed(DENSITIES))
_LETTER_EM = 0.5  # the usual width of a letter; only a guess of where to begin rests on it
_ROW_MM, _HEADING_MM, _SIDE_MM = 87.0, 4.3, 112.0


def _largest(
    lines: Sequence[CardLine], measure: Callable[[Density], Heights]
) -> tuple[int, bool, Heights, Mapping[int, int]]:
    """Return the place of the largest type that fits among ``_SIZES`` (0 where none does), whether it fits, its
    heights, and by how many tenths the lines were too long at each type that was looked at."""
    at = _likely(lines)
    overs: dict[int, int] = {}
    measured: dict[int, Heights] = {}
    while at not in measured:
        measured[at] = measure(_SIZES[at])
        overs[at] = _over(lines, measured[at])
        if overs[at] > 0:
            at = max(0, at - 1)
        elif at + 1 < len(_SIZES) and at + 1 not in overs:
            overs[at + 1] = _over(lines, _at_least(measured[at], _SIZES[at], _SIZES[at + 1]))
            if overs[at + 1] <= 0:
                at += 1
    return at, overs[at] <= 0, measured[at], overs


def _likely(lines: Sequence[CardLine]) -> int:
    """Return the place of the largest type in which the wanted lines may well fit, by the length of their texts."""
    for at in range(len(_SIZES) - 1, 0, -1):
        sides = [[one for one in lines if one.section in side and (one.must or one.wanted)] for side in (FRONT, BACK)]
        if all(_guessed(side, _SIZES[at]) <= _SIDE_MM for side in sides):
            return at
    return 0


def _guessed(lines: Sequence[CardLine], density: Density) -> float:
    return _HEADING_MM * len({line.section for line in lines}) + sum(
        guessed_height(line, 0, density, _ROW_MM) for line in lines
    )


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


def _over(lines: Sequence[CardLine], heights: Heights) -> int:
    """Return by how many tenths the wanted lines of the worse side are too long (negative: room)."""
    return max(_overflow(lines, heights, FRONT, heights.front), _overflow(lines, heights, BACK, heights.back))


def _overflow(lines: Sequence[CardLine], heights: Heights, sections: Sequence[str], room: float) -> int:
    """Return by how many tenths the wanted lines of a side in their shortest form are too long (negative: room)."""
    wanted = [replace(line, must=True) for line in lines if line.section in sections and (line.must or line.wanted)]
    return _least(wanted, heights, {line.section for line in wanted}) - _free(room)


def _free(room: float) -> int:
    return int((room - _SLACK_MM) * _TENTHS)


def _best(lines: Sequence[CardLine], heights: Heights, room: float) -> SideFit:
    """Return the most valuable choice for one side."""
    free = _free(room)
    needed = {line.section for line in lines if line.must}
    least = _least(lines, heights, needed)
    if least > free:
        chosen = {line.id: 0 for line in lines if line.must}
        return SideFit(chosen, least / _TENTHS, room, round((least - free) / _TENTHS, 1))
    chosen = _knapsack(lines, heights, free)
    standing = [replace(line, must=True, forms=(line.forms[chosen[line.id]],)) for line in lines if line.id in chosen]
    only = {id: (heights.forms[id][form],) for id, form in chosen.items()}
    used = _least(standing, replace(heights, forms=only), {line.section for line in standing})
    return SideFit(chosen, used / _TENTHS, room)


def _least(lines: Sequence[CardLine], heights: Heights, needed: set[str]) -> int:
    return sum(_tenths(heights.headings[section]) for section in needed) + sum(
        _tenths(heights.forms[line.id][0]) for line in lines if line.must
    )


def _tenths(mm: float) -> int:
    """Return ``mm`` in tenths, rounded up, so that a sum never promises room that is not there."""
    return int(mm * _TENTHS) + (mm * _TENTHS > int(mm * _TENTHS))


_Table = list[int]
_Pick = tuple[CardLine, list[int]]


def _knapsack(lines: Sequence[CardLine], heights: Heights, room: int) -> dict[str, int]:
    """Return the forms that fill ``room`` tenths best; the must fits. Among equals the earlier lines of the card stand.

    A table holds, for every height, the most that fits into it (below 0: nothing does). Place after place is laid on
    it, its heading first; a place in which nothing must stand may be left out whole.
    """
    table: _Table = [0] * (room + 1)
    done: list[tuple[int, list[_Pick], list[bool]]] = []
    for section in dict.fromkeys(line.section for line in lines):
        here = [line for line in lines if line.section == section]
        heading = _tenths(heights.headings[section])
        laid = _shifted(table, heading, 0)
        picks: list[_Pick] = []
        for line in here:
            laid, pick = _with_line(laid, line, [_tenths(height) for height in heights.forms[line.id]])
            picks.append((line, pick))
        must = any(line.must for line in here)
        taken = [must or one > other for one, other in zip(laid, table, strict=True)]
        table = [one if take else other for one, other, take in zip(laid, table, taken, strict=True)]
        done.append((heading, picks, taken))
    return _chosen(done, heights, room)


def _with_line(table: _Table, line: CardLine, sizes: Sequence[int]) -> tuple[_Table, list[int]]:
    """Return ``table`` with one form of ``line`` or, where it may, none; and which form (-1 = none) at each height."""
    best, pick = ([_NEVER] * len(table) if line.must else table), [-1] * len(table)
    for at, size in enumerate(sizes):
        other = _shifted(table, size, line.forms[at].worth)
        pick = [at if new > old else form for new, old, form in zip(other, best, pick, strict=True)]
        best = [max(pair) for pair in zip(other, best, strict=True)]
    return best, pick


def _shifted(table: _Table, size: int, worth: int) -> _Table:
    """Return ``table`` after something of this ``size`` and ``worth`` was laid on it."""
    count = len(table)
    return [_NEVER] * min(size, count) + [before + worth for before in table[: max(0, count - size)]]


def _chosen(done: list[tuple[int, list[_Pick], list[bool]]], heights: Heights, room: int) -> dict[str, int]:
    """Walk the tables back from the full height and return the form of each line that stands, in order of the card."""
    found: list[tuple[str, int]] = []
    left = room
    for heading, picks, taken in reversed(done):
        if taken[left]:
            for line, pick in reversed(picks):
                if (form := pick[left]) >= 0:
                    found.append((line.id, form))
                    left -= _tenths(heights.forms[line.id][form])
            left -= heading
    return dict(reversed(found))

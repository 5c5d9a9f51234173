"""Chooses what is said in a session: the most valuable slides under a time limit, exactly.

A multiple-choice knapsack (Kellerer, Pferschy, Pisinger: Knapsack Problems, 2004, ch. 11), solved by dynamic
programming over half seconds, as the pocket card is over tenths of a millimetre. Slides come in bundles (a step with
its figure, cautions and stop point): nothing of a bundle stands without its head. What a shorter session holds is given
as ``least`` to the longer one, so that the longer contains the shorter by construction.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from math import ceil

_STEPS_A_SECOND = 2
_NEVER = -(10**9)
ABSENT, SHORT, FULL = 0, 1, 2
Table = list[int]


@dataclass(frozen=True, slots=True)
class SlideForm:
    """A way to show a slide: its ``level`` (SHORT or FULL), the ``seconds`` it takes, what it is ``worth``."""

    level: int
    seconds: float
    worth: int


@dataclass(frozen=True, slots=True)
class SlideCandidate:
    """A slide that may be chosen: its forms, the shorter first; ``must`` be there; ``head``: nothing of its bundle
    stands without it."""

    id: str
    bundle: str
    forms: tuple[SlideForm, ...]
    must: bool = False
    head: bool = False


def least_seconds(items: Sequence[SlideCandidate]) -> float:
    """Return how long the slides take that must be there, in their shortest form."""
    return sum(_steps(item.forms[0].seconds) for item in _needed(items)) / _STEPS_A_SECOND


def chosen(items: Sequence[SlideCandidate], seconds: float, least: Mapping[str, int]) -> dict[str, int]:
    """Return the level of each slide that stands, by id, in the order of ``items``.

    What must be there fits (``least_seconds``). ``least`` holds levels that may not be undercut.
    """
    room = int(seconds * _STEPS_A_SECOND)
    table: Table = [0] * (room + 1)
    done: list[tuple[list[tuple[SlideCandidate, list[int]]], list[bool]]] = []
    held = [_held(item, least.get(item.id, ABSENT)) for item in items]
    for bundle in dict.fromkeys(item.bundle for item in held):
        here = [item for item in held if item.bundle == bundle]
        must = any(item.must for item in here)
        laid, picks = table, []
        for item in here:
            laid, pick = _with(laid, item, needed=item.must or item.head)
            picks.append((item, pick))
        taken = [must or one > other for one, other in zip(laid, table, strict=True)]
        table = [one if take else other for one, other, take in zip(laid, table, taken, strict=True)]
        done.append((picks, taken))
    return _walked_back(done, room)


def _needed(items: Sequence[SlideCandidate]) -> list[SlideCandidate]:
    bundles = {item.bundle for item in items if item.must}
    return [item for item in items if item.must or (item.head and item.bundle in bundles)]


def _held(item: SlideCandidate, level: int) -> SlideCandidate:
    """Return ``item`` without the forms below ``level``, at which it stands already."""
    if level == ABSENT:
        return item
    forms = tuple(form for form in item.forms if form.level >= level)
    return SlideCandidate(item.id, item.bundle, forms, must=True, head=item.head)


def _steps(seconds: float) -> int:
    """Return ``seconds`` in half seconds, rounded up, so that a sum never promises time that is not there."""
    return ceil(seconds * _STEPS_A_SECOND - 1e-9)


def _with(table: Table, item: SlideCandidate, *, needed: bool) -> tuple[Table, list[int]]:
    """Return ``table`` with one form of ``item`` or, unless it is needed, none; and which form (-1 = none)."""
    best, pick = ([_NEVER] * len(table) if needed else table), [-1] * len(table)
    for at, form in enumerate(item.forms):
        size = _steps(form.seconds)
        other = [_NEVER] * min(size, len(table)) + [one + form.worth for one in table[: max(0, len(table) - size)]]
        pick = [at if new > old else one for new, old, one in zip(other, best, pick, strict=True)]
        best = [max(pair) for pair in zip(other, best, strict=True)]
    return best, pick


def _walked_back(done: list[tuple[list[tuple[SlideCandidate, list[int]]], list[bool]]], room: int) -> dict[str, int]:
    found: list[tuple[str, int]] = []
    left = room
    for picks, taken in reversed(done):
        if not taken[left]:
            continue
        for item, pick in reversed(picks):
            if pick[left] >= 0:
                form = item.forms[pick[left]]
                found.append((item.id, form.level))
                left -= _steps(form.seconds)
    return dict(reversed(found))

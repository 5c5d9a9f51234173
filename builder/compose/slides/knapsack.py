"""What is worth most and still fits: an exact choice among forms of things that come in bundles.

A multiple-choice knapsack (Kellerer, Pferschy, Pisinger: Knapsack Problems, 2004, ch. 11) solved by dynamic programming
over whole units: tenths of a millimetre on a card, half seconds of a talk. Of each thing at most one form is taken. A
bundle (a place of the card with its heading, a step with its figure and cautions) may be left out whole; in one that is
taken, what is needed stands.
"""

from collections.abc import Sequence
from typing import NamedTuple

_NEVER = -(10**9)
_Table = list[int]
"""For every room the most that fits into it; below 0: nothing does."""


class Candidate(NamedTuple):
    """A thing that may be taken: ``(size, worth)`` of each of its forms, and whether its bundle stands only with it."""

    id: str
    forms: tuple[tuple[int, int], ...]
    needed: bool


class Bundle(NamedTuple):
    """Things that stand together: the ``size`` of what they have in common, and whether they ``must`` stand."""

    size: int
    must: bool
    candidates: tuple[Candidate, ...]


class _Laid(NamedTuple):
    """A bundle that was laid on the table: at each room whether it is taken, and which form of each (-1 = none)."""

    bundle: Bundle
    taken: list[bool]
    picks: list[list[int]]


def best_choice(bundles: Sequence[Bundle], room: int) -> dict[str, int]:
    """Return the form (index) of each candidate that stands, by id, in their order; what must stand fits into ``room``.

    Among equals the earlier bundles stand.
    """
    table: _Table = [0] * (room + 1)
    laid: list[_Laid] = []
    for bundle in bundles:
        with_it, picks = _shifted(table, bundle.size, 0), []
        for candidate in bundle.candidates:
            with_it, pick = _with(with_it, candidate)
            picks.append(pick)
        taken = [bundle.must or more > less for more, less in zip(with_it, table, strict=True)]
        table = [more if take else less for more, less, take in zip(with_it, table, taken, strict=True)]
        laid.append(_Laid(bundle, taken, picks))
    return _walked_back(laid, room)


def _with(table: _Table, candidate: Candidate) -> tuple[_Table, list[int]]:
    """Return ``table`` with one form of ``candidate`` or, where it may, none; and which (-1 = none) at each room."""
    best, pick = ([_NEVER] * len(table) if candidate.needed else table), [-1] * len(table)
    for form, (size, worth) in enumerate(candidate.forms):
        other = _shifted(table, size, worth)
        pick = [form if new > old else before for new, old, before in zip(other, best, pick, strict=True)]
        best = [max(pair) for pair in zip(other, best, strict=True)]
    return best, pick


def _shifted(table: _Table, size: int, worth: int) -> _Table:
    """Return ``table`` after something of this ``size`` and ``worth`` was laid on it."""
    count = len(table)
    return [_NEVER] * min(size, count) + [before + worth for before in table[: max(0, count - size)]]


def _walked_back(laid: Sequence[_Laid], room: int) -> dict[str, int]:
    """Walk the tables back from the whole room and return the form of each candidate that stands."""
    standing: list[tuple[str, int]] = []
    for bundle, taken, picks in reversed(laid):
        if taken[room]:
            for candidate, pick in zip(reversed(bundle.candidates), reversed(picks), strict=True):
                if (form := pick[room]) >= 0:
                    standing.append((candidate.id, form))
                    room -= candidate.forms[form][0]
            room -= bundle.size
    return dict(reversed(standing))

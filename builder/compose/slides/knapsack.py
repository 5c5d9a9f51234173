"""Which slides are worth most and still fit: an exact choice among slides that come in bundles.

A knapsack (Kellerer, Pferschy, Pisinger: Knapsack Problems, 2004, ch. 11) solved by dynamic programming over half
seconds. A bundle (a step with its figure and cautions) may be left out whole; in one that is taken, its head stands.
"""

from collections.abc import Iterable
from collections.abc import Set as AbstractSet
from math import ceil
from typing import Any, NamedTuple

from builder.grouping import grouped

_STEPS_A_SECOND = 2
_Choice = tuple[int, tuple[Any, ...]]
"""What is chosen for a room: its worth, and the id of its last slide with those before it."""
_NEVER: _Choice = (-(10**9), ())


class SlideCandidate(NamedTuple):
    """A slide that may be chosen: the ``seconds`` it takes, what it is ``worth``; nothing of its bundle stands without
    its ``head``."""

    id: str
    bundle: str
    seconds: float
    worth: int
    head: bool = False


def chosen(slides: Iterable[SlideCandidate], seconds: float) -> AbstractSet[str]:
    """Return the ids of the slides that stand. Among equals the earlier bundles stand."""
    rooms = int(seconds * _STEPS_A_SECOND) + 1
    table: list[_Choice] = [(0, ())] * rooms  # what is worth most in each room, from none to the whole
    for bundle in grouped((slide.bundle, slide) for slide in slides).values():
        best = table
        for slide in bundle:
            # Rounded up, so that a sum never promises time that is not there.
            size = min(rooms, ceil(slide.seconds * _STEPS_A_SECOND - 1e-9))
            with_it = [(worth + slide.worth, (slide.id, before)) for worth, before in best[: rooms - size]]
            best = _better([_NEVER] * size + with_it, [_NEVER] * rooms if slide.head else best)
        table = _better(best, table)
    standing, before = set(), table[-1][1]
    while before:
        id, before = before
        standing.add(id)
    return standing


def _better(some: list[_Choice], others: list[_Choice]) -> list[_Choice]:
    return [one if one[0] > other[0] else other for one, other in zip(some, others, strict=True)]

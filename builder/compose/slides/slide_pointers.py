"""Puts the numbers of pointers on a figure: beside what they show, never on it nor on one another, joined by a line."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from math import hypot

from builder.compose.slides.slide import PointerSpot
from builder.compose.view.view import PointerView

DISC = 36.0
"""Width in pt of the disc behind a number; its type is 24 pt."""
_APART = DISC + 5.0
_CLEAR = DISC / 2 + 9.0  # from the middle of a disc to any place that a pointer shows
_ROUNDS = 600
_PULL = 0.03
Place = tuple[float, float]


def fitted(aspect: float, width: float, height: float) -> tuple[float, float]:
    """Return width and height of a picture that fills a frame as far as its ``aspect`` lets it."""
    return (height * aspect, height) if width / height > aspect else (width, width / aspect)


def spots_of(pointers: Sequence[PointerView], size: Place) -> tuple[PointerSpot, ...]:
    """Return the pointers with a place for each number on a picture of ``size``, width and height in pt.

    Numbers are pushed off one another and off all that is pointed at, and pulled back to what they show, in equal
    steps: the same picture always gives the same places.
    """
    goals = [(float(one.x) / 100 * size[0], float(one.y) / 100 * size[1]) for one in pointers]
    places = [_inside((x + dx, y + dy), size) for (x, y), (dx, dy) in zip(goals, _starts(goals, size), strict=True)]
    for turn in range(_ROUNDS):
        pull = _PULL if turn < _ROUNDS * 2 // 3 else 0.0
        places = [_inside(_moved(at, places, goals, pull), size) for at in range(len(places))]
    return tuple(
        PointerSpot(
            one.number, one.name, float(one.x), float(one.y),
            round(100 * x / size[0], 2), round(100 * y / size[1], 2),
        )
        for one, (x, y) in zip(pointers, places, strict=True)
    )  # fmt: skip


def _starts(goals: Sequence[Place], size: Place) -> Iterator[Place]:
    """Yield for each goal a step out of the crowd: away from the middle of what lies near it, weighed by nearness."""
    for at, (x, y) in enumerate(goals):
        near = [(x - left, y - top) for other, (left, top) in enumerate(goals) if other != at]
        weighed = [(dx / (1 + dx * dx + dy * dy), dy / (1 + dx * dx + dy * dy)) for dx, dy in near]
        across, down = sum(dx for dx, _ in weighed), sum(dy for _, dy in weighed)
        far = hypot(across, down)
        # Alone, a number stands above what it shows, or below where there is no room above.
        unit = (across / far, down / far) if far > 1e-6 else (0.0, -1.0 if y > size[1] / 6 else 1.0)
        yield unit[0] * _CLEAR, unit[1] * _CLEAR


def _moved(at: int, places: Sequence[Place], goals: Sequence[Place], pull: float) -> Place:
    x, y = places[at]
    dx, dy = (goals[at][0] - x) * pull, (goals[at][1] - y) * pull
    others = ((place, _APART, at < other) for other, place in enumerate(places) if other != at)
    marks = ((goal, _CLEAR, True) for goal in goals)
    for (left, top), least, first in (*others, *marks):
        across, down = x - left, y - top
        far = hypot(across, down)
        if far < least:
            # Two on one spot part to the sides, the first to the left.
            unit = (across / far, down / far) if far > 1e-6 else ((-1.0, 0.0) if first else (1.0, 0.0))
            dx, dy = dx + unit[0] * (least - far) / 2, dy + unit[1] * (least - far) / 2
    return x + dx, y + dy


def _inside(place: Place, size: Place) -> Place:
    edge = DISC / 2 + 2
    return min(max(place[0], edge), size[0] - edge), min(max(place[1], edge), size[1] - edge)

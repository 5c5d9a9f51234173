"""Puts the numbers of pointers on a figure so that none covers another; a line leads to what a moved one shows."""

from __future__ import annotations

from collections.abc import Sequence
from math import hypot

from builder.compose.slide import Spot
from builder.compose.view import PointerView

DISC = 36.0
"""Width in pt of the disc behind a number; its type is 24 pt."""
_APART = DISC + 3.0
_ROUNDS = 400
_PULL = 0.04


def spots_of(pointers: Sequence[PointerView], width: float, height: float) -> tuple[Spot, ...]:
    """Return the pointers with a place for each number on a picture of ``width`` by ``height`` pt.

    Numbers push one another apart in equal steps and are pulled back to what they show, so that the same picture
    always gives the same places.
    """
    goals = [(float(one.x) / 100 * width, float(one.y) / 100 * height) for one in pointers]
    places = [_inside(x, y, width, height) for x, y in goals]
    for turn in range(_ROUNDS):
        places = _pushed(places, goals, pull=_PULL if turn < _ROUNDS // 2 else 0.0)
        places = [_inside(x, y, width, height) for x, y in places]
    return tuple(
        Spot(one.number, one.name, float(one.x), float(one.y), round(100 * x / width, 2), round(100 * y / height, 2))
        for one, (x, y) in zip(pointers, places, strict=True)
    )


def _pushed(
    places: Sequence[tuple[float, float]], goals: Sequence[tuple[float, float]], pull: float
) -> list[tuple[float, float]]:
    moved = []
    for at, (x, y) in enumerate(places):
        dx, dy = (goals[at][0] - x) * pull, (goals[at][1] - y) * pull
        for other, (left, top) in enumerate(places):
            if other == at:
                continue
            across, down = x - left, y - top
            far = hypot(across, down)
            if far < _APART:
                # Two on one spot part to the sides, the first to the left.
                unit = (across / far, down / far) if far > 1e-6 else ((-1.0, 0.0) if at < other else (1.0, 0.0))
                step = (_APART - far) / 2
                dx, dy = dx + unit[0] * step, dy + unit[1] * step
        moved.append((x + dx, y + dy))
    return moved


def _inside(x: float, y: float, width: float, height: float) -> tuple[float, float]:
    edge = DISC / 2 + 1
    return min(max(x, edge), width - edge), min(max(y, edge), height - edge)

"""Needs that go round in a circle: no order of the steps could meet them."""

from collections.abc import Iterator, Mapping

from builder.check.hit import Hit
from builder.check.paths.path_words import ARROW
from builder.findings.finding import SecondPlace
from builder.findings.message_words import quoted
from builder.model.catalogue import plain_name
from builder.model.pages import Step
from builder.place import Text


def circles(steps: Mapping[str, Step]) -> list[tuple[Hit, frozenset[str]]]:
    """Return each circle of needs among ``steps`` once, with the facts in it.

    A need may be given by several steps, and one is enough. So the steps that can be done in some order are worked out
    first; what is left waits for a fact nobody gives, or for itself.
    """
    givers: dict[str, list[Step]] = {}
    for step in steps.values():
        for gift in step.gives:
            givers.setdefault(plain_name(gift), []).append(step)
    waiting = _waiting(steps, givers)
    circles_met: list[tuple[Hit, frozenset[str]]] = []
    done: set[str] = set()
    for step in steps.values():
        if step.id in waiting and step.id not in done:
            circle = list(_circle(step, waiting, givers))
            in_circle = {waiting_step.id for waiting_step, _ in circle}
            if circle and not done & in_circle:
                circles_met.append(_reported(circle))
            done |= {step.id, *in_circle}
    return circles_met


def _waiting(steps: Mapping[str, Step], givers: Mapping[str, list[Step]]) -> dict[str, Step]:
    """Return the steps that can be done in no order. What nobody gives is passed over here: it is not a circle."""
    waiting = dict(steps)
    moved = True
    while moved:
        ready = [
            step
            for step in waiting.values()
            if all(
                any(giver.id not in waiting for giver in givers[plain_name(need)])
                for need in step.needs
                if plain_name(need) in givers
            )
        ]
        for step in ready:
            del waiting[step.id]
        moved = bool(ready)
    return waiting


def _circle(start: Step, waiting: Mapping[str, Step], givers: Mapping[str, list[Step]]) -> Iterator[tuple[Step, Text]]:
    """Yield the steps of the circle that ``start`` waits for, each with the need that leads to the next."""
    way: dict[str, tuple[Step, Text]] = {}
    step = start
    while step.id not in way:
        need, giver = next(
            (need, givers[plain_name(need)][0])
            for need in step.needs
            if plain_name(need) in givers and all(giver.id in waiting for giver in givers[plain_name(need)])
        )
        way[step.id] = (step, need)
        step = giver
    ids = list(way)
    for id in ids[ids.index(step.id) :]:
        yield way[id]


def _reported(circle: list[tuple[Step, Text]]) -> tuple[Hit, frozenset[str]]:
    names = [f"{quoted(step.title)} ({need})" for step, need in circle]
    whole = f" {ARROW} ".join([*names, f"{quoted(circle[0][0].title)}"])
    first = circle[0][1]
    also = tuple(SecondPlace(need.at, f"{quoted(step.title)} needs {quoted(need)}") for step, need in circle[1:])
    if not also:
        step = circle[0][0]
        own = next(gift for gift in step.gives if plain_name(gift) == plain_name(first))
        also = (SecondPlace(own.at, "only this step gives it"),)
    hit = Hit(first.at, f"these needs go round in a circle: {whole}", "Remove one of these needs.", also)
    return hit, frozenset(plain_name(need) for _, need in circle)

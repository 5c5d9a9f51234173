"""Every bar of the map begins and ends where the list of every path says, on random small procedures.

The other side of the comparison is the lister of the path analysis, which plays each path through with what a team
would keep in mind; here it is asked after every action what is in.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from typing import Any, NamedTuple

import pytest
from lister import Theatre
from lister import paths as listed_paths
from small_procedures import Maker

from builder.facts import tracked
from builder.facts.anatomy import Anatomy
from builder.facts.course import IN, OUT, course_of
from builder.facts.tracked import Tracked
from builder.model.action import Action
from builder.model.library import Library
from builder.model.pages import Procedure, Step
from builder.model.sequence import StepEntry, every_entry

MOST_PATHS = 200
HELD = ("tie", "seal", "suture", "close", "clamp")
STAYING = ("suture", "clip", "implant", "dressing")
SIDES = {"L": "left", "R": "right", "O": "operated", "X": "other", "M": "-"}
Spans = set[tuple[str, str | None]]
Key = tuple[str, ...]
"""A thing as the course names it, with the side in the words of the lister."""


class Walk(NamedTuple):
    """The steps walked with their numbers, the branches chosen, and whether it is stuck or has ended."""

    steps: tuple[tuple[str, Step], ...] = ()
    chosen: tuple[tuple[str, str], ...] = ()
    stuck: bool = False
    ended: bool = False


def length(entries: Any) -> int:
    return sum(1 if entry.kind == "step" else max(map(length, inner(entry).values()), default=0) for entry in entries)


def inner(entry: Any) -> dict[str, Any]:
    if entry.kind == "option":
        return {"taken": entry.steps, "left-out": ()}
    return {str(name): steps for name, steps in (entry.between if entry.kind == "choose" else entry.branches).items()}


def walks(procedure: Procedure) -> list[Walk]:
    """Return every walk, each step with its number as the page has it."""
    names = {
        str(entry.id): list(inner(entry))
        for entry in every_entry(procedure.sequence)
        if entry.kind in ("choose", "option")
    }

    def along(entries: Any, walk: Walk, position: int, letters: str) -> Iterator[Walk]:
        if not entries or walk.stuck or walk.ended:
            yield walk
            return
        first, *rest = entries
        for reached in over(first, walk, position, letters):
            yield from along(rest, reached, position + length([first]), letters)

    def over(entry: Any, walk: Walk, position: int, letters: str) -> Iterator[Walk]:
        if entry.kind == "step":
            step = procedure.steps[entry.step]
            ended = bool(step.converts_to or step.stops_here)
            yield walk._replace(steps=(*walk.steps, (f"{position}{letters}", step)), ended=ended)
            return
        choice = str(entry.choice if entry.kind == "follow" else entry.id)
        taken = inner(entry)
        if entry.kind == "follow":
            earlier = dict(walk.chosen).get(choice)
            if earlier not in taken:
                yield walk._replace(stuck=True)
                return
            taken = {str(earlier): taken[str(earlier)]}
        for name, steps in taken.items():
            letter = "ABC"[names[choice].index(name)] if sum(map(bool, inner(entry).values())) > 1 else ""
            reached = walk._replace(chosen=(*walk.chosen, (choice, name)))
            yield from along(steps, reached, position, letters + letter)

    return list(along(procedure.sequence, Walk(), 1, ""))


class Watched:
    """One walk, and from which step to which each thing is in on it; ``after`` tells after which columns it is in."""

    def __init__(self, library: Library, walk: Walk, everything: list[Action]) -> None:
        self.theatre = Theatre(library, library.procedures[0], everything)
        self.spans: dict[Key, Spans] = {}
        self.since: dict[Key, str] = {}
        self.after: dict[int, set[Key]] = {}
        self.held: set[Key] = set()
        for number, step in walk.steps:
            for place, action in enumerate(step.actions):
                self.theatre.do(step, place, action)
                self.look(action, number)
            self.after[int(number.rstrip("ABC"))] = set(self.since)
        if not walk.stuck:
            for key, since in self.since.items():
                self.spans.setdefault(key, set()).add((since, None))

    def look(self, action: Action, number: str) -> None:
        now = self.all_in(action)
        for key in now - self.since.keys():
            self.since[key] = number
        for key in self.since.keys() - now:
            self.spans.setdefault(key, set()).add((self.since.pop(key), number))

    def all_in(self, action: Action) -> set[Key]:
        theatre = self.theatre
        if action.verb == "identify":
            for name in action.objects:
                sides = theatre.sides(action, theatre.structure(name).paired)
                self.held |= {("seen", theatre.structure(name).id, side) for side in sides}
        if action.verb in HELD and (action.verb != "clamp" or action.stays):
            items = [theatre.item(name) for name in action.using]
            self.held |= {("held", item.id) for item in items if action.stays or item.kind.value in STAYING}
        found = set(self.held)
        for item in theatre.items.values():
            every = set(theatre.spots(item.id))
            kept = {spot for spot in every if not theatre.leaves(spot)}
            if kept and theatre.lying(item.id, kept, staying_too=True):
                found.add(("lying", item.id))
            for spot in every - kept:
                if theatre.lying(item.id, {spot}, staying_too=True):
                    found.add(("leaving", item.id, *spot))
        return found | {("clamp", *one) for one in theatre.clamped & theatre.every_clamp()}


def keyed(thing: Tracked) -> Key:
    if thing.key[0] in ("leaving", "clamp", "seen"):
        return (*thing.key[:-1], SIDES[thing.key[-1]])
    return thing.key


class Both:
    """One procedure: its course as worked out, and as every walk has it."""

    def __init__(self, seed: int) -> None:
        library = Maker(seed).library()
        (procedure,) = library.procedures
        named = {entry.step for entry in every_entry(procedure.sequence) if isinstance(entry, StepEntry)}
        everything = [action for id, step in procedure.steps.items() if id in named for action in step.actions]
        self.course = course_of(procedure, Anatomy(library))
        self.numbers = [node.number for node in self.course.graph.nodes]
        self.walks = walks(procedure)
        self.watched = [Watched(library, walk, everything) for walk in self.walks]

    def worked_out(self) -> dict[Key, Spans]:
        return {
            keyed(one.thing): {(self.numbers[at], None if to is None else self.numbers[to]) for at, to in one.spans}
            for one in self.course.things
            if one.spans
        }

    def listed(self) -> dict[Key, Spans]:
        found: dict[Key, Spans] = {}
        for walk in self.watched:
            for key, spans in walk.spans.items():
                found.setdefault(key, set()).update(spans)
        return found

    def between(self) -> dict[tuple[Key, int], int]:
        """What every walk has after each column, of what goes on beyond it."""
        marks: dict[tuple[Key, int], int] = {}
        keys = [keyed(one.thing) for one in self.course.things]
        for walk, watched in zip(self.walks, self.watched, strict=True):
            last = max(watched.after, default=0) if walk.ended else self.course.columns + 1
            now: set[Key] = set()
            for column in range(self.course.columns + 1):
                now = watched.after.get(column, now)
                for key in keys:
                    is_told = column < last or (key in now and not (walk.ended and walk.steps[-1][1].converts_to))
                    told = (IN if key in now else OUT) if is_told else 0
                    marks[key, column] = marks.get((key, column), 0) | told
        return marks


def few_paths(seed: int) -> bool:
    return len(listed_paths(Maker(seed).library().procedures[0])) <= MOST_PATHS


def agree(number: int) -> Counter[str]:
    """Compare ``number`` procedures; return how often each kind of thing was told."""
    told: Counter[str] = Counter()
    for seed in filter(few_paths, range(10 * number)):
        both = Both(seed)
        assert both.worked_out() == both.listed(), f"seed {seed}"
        told.update(key[0] for key in both.listed())
        if not any(walk.stuck for walk in both.walks):
            worked_out = {
                (keyed(one.thing), column): marks
                for one in both.course.things
                for column, marks in enumerate(one.between)
                if marks
            }
            assert worked_out == {at: marks for at, marks in both.between().items() if marks}, f"seed {seed}"
            told["between"] += 1
        told["procedures"] += 1
        if told["procedures"] == number:
            break
    return told


def test_every_thing_goes_in_and_comes_out_where_every_path_says() -> None:
    told = agree(60)
    assert told["procedures"] == 60
    assert all(told[kind] > 10 for kind in ("lying", "clamp", "held", "seen")), told


@pytest.mark.slow
def test_every_thing_goes_in_and_comes_out_where_every_path_says_on_500_procedures() -> None:
    told = agree(500)
    assert told["procedures"] == 500
    assert all(told[kind] > 50 for kind in ("lying", "clamp", "held", "seen", "between")), told
    assert told["leaving"] > 5, told


def test_a_bar_that_ends_too_early_would_be_noticed(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(tracked, "ALL_OUT", 0)
    with pytest.raises(AssertionError):
        agree(60)

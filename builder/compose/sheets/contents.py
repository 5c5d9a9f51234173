"""What is in or on the patient after each step, by path: the data of the count and kit sheet.

Every item is followed on its own, along every way that the choices which move it leave open; what it comes to is then
said with no more choices than it depends on. That is exact, and cheap, since few choices move any one item. Where an
item lies, and on which sides, is read as the path analysis reads it (``facts.item_layout``).
"""

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from itertools import product
from math import prod
from typing import NamedTuple

from builder.compose.view.outline import Block, StepBlock
from builder.facts import sides
from builder.facts.anatomy import USED_UP_KINDS, Anatomy
from builder.facts.item_layout import ItemLayout, ItemSpot
from builder.model.action import CONTROLS, Action, Verb
from builder.model.library import Library
from builder.model.pages import Item, ItemKind, Procedure, Structure
from builder.model.sequence import LEFT_OUT, TAKEN

Condition = tuple[tuple[str, str], ...]
"""Branches that must have been taken: ``(choice, branch)`` pairs from the outside in; () is every path."""
_LEFT_BY = CONTROLS | {Verb.CLOSE, Verb.CLAMP}
_LEFT_KINDS = frozenset({ItemKind.SUTURE, ItemKind.CLIP})
_MOST_WAYS = 4096


class AmountIn(NamedTuple):
    """So many are in, if ``when`` was done; ``at_most`` where there are too many ways to tell them apart."""

    number: int
    when: Condition
    at_most: bool = False


class Thing(NamedTuple):
    """An item at a place (ids of what it lies ``inside`` and ``on``, or ""), and whether it is meant to stay."""

    item: str
    inside: str
    on: str
    stays: bool


Things = tuple[tuple[Thing, tuple[AmountIn, ...]], ...]
"""Things with their numbers; each thing stands once."""


@dataclass(frozen=True, slots=True)
class After:
    """What is in or on the patient after the step of ``block``; ``fresh`` is what this step left there to stay."""

    block: StepBlock
    within: Condition
    things: Things
    fresh: tuple[Thing, ...]


@dataclass(frozen=True, slots=True)
class Contents:
    """What is in or on the patient ``after`` each step in reading order, and at the ``end`` of every path."""

    after: tuple[After, ...]
    end: Things


class _Move(NamedTuple):
    """What an action does to one item: ``number`` more at ``spots`` (``add``), or as many fewer; ``all_on`` empties."""

    spots: tuple[tuple[ItemSpot, bool], ...]
    number: int


@dataclass(slots=True)
class _Visit:
    block: StepBlock
    within: Condition
    moves: dict[str, list[_Move]] = field(default_factory=dict)
    fresh: list[Thing] = field(default_factory=list)


def contents(library: Library, procedure: Procedure, blocks: Iterable[Block]) -> Contents:
    """Return what is in the patient after each step of ``blocks``, in reading order, and at the end."""
    return _Walker(library, procedure, tuple(blocks)).contents()


class _Walker:
    def __init__(self, library: Library, procedure: Procedure, blocks: tuple[Block, ...]) -> None:
        self.choices: dict[str, tuple[str, ...]] = {}
        self.made_in: dict[str, Condition] = {}
        self.visits = [_Visit(block, within) for block, within in self._walked(blocks, ())]
        steps = {visit.block.step.id: visit.block.step for visit in self.visits}
        self.layout = ItemLayout(Anatomy(library), procedure.side, steps.values())
        self.side = procedure.side
        for visit in self.visits:
            for action in visit.block.step.actions:
                self._read(visit, action)

    def _walked(self, blocks: Iterable[Block], within: Condition) -> Iterator[tuple[StepBlock, Condition]]:
        for block in blocks:
            if isinstance(block, StepBlock):
                yield block, within
                continue
            if block.kind != "follow":
                names = (TAKEN, LEFT_OUT) if block.kind == "option" else tuple(branch.name for branch in block.branches)
                self.choices[block.id] = names
                self.made_in[block.id] = within
            for branch in block.branches:
                taken = (block.id, branch.name)
                yield from self._walked(branch.blocks, within if taken in within else (*within, taken))

    def _read(self, visit: _Visit, action: Action) -> None:
        if action.verb is Verb.PLACE:
            inside, on, on_sides = self.layout.where(action)
            spots = [ItemSpot(inside, on, side) for side in on_sides]
            for item in self.layout.items(action.objects):
                self._put(visit, item, spots, action.number, action.stays)
        elif action.verb is Verb.REMOVE:
            for item in self.layout.items(action.objects):
                for group in self.layout.groups(action, item):
                    ordered = tuple((spot, stays) for stays in (False, True) for spot in sorted(group))
                    visit.moves.setdefault(item.id, []).append(_Move(ordered, -action.number))
        elif action.verb is Verb.RELEASE:
            self._released(visit, action)
        elif action.verb is Verb.EXCISE:
            self._excised(visit, action)
        if action.verb in _LEFT_BY:
            self._held(visit, action)

    def _put(self, visit: _Visit, item: Item, spots: list[ItemSpot], number: int, stays: bool) -> None:
        if item.kind in USED_UP_KINDS:
            return
        for spot in spots:
            visit.moves.setdefault(item.id, []).append(_Move(((spot, stays),), number))
            if stays:
                visit.fresh.append(Thing(item.id, spot.inside, spot.on, True))

    def _held(self, visit: _Visit, action: Action) -> None:
        """Read what closes, ties or clamps: a suture or a clip stays, a clamp is on until it is released."""
        for structure in self.layout.structures(action.objects):
            spots = self._spots(structure, action)
            for item in self.layout.items(action.using):
                if action.verb is Verb.CLAMP:
                    self._put(visit, item, spots, action.number, action.stays)
                elif item.kind in _LEFT_KINDS:
                    self._put(visit, item, spots[:1], action.number, True)

    def _released(self, visit: _Visit, action: Action) -> None:
        for structure in self.layout.structures(action.objects):
            for id, number in self.layout.held.get(structure.id, {}).items():
                moves = (_Move(((spot, False),), -number) for spot in self._spots(structure, action))
                visit.moves.setdefault(id, []).extend(moves)

    def _spots(self, structure: Structure, action: Action) -> list[ItemSpot]:
        """Return where on ``structure`` the objects of ``action`` are."""
        on_sides = sides.of_structure(structure.paired, action.side, self.side)
        return [ItemSpot("", str(structure.id), side) for side in on_sides]

    def _excised(self, visit: _Visit, action: Action) -> None:
        """What lies on a structure that is excised leaves with it."""
        for structure in self.layout.structures(action.objects):
            for item in self.layout.lying:
                for stays in (False, True):
                    spots = tuple((ItemSpot("", str(structure.id), side), stays) for side in "LROXM")
                    visit.moves.setdefault(item, []).append(_Move(spots, -(10**6)))

    def contents(self) -> Contents:
        """Follow every item and put together what is in after each step."""
        held: list[dict[Thing, tuple[AmountIn, ...]]] = [{} for _ in range(len(self.visits) + 1)]
        for item in dict.fromkeys(id for visit in self.visits for id in visit.moves):
            for place, amounts in enumerate(self._followed(item)):
                held[place].update(amounts)
        after = tuple(
            After(visit.block, visit.within, tuple(things.items()), tuple(dict.fromkeys(visit.fresh)))
            for visit, things in zip(self.visits, held[:-1], strict=True)
        )
        return Contents(after, tuple(held[-1].items()))

    def _followed(self, item: str) -> list[dict[Thing, tuple[AmountIn, ...]]]:
        """Return after each visit, and at the end, where ``item`` lies and how many, by path."""
        moving = [choice for visit in self.visits if item in visit.moves for choice, _ in visit.within]
        choices = list(dict.fromkeys(moving))
        ways = [self.choices.get(choice, ()) for choice in choices]
        kind = next(self.layout.items((item,))).kind
        at_most = prod(len(names) for names in ways) > _MOST_WAYS
        places = range(len(self.visits) + 1)
        seen: list[dict[Thing, dict[Condition, int]]] = [{} for _ in places]
        ways_to: list[list[Condition]] = [[] for _ in places]
        for branches in [()] if at_most else product(*ways):
            way = dict(zip(choices, branches, strict=False))
            for place, numbers in self._walk(item, way, only_add=at_most):
                ways_to[place].append(tuple(way.items()))
                for thing, number in numbers.items():
                    # A thread is there or not: how many pieces of it nobody can say, its needle is what is counted.
                    told = min(number, 1) if kind is ItemKind.SUTURE else number
                    seen[place].setdefault(thing, {})[tuple(way.items())] = told
        if at_most:
            return [
                {thing: (AmountIn(max(numbers.values()), (), True),) for thing, numbers in things.items()}
                for things in seen
            ]
        return [self._said(things, place, ways_to[place]) for place, things in enumerate(seen)]

    def _walk(self, item: str, way: Mapping[str, str], only_add: bool) -> Iterator[tuple[int, dict[Thing, int]]]:
        """Yield place and numbers after each visit that lies on ``way``, and at its end."""
        lying: dict[tuple[ItemSpot, bool], int] = {}
        for place, visit in enumerate(self.visits):
            if any(way.get(choice, branch) != branch for choice, branch in visit.within):
                continue
            for move in visit.moves.get(item, ()):
                if move.number > 0 or not only_add:
                    _moved(lying, move)
            yield place, _numbers(item, lying)
        yield len(self.visits), _numbers(item, lying)

    def _said(
        self, things: Mapping[Thing, Mapping[Condition, int]], place: int, ways: list[Condition]
    ) -> dict[Thing, tuple[AmountIn, ...]]:
        """Say the number of each thing with no more choices than it depends on."""
        fixed = dict(self.visits[place].within) if place < len(self.visits) else {}
        said: dict[Thing, tuple[AmountIn, ...]] = {}
        for thing, by_way in things.items():
            numbers = {way: by_way.get(way, 0) for way in ways}
            needed = _needed(numbers, [choice for choice, _ in ways[0] if choice not in fixed])
            amounts = {self._condition(way, needed): number for way, number in numbers.items() if number}
            if amounts:
                said[thing] = tuple(AmountIn(number, when) for when, number in amounts.items())
        return said

    def _condition(self, way: Condition, needed: list[str]) -> Condition:
        """Return the branches of ``way`` that must be named, without choices that are not made on it."""
        taken = dict(way)
        return tuple(
            (choice, branch)
            for choice, branch in way
            if choice in needed and all(taken.get(outer, name) == name for outer, name in self.made_in[choice])
        )


def _numbers(item: str, lying: Mapping[tuple[ItemSpot, bool], int]) -> dict[Thing, int]:
    numbers: dict[Thing, int] = {}
    for (spot, stays), number in lying.items():
        thing = Thing(item, spot.inside, spot.on, stays)
        numbers[thing] = numbers.get(thing, 0) + number
    return numbers


def _moved(lying: dict[tuple[ItemSpot, bool], int], move: _Move) -> None:
    if move.number > 0:
        lying[move.spots[0]] = lying.get(move.spots[0], 0) + move.number
        return
    left = -move.number
    for spot in move.spots:
        taken = min(left, lying.get(spot, 0))
        if taken:
            lying[spot] -= taken
            left -= taken


def _needed(numbers: Mapping[Condition, int], choices: list[str]) -> list[str]:
    """Return the choices that ``numbers`` depend on: each other is dropped while that makes no difference."""
    needed = list(choices)
    for choice in choices:
        fewer = [other for other in needed if other != choice]
        told: dict[Condition, int] = {}
        if all(
            told.setdefault(tuple(taken for taken in way if taken[0] in fewer), number) == number
            for way, number in numbers.items()
        ):
            needed = fewer
    return needed

"""What is followed through an operation: each thing that goes in, each clamp and stitch, each structure to be seen.

A *tracked* thing has a number at every moment, and each action moves it. What is laid on a structure that is taken out
leaves with it and is followed by itself, as in the ledgers of ``item_layout``; all other places of an item count
together. A clamp is on until it is released or leaves with what it is on. What ties, sutures, seals or closes, and may
stay, is in from the step that puts it in; nothing takes it out in theatre.
"""

from collections import defaultdict
from collections.abc import Iterator
from dataclasses import dataclass

from builder.facts import sides
from builder.facts.automata import Keys
from builder.facts.item_layout import HOLDING, ItemLayout, ItemSpot
from builder.findings.message_words import listed
from builder.model.action import Action, Verb
from builder.model.pages import Item, ItemKind, Step, Structure

LEFT_BY_HOLDING = frozenset({ItemKind.SUTURE, ItemKind.CLIP, ItemKind.IMPLANT, ItemKind.DRESSING})
"""Kinds that stay where they tie, suture or close; of any other kind (a stapler, a needle holder) nothing is left."""
ALL_OUT = -1_000_000


@dataclass(slots=True)
class Tracked:
    """One thing that is followed: its ``key`` (the first word is its kind), its ``name``, ``side`` and ``item``.

    Kinds: ``lying`` an item, ``leaving`` one that leaves with what it lies on, ``clamp``, ``held`` what ties or sutures
    and stays, ``seen`` a structure that was identified. ``lasting``: some action leaves it in; ``comes_out``: then
    somebody has to take it out one day. ``most`` is the highest number that is told apart.
    """

    key: tuple[str, ...]
    name: str
    side: str = "M"
    item: Item | None = None
    lasting: bool = False
    comes_out: bool = False
    most: int = 99

    @property
    def is_sight(self) -> bool:
        """Tell whether it is a structure that was seen."""
        return self.key[0] == "seen"


Move = tuple[int, int]
"""The number of a tracked thing, and how many more (or fewer) of it there are from here on, never below 0."""


class Tracking:
    """The tracked ``things`` of a procedure, and by id of a step what it does to them (``moves``), in order."""

    def __init__(self, layout: ItemLayout, steps: list[Step]) -> None:
        self.things: list[Tracked] = []
        self._layout = layout
        self._keys = Keys()
        self._spots: dict[str, dict[int, frozenset[ItemSpot]]] = defaultdict(dict)
        for lying in layout.lying.values():
            self._lay_out(lying.item, list(lying.spots))
        for action in layout.actions:
            if action.verb is Verb.CLAMP and not action.stays:
                self._put_on(action)
        self.moves = {str(step.id): [move for action in step.actions for move in self._of(action)] for step in steps}

    def _lay_out(self, item: Item, spots: list[ItemSpot]) -> None:
        kept = frozenset(spot for spot in spots if not self._layout.leaves(spot))
        if kept:
            self._spots[item.id][self._thing(Tracked(("lying", item.id), item.name, item=item))] = kept
        for spot in spots:
            if spot not in kept:
                structure = self._layout.anatomy.structure(spot.on)
                name = f"{item.name} on the {structure.name if structure else spot.on}"
                thing = self._thing(Tracked(("leaving", item.id, *spot), name, spot.side, item))
                self._spots[item.id][thing] = frozenset({spot})

    def _put_on(self, action: Action) -> None:
        items = list(self._layout.items(action.using))
        for structure in self._layout.structures(action.objects):
            name = f"{listed(item.name for item in items) or 'clamp'} on the {structure.name}"
            for side in sides.of_structure(structure.paired, action.side, self._layout.side):
                key = ("clamp", structure.id, side)
                self._thing(Tracked(key, name, side, items[0] if items else None, most=1))

    def _thing(self, thing: Tracked) -> int:
        number = self._keys(*thing.key)
        if number == len(self.things):
            self.things.append(thing)
        return number

    def _of(self, action: Action) -> Iterator[Move]:
        for words in action.objects:
            structure, item = self._layout.anatomy.structure(words), self._layout.anatomy.item(words)
            if action.verb is Verb.PLACE and item is not None:
                yield from self._placed(action, item)
            elif action.verb is Verb.REMOVE and item is not None:
                yield from self._removed(action, item)
            elif structure is not None and action.verb not in (Verb.PLACE, Verb.REMOVE):
                yield from self._on_structure(action, structure)
        if action.verb in HOLDING and (action.verb is not Verb.CLAMP or action.stays):
            for item in self._layout.items(action.using):
                if action.stays or item.kind in LEFT_BY_HOLDING:
                    thing = self._thing(Tracked(("held", item.id), item.name, item=item))
                    self._leave(self.things[thing], action, item)
                    yield thing, action.number

    def _placed(self, action: Action, item: Item) -> Iterator[Move]:
        inside, on, found = self._layout.where(action)
        for thing, spots in self._spots[item.id].items():
            here = sum(ItemSpot(inside, on, side) in spots for side in found)
            if here:
                if action.stays:
                    self._leave(self.things[thing], action, item)
                yield thing, action.number * here

    def _removed(self, action: Action, item: Item) -> Iterator[Move]:
        for group in self._layout.groups(action, item):
            for thing, spots in self._spots[item.id].items():
                if spots & group:
                    yield thing, -action.number

    def _on_structure(self, action: Action, structure: Structure) -> Iterator[Move]:
        verb = action.verb
        for side in sides.of_structure(structure.paired, action.side, self._layout.side):
            clamp = ("clamp", structure.id, side)
            if verb is Verb.IDENTIFY:
                yield self._thing(Tracked(("seen", structure.id, side), structure.name, side, most=1)), 1
            elif verb is Verb.CLAMP and not action.stays:
                yield self._keys(*clamp), 1
            elif verb in (Verb.RELEASE, Verb.EXCISE) and clamp in self._keys.numbers:
                yield self._keys(*clamp), ALL_OUT
            if verb is Verb.EXCISE:
                yield from self._gone(structure, side)

    def _gone(self, structure: Structure, side: str) -> Iterator[Move]:
        """Yield what leaves with ``structure``: on it lies nothing any more, on this side."""
        for things in self._spots.values():
            for thing, spots in things.items():
                (spot, *others) = spots
                here = not structure.paired or spot.side in (side, "M")
                if not others and spot.on == structure.id and here:
                    yield thing, ALL_OUT

    def _leave(self, thing: Tracked, action: Action, item: Item) -> None:
        thing.lasting = True
        thing.comes_out |= self._layout.comes_out(action, item)

"""Where items lie: the places an item is laid down at anywhere in a procedure, and the ledgers kept for it.

A *spot* is what an item lies in, what it lies on, and on which side. A removal that says where it takes from names one
spot. A removal that says nothing takes from wherever the item lies: where the procedure lays it down in one way only,
from there; else from any of its spots, and each ledger is given the benefit of the doubt. The ledger of all spots
together tells in the end whether everything came out.

What lies on a structure that is excised leaves with it, so such a spot has a ledger of its own that no general removal
touches: whoever takes the item off says ``on:``.
"""

from collections import defaultdict
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from typing import NamedTuple

from builder.facts import sides
from builder.facts.anatomy import OUTSIDE_KINDS, STAYING_KINDS, USED_UP_KINDS, Anatomy
from builder.facts.automata import Keys
from builder.model.action import CONTROLS, Action, Side, Verb
from builder.model.catalogue import plain_name
from builder.model.pages import Item, ItemKind, Step, Structure, StructureKind

HOLDING = CONTROLS | {Verb.CLOSE, Verb.CLAMP}
"""Verbs whose ``with`` may stay in the patient: a suture, a clip, a dressing that closes."""


class ItemSpot(NamedTuple):
    """What an item lies ``inside`` and ``on`` (ids, or "") and the ``side``."""

    inside: str
    on: str
    side: str


class ItemTally(NamedTuple):
    """A count of one item: what was laid down at ``spots`` less what was taken out, and when it must be nought.

    ``kind``: ``lying`` all that lies there, staying or not; ``in`` the same anywhere; ``closing`` what must be out when
    the place is closed; ``leaving`` what leaves with an excised structure; ``wound`` what must be out when the skin is
    closed; ``end`` what must be out at the end.
    """

    kind: str
    key: int
    spots: frozenset[ItemSpot]


@dataclass(slots=True)
class Lying:
    """One item's spots, in the order they are first used, the ways it is laid down, and its ledgers."""

    item: Item
    spots: dict[ItemSpot, None] = field(default_factory=dict)
    homes: dict[tuple[str, str, sides.Sides], None] = field(default_factory=dict)
    ledgers: list[ItemTally] = field(default_factory=list)


class ItemLayout:
    """What the whole procedure does with items and layers, whatever the path; made before its actions are read."""

    def __init__(self, anatomy: Anatomy, side: Side, steps: Iterable[Step]) -> None:
        self.anatomy = anatomy
        self.side = side
        self.lying: dict[str, Lying] = {}
        self.excised: dict[str, set[str]] = defaultdict(set)
        self.closed: set[str] = set()
        self.divided: dict[tuple[str, str], Structure] = {}
        self.skin_is_closed = False
        self.counted_in: set[str] = set()
        self.clamped: dict[tuple[str, str], Structure] = {}
        self.opened: dict[tuple[str, str], Structure] = {}
        self.nicked: dict[tuple[str, str], dict[tuple[str, str], Structure]] = defaultdict(dict)
        self.held: dict[str, dict[str, int]] = defaultdict(dict)
        self.actions = [action for step in steps for action in step.actions]
        lines = self.items(action.through for action in self.actions if action.through is not None)
        self.given_through = {line.id for line in lines}
        for action in self.actions:
            self._read(action)

    def _read(self, action: Action) -> None:
        if action.verb is Verb.PLACE:
            for item in self.items(action.objects):
                self._read_placing(action, item)
        elif action.verb is Verb.OPEN:
            for structure in self.structures(action.objects):
                self._read_opening(action, structure)
        elif action.verb in (Verb.EXCISE, Verb.CLOSE, Verb.CLAMP, Verb.DIVIDE):
            for structure in self.structures(action.objects):
                self._read_structure(action, structure)

    def _read_structure(self, action: Action, structure: Structure) -> None:
        found = sides.of_structure(structure.paired, action.side, self.side)
        if action.verb is Verb.DIVIDE:
            self.divided.update(dict.fromkeys(((structure.id, side) for side in found), structure))
        elif action.verb is Verb.EXCISE:
            self.excised[structure.id].update(found)
        elif action.verb is Verb.CLOSE:
            self.closed.add(structure.id)
            self.skin_is_closed |= structure.kind is StructureKind.SKIN
        else:
            self._read_clamp(action, structure)

    def _read_placing(self, action: Action, item: Item) -> None:
        if item.kind in USED_UP_KINDS:
            return
        lying = self.lying.setdefault(item.id, Lying(item))
        inside, on, found = self.where(action)
        lying.homes[inside, on, found] = None
        for side in found:
            lying.spots[ItemSpot(inside, on, side)] = None
        if item.counted and inside:
            self.counted_in.add(inside)

    def _read_opening(self, action: Action, structure: Structure) -> None:
        """Note what is opened, and for each neighbour which nicks are made before it is seen."""
        for side in sides.of_structure(structure.paired, action.side, self.side):
            self.opened[structure.id, side] = structure
            for near, near_side in self.neighbours(action, structure, side) if action.nick else ():
                self.nicked[near.id, near_side][structure.id, side] = near

    def neighbours(self, action: Action, structure: Structure, side: str) -> Iterator[tuple[Structure, str]]:
        """Yield what must be seen before ``structure`` is cut on ``side``, each with the side on which it is met."""
        for near in self.anatomy.see_first(structure):
            found = sides.of_neighbour(structure.paired, near.paired, side, action.side, self.side)
            yield from ((near, near_side) for near_side in found)

    def to_confirm(self, action: Action, structure: Structure, side: str) -> Iterator[tuple[Structure, str]]:
        """Yield the same for what only the common catalogue says is to be seen before ``structure`` is cut."""
        for near, _ in self.anatomy.to_confirm(structure):
            found = sides.of_neighbour(structure.paired, near.paired, side, action.side, self.side)
            yield from ((near, near_side) for near_side in found)

    def is_last_wound(self, structure: Structure, found: sides.Sides) -> bool:
        """Tell whether closing this skin on these sides closes every skin that the procedure opens anywhere."""
        skins = (key for key, opened in self.opened.items() if opened.kind is StructureKind.SKIN)
        return all(id == structure.id and (not structure.paired or side in found) for id, side in skins)

    def _read_clamp(self, action: Action, structure: Structure) -> None:
        if not action.stays:
            for side in sides.of_structure(structure.paired, action.side, self.side):
                self.clamped[structure.id, side] = structure
        for item in self.items(action.using):
            held = self.held[structure.id]
            held[item.id] = max(held.get(item.id, 0), action.number)

    def items(self, words: Iterable[str]) -> Iterator[Item]:
        """Return the items that ``words`` mean."""
        return filter(None, map(self.anatomy.item, words))

    def structures(self, words: Iterable[str]) -> Iterator[Structure]:
        """Return the structures that ``words`` mean."""
        return filter(None, map(self.anatomy.structure, words))

    def where(self, action: Action) -> tuple[str, str, sides.Sides]:
        """Return what an item is laid down in and on, and the sides."""
        return self._target(action.inside), self._target(action.on), self.item_sides(action)

    def item_sides(self, action: Action) -> sides.Sides:
        """Return the sides of an action on an item."""
        paired = any(target.paired for target in self.structures(filter(None, (action.inside, action.on))))
        return sides.of_item(paired, action.side, self.side)

    def _target(self, words: str | None) -> str:
        if words is None:
            return ""
        found = self.anatomy.structure(words) or self.anatomy.item(words)
        return str(found.id) if found else plain_name(words)

    def leaves(self, spot: ItemSpot) -> bool:
        """Tell whether what lies at ``spot`` leaves with a structure that the procedure excises."""
        gone = self.excised.get(spot.on)
        return gone is not None and (spot.side in gone or "M" in gone or spot.side == "M")

    def in_wound(self, item: Item, spot: ItemSpot) -> bool:
        """Tell whether what lies at ``spot`` is shut in when the skin is closed.

        Not what lies in or on the skin, nor lines, catheters, dressings and garments; a device only where it is said to
        lie in or on something other than the skin.
        """
        target = self.anatomy.structure(spot.inside or spot.on)
        if item.kind in OUTSIDE_KINDS or (target is not None and target.kind is StructureKind.SKIN):
            return False
        return item.kind is not ItemKind.DEVICE or target is not None

    def comes_out(self, action: Action, item: Item) -> bool:
        """Tell whether ``item``, which ``action`` leaves in the patient, has to be taken out one day.

        An implant stays for good, and so does a suture that is not laid in the skin. A clip that closes the skin has to
        come out; one that ties or seals a vessel stays.
        """
        if action.verb is not Verb.PLACE:
            on_skin = any(target.kind is StructureKind.SKIN for target in self.structures(action.objects))
            return item.kind is ItemKind.CLIP and on_skin and action.verb is not Verb.CLAMP
        if item.kind is ItemKind.SUTURE:
            targets = self.structures(filter(None, (action.inside, action.on)))
            return any(target.kind is StructureKind.SKIN for target in targets)
        return item.kind not in STAYING_KINDS

    def groups(self, action: Action, item: Item) -> list[frozenset[ItemSpot]]:
        """Return the sets of spots from each of which a removal takes its number."""
        lying = self.lying.get(item.id)
        inside, on, found = self.where(action)
        homes = [] if lying is None else [home for home in lying.homes if _fits(home, inside, on, action)]
        if action.side is not None or found != sides.NO_SIDE:
            return [
                self._named({ItemSpot(home[0], home[1], side) for home in homes if side in home[2]}) for side in found
            ]
        if len(homes) == 1:
            return [frozenset({ItemSpot(homes[0][0], homes[0][1], side)}) for side in homes[0][2]]
        return [self._named({ItemSpot(home[0], home[1], side) for home in homes for side in home[2]})]

    def _named(self, spots: set[ItemSpot]) -> frozenset[ItemSpot]:
        """Leave out what leaves with an excised structure, unless it is the one spot that can be meant."""
        return frozenset(spots if len(spots) == 1 else {spot for spot in spots if not self.leaves(spot)})

    def open_ledgers(self, keys: Keys) -> None:
        """Make the ledgers of every item."""
        groups: dict[str, dict[frozenset[ItemSpot], None]] = defaultdict(dict)
        for action in self.actions:
            if action.verb is Verb.REMOVE:
                for item in self.items(action.objects):
                    groups[item.id].update(dict.fromkeys(self.groups(action, item)))
        for lying in self.lying.values():
            lying.ledgers = list(self._ledgers(lying, groups[lying.item.id], keys))

    def _ledgers(self, lying: Lying, groups: Iterable[frozenset[ItemSpot]], keys: Keys) -> Iterator[ItemTally]:
        id = str(lying.item.id)
        for number, group in enumerate(groups):
            if group:
                yield ItemTally("lying", keys("lying", id, str(number)), group)
        for number, spot in enumerate(lying.spots):
            leaves = self.leaves(spot)
            if leaves or spot.inside in self.closed:
                kind = "leaving" if leaves else "closing"
                yield ItemTally(kind, keys(kind, id, str(number)), frozenset({spot}))
        if lying.item.id in self.given_through:
            yield ItemTally("in", keys("in", id), frozenset(lying.spots))
        kept = [spot for spot in lying.spots if not self.leaves(spot)]
        wound = [spot for spot in kept if self.skin_is_closed and self.in_wound(lying.item, spot)]
        for side in dict.fromkeys(spot.side for spot in wound):
            yield ItemTally("wound", keys("wound", id, side), frozenset(spot for spot in wound if spot.side == side))
        if kept:
            yield ItemTally("end", keys("end", id), frozenset(kept))


def _fits(home: tuple[str, str, sides.Sides], inside: str, on: str, action: Action) -> bool:
    return (action.inside is None or home[0] == inside) and (action.on is None or home[1] == on)

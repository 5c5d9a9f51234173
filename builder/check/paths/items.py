"""What actions on items do: in and out, what lies where, and how many are in use at once.

The number in use at once is kept for each item (``use``): placing and clamping add to it, taking out and releasing give
back; what stays or leaves with an excised structure is not given back. An item that is only held (``with``), injected
or run in is in use for the length of that action.
"""

from collections.abc import Iterator, Mapping

from builder.facts import counts
from builder.facts.automata import Code, Condition, Deed, Keys, Op, less_than, more_than
from builder.facts.item_layout import ItemLayout, ItemSpot, ItemTally
from builder.model.action import Verb
from builder.model.pages import Item, Structure


class ItemOps:
    """Turns actions on items into operations; one instance a procedure. ``kit`` holds the numbers by item id."""

    def __init__(self, layout: ItemLayout, kit: Mapping[str, int], keys: Keys) -> None:
        self.layout = layout
        self.kit = kit
        self.keys = keys
        self.shut_in: dict[int, tuple[ItemTally, Item]] = {}
        layout.open_ledgers(keys)

    def placed(self, deed: Deed, item: Item) -> Iterator[Op]:
        """Yield what placing ``item`` does."""
        inside, on, found = self.layout.where(deed.action)
        number = deed.action.number
        yield from self._taken_into_use(deed, item, number * len(found))
        lying = self.layout.lying.get(item.id)
        for ledger in lying.ledgers if lying else ():
            here = sum(ItemSpot(inside, on, side) in ledger.spots for side in found)
            if here and (ledger.kind in ("lying", "in") or not deed.action.stays):
                yield Op(Code.ADD, ledger.key, number * here, deed)
        yield from self.counted(deed, item, counts.PLACED)

    def removed(self, deed: Deed, item: Item) -> Iterator[Op]:
        """Yield what taking ``item`` out does."""
        number = deed.action.number
        groups = self.layout.groups(deed.action, item)
        lying = self.layout.lying.get(item.id)
        for group in groups:
            check = Condition("removed-but-not-in", deed, item=item, number=number, side=_one_side(group))
            if lying is None or not group:
                yield Op(Code.CHECK, self.keys("nothing"), -1, deed, check)
                continue
            for ledger in lying.ledgers:
                if ledger.kind == "lying" and ledger.spots == group:
                    yield Op(Code.CHECK, ledger.key, less_than(number), deed, check)
                if ledger.spots & group and (ledger.kind != "leaving" or ledger.spots == group):
                    yield Op(Code.TAKE, ledger.key, number, deed)
        yield Op(Code.TAKE, self._use(item), number * len(groups), deed)

    def used(self, deed: Deed, item: Item) -> Iterator[Op]:
        """Yield what holding, injecting or running in ``item`` does: it is in use while that lasts."""
        yield self._enough(deed, item, deed.action.number)
        yield from self.counted(deed, item, counts.HELD)

    def given_through(self, deed: Deed, line: Item) -> Iterator[Op]:
        """Yield what giving something through ``line`` asks: that it is in, on every path."""
        lying = self.layout.lying.get(line.id)
        check = Condition("line-not-in", deed, item=line)
        every = next((ledger for ledger in lying.ledgers if ledger.kind == "in"), None) if lying is not None else None
        yield Op(Code.CHECK, every.key if every is not None else self.keys("nothing"), 1 if every else -1, deed, check)

    def clamped(self, deed: Deed, item: Item, clamps: int) -> Iterator[Op]:
        """Yield what putting ``item`` on as a clamp does; it stays in use until the clamp is released."""
        yield from self._taken_into_use(deed, item, deed.action.number * clamps)
        yield from self.counted(deed, item, counts.HELD)

    def released(self, deed: Deed, structure: Structure, clamps: int) -> Iterator[Op]:
        """Yield what taking the clamps off ``structure`` does: as many come back as any action puts on."""
        for id, number in self.layout.held.get(structure.id, {}).items():
            yield Op(Code.TAKE, self.keys("use", id), number * clamps, deed)

    def closed(self, deed: Deed, structure: Structure, found: tuple[str, ...]) -> Iterator[Op]:
        """Yield what closing ``structure`` does: what still lies in it is shut in. It is reported once."""
        for lying in self.layout.lying.values():
            for ledger in lying.ledgers:
                (spot,) = ledger.spots if len(ledger.spots) == 1 else (None,)
                if spot is None or ledger.kind not in ("closing", "leaving") or spot.inside != structure.id:
                    continue
                if not structure.paired or spot.side in found or spot.side == "M":
                    check = Condition("item-left-in", deed, structure, lying.item, spot.side, "closed")
                    yield Op(Code.CHECK, ledger.key, more_than(0), deed, check)
                    yield Op(Code.PUT, ledger.key, 0, deed)

    def excised(self, deed: Deed, structure: Structure, found: tuple[str, ...]) -> Iterator[Op]:
        """Yield what excising ``structure`` does: what lies on it leaves with it."""
        for lying in self.layout.lying.values():
            for ledger in lying.ledgers:
                (spot,) = ledger.spots if len(ledger.spots) == 1 else (None,)
                if spot is None or spot.on != structure.id or ledger.kind not in ("leaving", "lying", "in"):
                    continue
                if not structure.paired or spot.side in found or spot.side == "M":
                    yield Op(Code.PUT, ledger.key, 0, deed)

    def skin_closed(self, deed: Deed, structure: Structure, found: tuple[str, ...]) -> Iterator[Op]:
        """Yield what closing the skin does: what lies in the wound now is what is judged at the end of the path."""
        for lying in self.layout.lying.values():
            for ledger in lying.ledgers:
                if ledger.kind != "wound":
                    continue
                side = next(iter(ledger.spots)).side
                if not structure.paired or side in found or side == "M":
                    key = self.keys("shut in", lying.item.id, side)
                    self.shut_in[key] = (ledger, lying.item)
                    yield Op(Code.COPY, key, ledger.key, deed)

    def counted(self, deed: Deed, item: Item, table: object) -> Iterator[Op]:
        """Yield what using ``item`` does to the count of its category."""
        category = counts.category(item)
        if category:
            yield Op(Code.MOVE, self.keys("count", category), table, deed)

    def _use(self, item: Item) -> int:
        return self.keys("use", item.id)

    def _taken_into_use(self, deed: Deed, item: Item, number: int) -> Iterator[Op]:
        yield Op(Code.ADD, self._use(item), number, deed)
        yield self._enough(deed, item, 0)

    def _enough(self, deed: Deed, item: Item, more: int) -> Op:
        """Check that the kit has enough, with ``more`` in use beside what is."""
        limit = self.kit.get(item.id, 0)
        wrong = more_than(limit - more) if more <= limit else -1
        check = Condition("not-enough-kit", deed, item=item, number=more, limit=limit)
        return Op(Code.CHECK, self._use(item), wrong, deed, check)


def _one_side(group: frozenset[ItemSpot]) -> str:
    found = {spot.side for spot in group}
    return found.pop() if len(found) == 1 else "M"


ITEM_VERBS = frozenset({Verb.PLACE, Verb.REMOVE, Verb.INJECT, Verb.IRRIGATE})

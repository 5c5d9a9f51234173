"""What actions on structures do: seen, controlled, cut, clamped, open or shut, and done on which side.

Seen (``seen``): 0 not yet, 1 seen. Nicked (``nick``, for each structure and each neighbour that must be seen before it
is cut): 0 neither, 1 the neighbour is seen, 2 a nick was made and the neighbour is not seen yet. Open (``open``):
``SHUT``, ``OPENED``, ``STAYS`` open and said to stay so; with ``OVER`` added where the skin was last closed over it.
Control (``control``) is a set of marks: ``CLAMP`` a clamp is on, ``TIED`` it is tied, sealed, stapled or sutured,
``CUT``, ``LEFT`` the clamp was on when the skin was last closed, ``OFF`` it was taken out, clamp and all.

A vessel is controlled before it is cut, because it bleeds at once. The cut ends of a duct or a viscus may be closed
before or after, but on every path. What is taken out whole (``raw``: 0 nothing, 1 taken out and nothing tied, 2 a
vessel, duct or viscus was controlled) leaves something behind that has to be tied, sealed, stapled or sutured too.

A layer (skin, fascia, muscle, ligament, bone, cavity) is known by where it lies: whoever exposes, opens or protects it
has it in view. A vessel, nerve, duct or viscus is not known by being exposed or protected; it has to be identified.

An opening is a cut when its tool cuts: a ``blade`` always does, any other item when the catalogue says ``cuts:
true``; nothing is guessed from names. Without ``with`` and ``what`` it is asked about (``instrument-not-said``),
because the rule would otherwise be silent just where the writer was brief. A layer is often nicked before what lies
beneath can be seen: ``nick: true`` lets the first cut come before the sight, demands the sight on every path, and
excuses neither a second nick nor any cutting on.
"""

from collections.abc import Iterator

from builder.facts import sides
from builder.facts.automata import Code, Condition, Deed, Keys, Op, Table
from builder.facts.item_layout import ItemLayout
from builder.model.action import CONTROLS, CUTS, SEES, Side, Verb
from builder.model.pages import Structure, StructureKind

CLAMP, TIED, CUT, LEFT, OFF = 1, 2, 4, 8, 16
_MARKS = range(32)


def _clamped(marks: int) -> bool:
    return marks & (CLAMP | OFF) == CLAMP


_CLAMPED = Table(*(marks & ~OFF | CLAMP for marks in _MARKS))
_CONTROLLED = Table(*(marks | TIED for marks in _MARKS))
_RELEASED = Table(*(marks & ~CLAMP for marks in _MARKS))
_DIVIDED = Table(*(marks | CUT for marks in _MARKS))
_EXCISED = Table(*(marks | OFF for marks in _MARKS))
_MENDED = Table(*(marks if _clamped(marks) or marks & TIED else marks | TIED for marks in _MARKS))
SKIN_CLOSED = Table(*(marks & ~LEFT | (LEFT if _clamped(marks) else 0) for marks in _MARKS))

_LOOSE = sum(1 << marks for marks in _MARKS if not _clamped(marks) and not marks & TIED)
_NO_CLAMP = sum(1 << marks for marks in _MARKS if not marks & CLAMP)
_BLEEDS = sum(1 << marks for marks in _MARKS if _clamped(marks) and marks & CUT and not marks & TIED)
_GONE = sum(1 << marks for marks in _MARKS if marks & OFF and not marks & TIED)
CLAMP_LEFT = sum(1 << marks for marks in _MARKS if _clamped(marks) or marks & LEFT)
END_OPEN = sum(1 << marks for marks in _MARKS if marks & CUT and not marks & (CLAMP | TIED | LEFT | OFF))

_RAW = Table(1, 1, 2)
RAW_SURFACE = 1 << 1
CONTROLLABLE = frozenset({StructureKind.VESSEL, StructureKind.DUCT, StructureKind.VISCUS})
HOLLOW = frozenset({StructureKind.DUCT, StructureKind.VISCUS})
"""What has a lumen: its cut ends are closed."""

LAYERS = frozenset(
    {
        StructureKind.SKIN,
        StructureKind.FASCIA,
        StructureKind.MUSCLE,
        StructureKind.LIGAMENT,
        StructureKind.BONE,
        StructureKind.CAVITY,
        StructureKind.LANDMARK,
    }
)
_IN_VIEW = frozenset({Verb.EXPOSE, Verb.OPEN, Verb.PROTECT})
SHUT, OPENED, STAYS, OVER = 0, 1, 2, 3
_OPENED = Table(OPENED, OPENED, STAYS, OPENED + OVER, OPENED + OVER, STAYS + OVER)
_STAYS = Table(STAYS, STAYS, STAYS, STAYS + OVER, STAYS + OVER, STAYS + OVER)
_SHUT = Table(SHUT, SHUT, SHUT, OVER, OVER, OVER)
SKIN_CLOSED_OVER = Table(SHUT, OPENED + OVER, STAYS, SHUT, OPENED + OVER, STAYS)
LEFT_OPEN = 1 << OPENED | 1 << OVER | 1 << OPENED + OVER | 1 << STAYS + OVER
NICKED_UNSEEN = 2
_NICKED = Table(NICKED_UNSEEN, 1, 1)
STILL_UNSEEN = 1 << NICKED_UNSEEN
_SHUT_BY_CLOSING = frozenset({StructureKind.SKIN, StructureKind.CAVITY})
"""Kinds that only ``close`` shuts: their closing is when a count is due and what lies within must be out."""

_SIDE_MARKS = {"L": 1, "R": 2}
_SIDED = {mark: Table(*(marks | mark for marks in range(4))) for mark in (1, 2)}
ONE_SIDE = 0b0110
SEEN = "identify"
_CUTTING = frozenset({Verb.DIVIDE, Verb.EXCISE})


class StructureOps:
    """Turns actions on structures into operations; one instance a procedure."""

    def __init__(self, layout: ItemLayout, side: Side, keys: Keys) -> None:
        self.layout = layout
        self.anatomy = layout.anatomy
        self.side = side
        self.keys = keys
        self.one_sided: dict[int, tuple[str, str, str]] = {}

    def of(self, deed: Deed, structure: Structure) -> Iterator[Op]:
        """Yield what the action of ``deed`` does to what is known of ``structure``."""
        verb = deed.action.verb
        found = sides.of_structure(structure.paired, deed.action.side, self.side)
        if verb is Verb.IDENTIFY or (verb in _IN_VIEW and structure.kind in LAYERS):
            for side in found:
                yield from self._seen_now(deed, structure, side)
        for side in found:
            yield from self._before_cutting(deed, structure, side)
        for side in found:
            yield from self._control(deed, structure, side)
            yield from self._opened_or_shut(deed, structure, side)
        if structure.paired:
            yield from self.done_on(found, deed, structure.name)

    def done_on(self, found: sides.Sides, deed: Deed, name: str, thing: str = "") -> Iterator[Op]:
        """Yield what tells on which sides an action was done, in a procedure for both sides."""
        if self.side is not Side.BOTH:
            return
        verb = SEEN if deed.action.verb in SEES else deed.action.verb.value
        for side in found:
            if side in _SIDE_MARKS:
                key = self.keys("done", verb, thing, name)
                self.one_sided[key] = (verb, thing, name)
                yield Op(Code.MOVE, key, _SIDED[_SIDE_MARKS[side]], deed)

    def _seen(self, structure: Structure, side: str) -> int:
        return self.keys("seen", structure.id, side)

    def _before_cutting(self, deed: Deed, structure: Structure, side: str) -> Iterator[Op]:
        action = deed.action
        if action.verb in CUTS or self.anatomy.cut_with(action):
            yield from self._seen_before(deed, structure, side)
        elif action.verb is Verb.OPEN and not (action.using or action.what or action.nick):
            yield from self._opened_somehow(deed, structure, side)
        if action.nick:
            yield from self._nicked(deed, structure, side)

    def _seen_before(self, deed: Deed, structure: Structure, side: str) -> Iterator[Op]:
        """A failed check is reported once on each path: from there on the structure counts as seen."""
        yield Op(
            Code.CHECK,
            self._seen(structure, side),
            1,
            deed,
            Condition("not-seen-before-cut", deed, structure, side=side),
        )
        yield from self._seen_now(deed, structure, side)
        for near, near_side in self.layout.neighbours(deed.action, structure, side) if not deed.action.nick else ():
            check = Condition("neighbour-not-seen", deed, near, side=near_side, what=str(structure.id))
            yield Op(Code.CHECK, self._seen(near, near_side), 1, deed, check)
            yield from self._seen_now(deed, near, near_side)
        for near, near_side in self.layout.to_confirm(deed.action, structure, side) if not deed.action.nick else ():
            check = Condition("neighbour-to-confirm", deed, near, side=near_side, what=str(structure.id))
            yield Op(Code.CHECK, self._seen(near, near_side), 1, deed, check)

    def _opened_somehow(self, deed: Deed, structure: Structure, side: str) -> Iterator[Op]:
        """Ask with what something is opened where that matters; it is only asked, so nothing counts as seen by it."""
        for near, near_side in self.layout.neighbours(deed.action, structure, side):
            check = Condition("instrument-not-said", deed, near, side=near_side, what=str(structure.id))
            yield Op(Code.CHECK, self._seen(near, near_side), 1, deed, check)

    def _seen_now(self, deed: Deed, structure: Structure, side: str) -> Iterator[Op]:
        yield Op(Code.PUT, self._seen(structure, side), 1, deed)
        for nicked in self.layout.nicked.get((structure.id, side), ()):
            yield Op(Code.PUT, self.nick(structure.id, side, nicked), 1, deed)

    def _nicked(self, deed: Deed, structure: Structure, side: str) -> Iterator[Op]:
        """A nick may be made before its neighbours are seen; a second one in the same structure is cutting on."""
        for near, near_side in self.layout.neighbours(deed.action, structure, side):
            key = self.nick(near.id, near_side, (structure.id, side))
            check = Condition("neighbour-not-seen", deed, near, side=near_side, what=str(structure.id))
            yield Op(Code.CHECK, key, STILL_UNSEEN, deed, check)
            yield Op(Code.MOVE, key, _NICKED, deed)

    def nick(self, near: str, near_side: str, nicked: tuple[str, str]) -> int:
        """Return the automaton of a nick (structure and side) and a neighbour that is to be seen by it."""
        return self.keys("nick", near, near_side, *nicked)

    def _opened_or_shut(self, deed: Deed, structure: Structure, side: str) -> Iterator[Op]:
        verb, key = deed.action.verb, self.keys("open", structure.id, side)
        if (structure.id, side) not in self.layout.opened:
            return
        stitched = verb in CONTROLS or (verb is Verb.CLAMP and deed.action.stays)
        if verb is Verb.OPEN:
            yield Op(Code.MOVE, key, _STAYS if deed.action.stays else _OPENED, deed)
        elif verb in (Verb.CLOSE, Verb.EXCISE) or (stitched and structure.kind not in _SHUT_BY_CLOSING):
            yield Op(Code.MOVE, key, _SHUT, deed)

    def _control(self, deed: Deed, structure: Structure, side: str) -> Iterator[Op]:
        verb = deed.action.verb
        key = self.keys("control", structure.id, side)
        if verb in _CUTTING:
            yield from self._cut(deed, structure, side)
        elif verb is Verb.RELEASE:
            yield Op(Code.CHECK, key, _NO_CLAMP, deed, Condition("released-without-clamp", deed, structure, side=side))
            if structure.kind is StructureKind.VESSEL:
                check = Condition("clamp-released-too-soon", deed, structure, side=side)
                yield Op(Code.CHECK, key, _BLEEDS, deed, check)
            yield Op(Code.MOVE, key, _RELEASED, deed)
        elif verb is Verb.CLAMP or verb in CONTROLS or (verb is Verb.CLOSE and structure.kind in HOLLOW):
            yield from self._controlled(deed, structure, side)

    def _controlled(self, deed: Deed, structure: Structure, side: str) -> Iterator[Op]:
        verb, key = deed.action.verb, self.keys("control", structure.id, side)
        if structure.kind in CONTROLLABLE:
            yield Op(Code.PUT, self.keys("raw"), 2, deed)
        if verb is Verb.CLAMP and not deed.action.stays:
            yield Op(Code.MOVE, key, _CLAMPED, deed)
            return
        if verb not in (Verb.SUTURE, Verb.CLOSE):
            # What is sutured after a resection is what is left of it.
            yield Op(Code.CHECK, key, _GONE, deed, Condition("tied-after-removal", deed, structure, side=side))
        yield Op(Code.MOVE, key, _CONTROLLED, deed)

    def _cut(self, deed: Deed, structure: Structure, side: str) -> Iterator[Op]:
        key, excised = self.keys("control", structure.id, side), deed.action.verb is Verb.EXCISE
        if self.anatomy.sealed_with(deed.action):
            if structure.kind in CONTROLLABLE:
                yield Op(Code.PUT, self.keys("raw"), 2, deed)
            yield Op(Code.MOVE, key, _CONTROLLED, deed)
        elif excised and structure.kind in HOLLOW:
            yield Op(Code.MOVE, self.keys("raw"), _RAW, deed)
        if structure.kind is StructureKind.VESSEL:
            yield Op(Code.CHECK, key, _LOOSE, deed, Condition("vessel-not-controlled", deed, structure, side=side))
            yield Op(Code.MOVE, key, _MENDED, deed)
        if excised:
            yield Op(Code.MOVE, key, _EXCISED, deed)
        if structure.kind is StructureKind.VESSEL or not excised:
            # Of a duct or viscus that is taken out, no cut end is its own: what it leaves is a raw surface.
            yield Op(Code.MOVE, key, _DIVIDED, deed)

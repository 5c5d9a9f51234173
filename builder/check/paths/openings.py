"""What actions do to openings: in which order layers are closed, and whether a place to lay something in is open.

Order (``within``, for each layer and what is opened beneath it): 0 the outer layer is shut, 1 it is open, 2 it is open
and another skin was opened since, 3 and 4 the same with what lies beneath opened in the wound and still open. Which
is the outer one is known on each path from what was opened first, so closing goes the other way round. A cavity is
shut with its roof and has no order of its own; what is said to stay open has none either. Where skin is opened a second
time, by a port or for a drain, nobody knows which of the wounds is closed: nothing is said of its order from then on.

A place (``entered``, for each cavity or viscus in which something is laid): 0 shut, 1 open or entered, 2 closed
again. A needle, a line, a catheter or a device enters by itself; so does a drain or an instrument unless the place was
closed.
A place that no action opens is taken to be open as soon as anything is (its roof); a cavity with a way to the outside
needs no opening.
"""

from collections import defaultdict
from collections.abc import Iterator

from builder.check.paths.structures import LAYERS
from builder.facts import sides
from builder.facts.automata import Code, Condition, Deed, Keys, Op, Table
from builder.facts.item_layout import ItemLayout
from builder.model.action import CONTROLS, Action, Side, Verb
from builder.model.pages import Item, ItemKind, Structure, StructureKind

_Spot = tuple[str, str]
"""A structure's id and the side."""

_OUTER_OPENED = Table(1, 1, 1, 3, 3)
_INNER_OPENED = Table(0, 3, 2, 3, 4)
_INNER_SHUT = Table(0, 1, 2, 1, 2)
_OTHER_WOUND = Table(0, 2, 2, 4, 4)
_SKIN_AGAIN = Table(1, 2, 2, 2, 2)
_OTHER_SKIN = Table(0, 2, 2, 2, 2)
_STILL_OPEN = 1 << 3 | 1 << 4

_SHUT, _ENTERED, _CLOSED = 0, 1, 2
_ROOF_OPENED = Table(_ENTERED, _ENTERED, _CLOSED)
_HOLLOW = frozenset({StructureKind.CAVITY, StructureKind.VISCUS})
_ENTERS = frozenset({ItemKind.NEEDLE, ItemKind.LINE, ItemKind.CATHETER, ItemKind.DEVICE})
_MAY_ENTER = frozenset({ItemKind.DRAIN, ItemKind.INSTRUMENT})
_LAID_IN = frozenset({ItemKind.SWAB, ItemKind.PACK, ItemKind.RETRACTOR, ItemKind.IMPLANT})
_ONLY_IF_OPENED = frozenset({ItemKind.SUTURE, ItemKind.BLADE, ItemKind.CLIP, ItemKind.FLUID})
_WAYS_OUT_LIST = """
airway anal anus bronchus cervix conjunctiva ear larynx meatus mouth nasal nose oesophagus oral pharynx rectum throat
trachea urethra uterine uterus vagina vaginal
"""
_WAYS_OUT = frozenset(_WAYS_OUT_LIST.split())
"""Words of names of places that open to the outside of the body, wide enough for a swab or an implant."""


class OpeningOps:
    """Turns what opens, shuts and lays something in a place into operations; one instance a procedure."""

    def __init__(self, layout: ItemLayout, side: Side, keys: Keys) -> None:
        self.layout = layout
        self.side = side
        self.keys = keys
        self.places: dict[_Spot, Structure] = {}
        self._opened = {id for id, _ in layout.opened}
        self._skins = {spot for spot, opened in layout.opened.items() if opened.kind is StructureKind.SKIN}
        self._shut = {structure.id for action in layout.actions for structure in self._shut_by(action)}
        for action in layout.actions:
            if action.verb in (Verb.PLACE, Verb.IRRIGATE) and action.inside is not None:
                for place in layout.structures((action.inside,)):
                    if place.kind in _HOLLOW:
                        self.places.update(dict.fromkeys(self._spots(place, action), place))
        self._outer: dict[_Spot, list[tuple[int, Structure, str]]] = defaultdict(list)
        self._inner: dict[_Spot, list[int]] = defaultdict(list)
        self._pair()

    def _pair(self) -> None:
        for (id, side), outer in self.layout.opened.items():
            if outer.kind not in LAYERS or id not in self._shut:
                continue
            for (inner_id, inner_side), inner in self.layout.opened.items():
                beneath = inner.kind not in (StructureKind.SKIN, StructureKind.CAVITY) and inner_id in self._shut
                if beneath and inner_id != id and (side == inner_side or "M" in (side, inner_side)):
                    key = self.keys("within", id, side, inner_id, inner_side)
                    self._outer[id, side].append((key, inner, inner_side))
                    self._inner[inner_id, inner_side].append(key)

    def _spots(self, structure: Structure, action: Action) -> list[_Spot]:
        return [(structure.id, side) for side in sides.of_structure(structure.paired, action.side, self.side)]

    def _shut_by(self, action: Action) -> Iterator[Structure]:
        """Yield what ``action`` shuts. Only ``close`` shuts skin and cavities."""
        stitches = action.verb in CONTROLS or (action.verb is Verb.CLAMP and action.stays)
        for structure in self.layout.structures(action.objects) if stitches or action.verb in _TAKES_AWAY else ():
            if action.verb in _TAKES_AWAY or structure.kind not in (StructureKind.SKIN, StructureKind.CAVITY):
                yield structure

    def shut_together(self, deed: Deed) -> Iterator[Op]:
        """Yield what shutting all objects of one action does to what lies beneath a layer: it is no longer open."""
        for structure in self._shut_by(deed.action):
            for spot in self._spots(structure, deed.action):
                yield from (Op(Code.MOVE, key, _INNER_SHUT, deed) for key in self._inner[spot])

    def of(self, deed: Deed, structure: Structure) -> Iterator[Op]:
        """Yield what the action of ``deed`` does to the order of layers and to places."""
        verb, spots = deed.action.verb, self._spots(structure, deed.action)
        if verb is Verb.OPEN:
            yield from self._opening(deed, structure, spots)
        elif structure in tuple(self._shut_by(deed.action)):
            for spot in spots:
                yield from self._closing(deed, structure, spot)

    def _opening(self, deed: Deed, structure: Structure, spots: list[_Spot]) -> Iterator[Op]:
        for place in self.places:
            if place in spots:
                yield Op(Code.PUT, self.keys("entered", *place), _ENTERED, deed)
            elif place[0] not in self._opened and self.places[place].kind is StructureKind.CAVITY:
                yield Op(Code.MOVE, self.keys("entered", *place), _ROOF_OPENED, deed)
        if structure.kind is StructureKind.SKIN:
            for outer, inner in self._outer.items():
                moved = _OTHER_SKIN if outer in self._skins else _OTHER_WOUND
                yield from (Op(Code.MOVE, key, moved, deed) for key, _, _ in inner if outer not in spots)
        again = _SKIN_AGAIN if structure.kind is StructureKind.SKIN else _OUTER_OPENED
        for spot in spots:
            moved = _INNER_SHUT if deed.action.stays else _INNER_OPENED
            yield from (Op(Code.MOVE, key, moved, deed) for key in self._inner[spot])
            yield from (Op(Code.MOVE, key, again, deed) for key, _, _ in self._outer[spot])

    def _closing(self, deed: Deed, structure: Structure, spot: _Spot) -> Iterator[Op]:
        stitched = deed.action.verb in CONTROLS or deed.action.verb is Verb.CLAMP
        if stitched and structure.id in self.layout.closed:
            return  # the stitches of a layer that is said to be closed afterwards
        for key, inner, side in self._outer[spot]:
            if deed.action.verb is not Verb.EXCISE:
                check = Condition("closed-out-of-order", deed, inner, side=side, what=str(structure.id))
                yield Op(Code.CHECK, key, _STILL_OPEN, deed, check)
            yield Op(Code.PUT, key, 0, deed)
        if spot in self.places and deed.action.verb is not Verb.EXCISE:
            yield Op(Code.PUT, self.keys("entered", *spot), _CLOSED, deed)

    def laid_in(self, deed: Deed, item: Item) -> Iterator[Op]:
        """Yield what laying ``item`` in a place does: the place has to be open, unless the item makes its own way."""
        places = self.layout.structures((deed.action.inside,)) if deed.action.inside is not None else ()
        for place in places:
            wrong = self._wrong(place, item)
            for spot in self._spots(place, deed.action) if place.kind in _HOLLOW else ():
                key = self.keys("entered", *spot)
                if wrong:
                    check = Condition("place-not-open", deed, place, item, spot[1])
                    yield Op(Code.CHECK, key, wrong, deed, check)
                if wrong or item.kind in _ENTERS:
                    yield Op(Code.PUT, key, _ENTERED, deed)

    def _wrong(self, place: Structure, item: Item) -> int:
        if item.kind in _MAY_ENTER:
            return 1 << _CLOSED
        opened = place.id in self._opened
        laid = item.kind in _LAID_IN or (opened and item.kind in _ONLY_IF_OPENED)
        return 1 << _SHUT | 1 << _CLOSED if laid and (opened or not has_a_way_out(place)) else 0


_TAKES_AWAY = frozenset({Verb.CLOSE, Verb.EXCISE})


def has_a_way_out(place: Structure) -> bool:
    """Tell whether ``place`` opens to the outside of the body: a vagina, a nasal cavity."""
    return not _WAYS_OUT.isdisjoint(place.name.casefold().replace("-", " ").split())

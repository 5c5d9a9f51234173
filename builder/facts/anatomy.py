"""What the path analysis asks of the catalogues, looked up once for each name."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator
from functools import cache

from builder.facts.remembered import once_per_department
from builder.model.action import Action, Verb
from builder.model.common_catalogue import Relation
from builder.model.common_catalogue import near as common_relations
from builder.model.library import Library
from builder.model.pages import Item, ItemKind, Procedure, Structure
from builder.place import Text

Near = dict[str, tuple[Structure, ...]]
"""By id of a structure, what must be seen before it is cut."""


class Anatomy:
    """The catalogues as the analysis reads them; one instance a Library."""

    def __init__(self, library: Library, apart: frozenset[frozenset[Text]] = frozenset()) -> None:
        self.structure = cache(library.structures.find)
        """Return the structure that words mean, or None."""
        self.item = cache(library.items.find)
        """Return the item that words mean, or None."""
        self._library = library
        self._apart = apart
        self._near = _neighbours(library, apart)

    def in_approach(self, procedure: Procedure) -> Anatomy:
        """Return the catalogues without the relations that do not hold in the approach of ``procedure``."""
        if not procedure.not_close:
            return self
        pairs = [(self.structure(one.structure), self.structure(one.to)) for one in procedure.not_close]
        known = (frozenset((one.id, other.id)) for one, other in pairs if one is not None and other is not None)
        return Anatomy(self._library, frozenset(known))

    def are_close(self, one: Structure, other: Structure) -> bool:
        """Tell whether a catalogue, the department's or the common one, says that the two are close."""
        relations = common_relations().get(one.id, ())
        return (
            any(self.structure(name) is other for name in one.close_to)
            or any(self.structure(name) is one for name in other.close_to)
            or any(other in (self.structure(relation.of), self.structure(relation.close_to)) for relation in relations)
        )

    def cut_with(self, action: Action) -> Item | None:
        """Return the item that makes an opening a cut: a blade, or what the catalogue says ``cuts``.

        An opening that names no such item is blunt (spread, stretched, parted with a finger).
        """
        found = (self.item(words) for words in action.using) if action.verb is Verb.OPEN else ()
        return next((item for item in found if item and (item.cuts or item.kind is ItemKind.BLADE)), None)

    def sealed_with(self, action: Action) -> bool:
        """Tell whether what is cut is sealed at both ends by the same instrument, a stapler or what ``seals``."""
        found = (self.item(words) for words in action.using)
        return any(item.seals or item.name.casefold().endswith(_SEALING) for item in found if item)

    def see_first(self, structure: Structure) -> tuple[Structure, ...]:
        """Return the structures that must be seen before ``structure`` is cut.

        ``close_to`` counts both ways: what is written for one of two neighbours holds for the other.
        """
        return self._near.get(structure.id, ())

    def to_confirm(self, structure: Structure) -> Iterator[tuple[Structure, Relation]]:
        """Yield what only the common catalogue says is to be seen before ``structure`` is cut, and its relation.

        The department has neither written the relation itself nor switched it off, for it has not written the
        structures as its own.
        """
        known = {near.id for near in self.see_first(structure)}
        for relation in common_relations().get(structure.id, ()):
            pair = [self.structure(relation.of), self.structure(relation.close_to)]
            other = next((near for near in pair if near is not None and near.id != structure.id), None)
            if (
                other is not None
                and other.see_first
                and not relation.kept_away_from
                and other.id not in known
                and not self._library.structures.whole.intersection((structure.id, other.id))
                and frozenset((structure.id, other.id)) not in self._apart
                and not self._is_off(structure, other)
                and not self._is_off(other, structure)
            ):
                yield other, relation

    def _is_off(self, structure: Structure, other: Structure) -> bool:
        return any(self.structure(name) is other for name in structure.not_close_to)


@once_per_department
def anatomy(library: Library) -> Anatomy:
    """Return the catalogues of ``library`` as the analysis reads them."""
    return Anatomy(library)


def _neighbours(library: Library, apart: frozenset[frozenset[Text]]) -> Near:
    found: dict[str, dict[str, Structure]] = defaultdict(dict)
    for structure in library.structures:
        for words in structure.close_to:
            other = library.structures.find(words)
            if other is None or other is structure or frozenset((structure.id, other.id)) in apart:
                continue
            if other.see_first:
                found[structure.id][other.id] = other
            if structure.see_first:
                found[other.id][structure.id] = structure
    return {id: tuple(near.values()) for id, near in found.items()}


_SEALING = ("stapler", "sealer")
"""Last words of names of instruments that seal what they cut; any other says ``seals`` in the catalogue."""

OUTSIDE_KINDS = frozenset({ItemKind.DRESSING, ItemKind.GARMENT, ItemKind.LINE, ItemKind.CATHETER})
"""Kinds that never go in through the wound: the closing of the skin does not shut them in."""

USED_UP_KINDS = frozenset({ItemKind.DRUG, ItemKind.FLUID})
"""Kinds that cannot be taken out again."""

STAYING_KINDS = frozenset({ItemKind.IMPLANT, ItemKind.SUTURE})
"""Kinds that may stay for good: an implant (on the implant record), an absorbable or buried suture."""

WORN_KINDS = frozenset({ItemKind.DRESSING, ItemKind.GARMENT})
"""Kinds that go home on the patient and come off there, or on the ward."""

MEANT_TO_STAY = STAYING_KINDS | WORN_KINDS
"""Kinds that are put there to stay when the operation is over; nobody has to be asked in which step they come out."""

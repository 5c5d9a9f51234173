"""Structures and items that are named are in the catalogues and fit the place where they are named."""

from collections.abc import Iterable, Iterator
from functools import cache
from typing import Any, NamedTuple

from builder.check.hit import Hit, finds
from builder.facts.anatomy import anatomy
from builder.facts.counts import ALWAYS_COUNTED
from builder.facts.remembered import once_per_library
from builder.facts.walk import doses, figures, pages
from builder.findings.finding import SecondPlace
from builder.findings.message_words import NearSpelling, listed, mend, quoted
from builder.model.action import ON_ITEMS, ON_STRUCTURES, Action, Verb
from builder.model.catalogue import Catalogue, plain_name
from builder.model.common_catalogue import may_be
from builder.model.fields import Page
from builder.model.library import Library
from builder.model.pages import Aftercare, Caution, Item, ItemKind, Step, Structure, StructureKind
from builder.place import Text

STRUCTURE, ITEM, FLUID, EITHER = "structure", "item", "fluid", "either"
_FLUIDS = frozenset({ItemKind.DRUG, ItemKind.FLUID})
_FLUID_VERBS = frozenset({Verb.INJECT, Verb.IRRIGATE})

_SPLIT = {"sharps": "`needles` and `blades`", "sponges": "`swabs`", "gauze": "`swabs`"}


class NameUse(NamedTuple):
    """A name of a catalogue entry where it is used: what is wanted there, and the word it comes after."""

    name: Text
    wants: str
    after: str


@once_per_library
def uses(library: Library) -> tuple[NameUse, ...]:
    """Return every name that must be in a catalogue."""
    return tuple(_uses(library))


def _uses(library: Library) -> Iterator[NameUse]:
    for structure in library.structures:
        for name in structure.close_to:
            yield NameUse(name, STRUCTURE, "close_to")
        for name in structure.not_close_to:
            yield NameUse(name, STRUCTURE, "not_close_to")
    for procedure in library.procedures:
        for name in procedure.kit:
            yield NameUse(name, ITEM, "kit")
        for relation in procedure.not_close:
            yield NameUse(relation.structure, STRUCTURE, "structure")
            yield NameUse(relation.to, STRUCTURE, "to")
    for _, figure in figures(library):
        for pointer in figure.pointers:
            yield NameUse(pointer.structure, STRUCTURE, "structure")
    for _, page in pages(library):
        yield from _page_uses(page)


def _page_uses(page: Page) -> Iterator[NameUse]:
    for dose in doses(page):
        yield NameUse(dose.drug, FLUID, "drug")
    if isinstance(page, Step):
        for action in page.actions:
            yield from _action_uses(action)
    if isinstance(page, Step | Caution):
        for name in page.at_risk:
            yield NameUse(name, STRUCTURE, "at_risk")
    elif isinstance(page, Aftercare) and page.concerns is not None:
        yield NameUse(page.concerns, ITEM, "concerns")


def _action_uses(action: Action) -> Iterator[NameUse]:
    verb = action.verb
    wants = _wanted(verb)
    if wants:
        for name in action.objects:
            yield NameUse(name, wants, verb.value)
    if action.inside is not None:
        yield NameUse(action.inside, STRUCTURE, "in")
    if action.on is not None:
        yield NameUse(action.on, EITHER, "on")
    for name in action.using:
        yield NameUse(name, ITEM, "with")
    if action.through is not None:
        yield NameUse(action.through, ITEM, "through")


def _wanted(verb: Verb) -> str:
    if verb in ON_STRUCTURES:
        return STRUCTURE
    if verb in _FLUID_VERBS:
        return FLUID
    if verb in ON_ITEMS:
        return ITEM
    return EITHER if verb is Verb.INSPECT else ""


_CATALOGUES = {STRUCTURE: "structures", ITEM: "items", EITHER: "structures or of items"}


def _any(catalogues: Iterable[Catalogue[Any]], name: str) -> bool:
    return any(catalogue.find(name) is not None for catalogue in catalogues)


class _Names:
    """Finds each name once; the same few names are used thousands of times."""

    def __init__(self, library: Library) -> None:
        self.library = library
        self.known: dict[str, tuple[Structure | None, Item | None]] = {}
        self.said: dict[tuple[str, str], tuple[str, str]] = {}
        self.structures_broken = library.is_broken("structures", "structures")
        self.items_broken = library.is_broken("items", "items")

    def find(self, name: Text) -> tuple[Structure | None, Item | None]:
        found = self.known.get(name)
        if found is None:
            found = (self.library.structures.find(name), self.library.items.find(name))
            self.known[name] = found
        return found

    def unknown(self, name: Text, wants: str) -> tuple[str, str]:
        """Return what is wrong with ``name``, which is in neither catalogue, and what to do; once a name and place.

        Only what is of the kind that is wanted there is proposed.
        """
        wanted = ITEM if wants == FLUID else wants
        if (name, wanted) not in self.said:
            self.said[name, wanted] = self._unknown(name, wanted)
        return self.said[name, wanted]

    def _unknown(self, name: Text, wanted: str) -> tuple[str, str]:
        catalogues: list[Catalogue[Any]] = [self.library.structures] if wanted != ITEM else []
        catalogues += [self.library.items] if wanted != STRUCTURE else []
        meanings = [meaning for meaning in may_be().get(plain_name(name), ()) if _any(catalogues, meaning)]
        if meanings:
            hint = f"Write {listed([f'`{meaning}`' for meaning in meanings], 'or')}."
            return f"{quoted(name)} can mean more than one thing", hint
        message = f"{quoted(name)} is not in the catalogue of {_CATALOGUES[wanted]}"
        # To compare is slow, and of a flood of unknown names none is a slip of the pen.
        close = [near for one in catalogues if len(self.said) < NearSpelling.MOST and (near := one.near(name))]
        if close:
            return message, f"Write `{close[0]}`."
        file = f"content/catalogue/{'items' if wanted == ITEM else 'structures'}.yml"
        return message, f"Write a name of the common catalogue, or add yours to {file}."

    def unsure(self, wants: str) -> bool:
        """Tell whether the name may be in a catalogue that could not be read."""
        return (self.structures_broken and wants in (STRUCTURE, EITHER)) or (self.items_broken and wants != STRUCTURE)


@finds("structure-unknown", piecewise=True)
def unknown_structures(library: Library) -> Iterator[Hit]:
    """Yield each name that should be a structure, or either, and is in neither catalogue."""
    yield from _unknown(library, (STRUCTURE, EITHER))


@finds("item-unknown", piecewise=True)
def unknown_items(library: Library) -> Iterator[Hit]:
    """Yield each name that should be an item and is in neither catalogue."""
    yield from _unknown(library, (ITEM, FLUID))


class _Doubtful(NamedTuple):
    """A name that is not what is wanted there, with what it means in either catalogue."""

    use: NameUse
    structure: Structure | None
    item: Item | None


@once_per_library
def _doubtful(library: Library) -> tuple[_Doubtful, ...]:
    names = _Names(library)
    is_wanted = cache(lambda name, wants: _is_wanted(wants, *names.find(name)))
    return tuple(_Doubtful(use, *names.find(use.name)) for use in uses(library) if not is_wanted(use.name, use.wants))


def _is_wanted(wants: str, structure: Structure | None, item: Item | None) -> bool:
    if wants == FLUID:
        return item is not None and item.kind in _FLUIDS
    return (structure is not None and wants != ITEM) or (item is not None and wants != STRUCTURE)


def _unknown(library: Library, wanted: tuple[str, str]) -> Iterator[Hit]:
    names = _Names(library)
    for use, structure, item in _doubtful(library):
        if use.wants in wanted and structure is None and item is None and not names.unsure(use.wants):
            yield Hit(use.name.at, *names.unknown(use.name, use.wants))


@finds("wrong-kind-of-object", piecewise=True)
def wrong_kinds(library: Library) -> Iterator[Hit]:
    """Yield each name that is in a catalogue, but is not what is wanted there."""
    names = _Names(library)
    for use, structure, item in _doubtful(library):
        if use.wants == STRUCTURE and structure is None and item is not None and not names.unsure(STRUCTURE):
            hint = "Name a structure of content/catalogue/structures.yml here."
            yield Hit(use.name.at, _not(use, "an item", "a structure"), hint)
        elif use.wants in (ITEM, FLUID) and item is None and structure is not None and not names.unsure(ITEM):
            hint = "Name an item of content/catalogue/items.yml here."
            yield Hit(use.name.at, _not(use, "a structure", "an item"), hint)
        elif use.wants == FLUID and item is not None and item.kind not in _FLUIDS:
            hint = "Name a drug or fluid here, or correct its `kind` in content/catalogue/items.yml."
            also = (SecondPlace(item.id.at, f"it is {_a(item.kind.value)} here"),)
            yield Hit(use.name.at, _not(use, _a(item.kind.value), "a drug or a fluid"), hint, also)
    yield from _counts(library)


def _not(use: NameUse, found: str, wanted: str) -> str:
    return f"{quoted(use.name)} is {found}, but `{use.after}` needs {wanted}"


def _a(word: str) -> str:
    return f"an {word}" if word[0] in "aeiou" else f"a {word}"


def _counts(library: Library) -> Iterator[Hit]:
    """A count is of a category that is counted, or of an item marked so."""
    if library.is_broken("items", "items"):
        return
    categories = ALWAYS_COUNTED | {f"{item.kind.value}s" for item in library.items.everything() if item.counted}
    for procedure in library.procedures:
        for step in procedure.steps.values():
            for action in step.actions:
                if action.verb is Verb.COUNT:
                    for name in action.objects:
                        if plain_name(name) not in categories:
                            yield from _uncounted(library, name, categories)


def _uncounted(library: Library, name: Text, categories: frozenset[str]) -> Iterator[Hit]:
    item = library.items.find(name)
    if item is None:
        split = _SPLIT.get(plain_name(name))
        hint = f"Write {split}." if split else mend(name, categories, f"Write one of: {', '.join(sorted(categories))}.")
        yield Hit(name.at, f"{quoted(name)} is not among the things that are counted", hint)
    elif not item.counted:
        also = (SecondPlace(item.id.at, "the catalogue's entry"),)
        hint = "Write `counted: true` in its entry of content/catalogue/items.yml, or count its category."
        yield Hit(name.at, f"{quoted(name)} is not marked as counted in the catalogue", hint, also)


_OF_TISSUE = ON_STRUCTURES - {Verb.IDENTIFY, Verb.PROTECT, Verb.EXPOSE}


@finds("landmark-cut", piecewise=True)
def landmarks_cut(library: Library) -> Iterator[Hit]:
    """Yield each landmark that is opened, cut, tied or closed: it is a place, not tissue."""
    for procedure in library.procedures:
        for step in procedure.steps.values():
            for action in step.actions:
                for name in action.objects if action.verb in _OF_TISSUE else ():
                    structure = library.structures.find(name)
                    if structure is not None and structure.kind is StructureKind.LANDMARK:
                        message = (
                            f"{quoted(name)} is a landmark, and `{action.verb.value}` needs something that has tissue"
                        )
                        hint = "Name the structure that lies there, such as the skin, or write `identify`."
                        yield Hit(name.at, message, hint, (SecondPlace(structure.id.at, "it is a landmark here"),))


@finds("relation-unknown", piecewise=True)
def unknown_relations(library: Library) -> Iterator[Hit]:
    """Yield each relation that a procedure sets aside and the catalogue does not have."""
    for procedure in library.procedures:
        catalogues = anatomy(library) if procedure.not_close else None
        for relation in procedure.not_close:
            one, other = library.structures.find(relation.structure), library.structures.find(relation.to)
            if (
                catalogues is not None
                and one is not None
                and other is not None
                and not catalogues.are_close(one, other)
            ):
                message = f"{quoted(relation.structure)} is not close to {relation.to} in the catalogue"
                hint = "Remove this entry of `not_close`, or correct the name that is wrong."
                yield Hit(relation.structure.at, message, hint, (SecondPlace(relation.to.at, "the other one"),))


@finds("term-written-twice")
def terms_twice(library: Library) -> Iterator[Hit]:
    """Yield each abbreviation that an earlier entry of the terms has."""
    first: dict[str, Text] = {}
    for term in library.terms:
        other = first.setdefault(plain_name(term.short), term.short)
        if other is not term.short:
            yield Hit(
                term.short.at,
                f"{quoted(term.short)} is already explained in line {other.at.line}",
                "Keep one of the two entries.",
                (SecondPlace(other.at, "first explained here"),),
            )

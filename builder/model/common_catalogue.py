"""The common catalogue of surgery that ships with the program, under the catalogue of every department.

It is read when a name is asked for that the department's own catalogue does not have, once a process.
"""

from collections import defaultdict
from collections.abc import Mapping
from functools import cache
from typing import Any, TypeVar

from pydantic import TypeAdapter

from builder.load.common_files import common_rows
from builder.model.catalogue import Catalogue, plain_name
from builder.model.fields import Node
from builder.model.pages import Item, Structure, Term
from builder.place import Place, Text


class RelationSource(Node):
    """Where a relation was read: the ``work``, its ``year`` and the ``place`` in it."""

    work: Text
    year: Text
    place: Text


class Relation(Node):
    """Two structures that lie close to each other. It counts both ways.

    ``how`` one lies to the other, ``why`` that matters to a surgeon; ``source`` and the ``words`` read there, or
    neither: then it is common practice. ``kept_away_from``: neither is dissected out to be seen when the other is cut.
    """

    of: Text
    close_to: Text
    how: Text = Text("close to")
    why: Text | None = None
    source: RelationSource | None = None
    words: Text | None = None
    kept_away_from: bool = False


class Ambiguous(Node):
    """A name that theatres use for more than one thing, so that none of them has it."""

    name: Text
    may_be: tuple[Text, ...]


_T = TypeVar("_T")


@cache
def structures() -> Catalogue[Structure]:
    """Return the structures of the common catalogue."""
    return Catalogue(_rows(Structure, "structures-*.json"))


@cache
def items() -> Catalogue[Item]:
    """Return the items of the common catalogue, drugs and fluids among them."""
    return Catalogue([*_rows(Item, "items.json"), *_rows(Item, "drugs.json")])


@cache
def terms() -> tuple[Term, ...]:
    """Return the abbreviations and terms of the trade, with plain words."""
    return tuple(_rows(Term, "terms.json"))


@cache
def near() -> Mapping[str, tuple[Relation, ...]]:
    """Return the relations of each structure, by its id."""
    found: dict[str, list[Relation]] = defaultdict(list)
    for relation in _rows(Relation, "relations.json"):
        for name in (relation.of, relation.close_to):
            structure = structures().find(name)
            if structure is not None:
                found[structure.id].append(relation)
    return {id: tuple(relations) for id, relations in found.items()}


@cache
def may_be() -> Mapping[str, tuple[Text, ...]]:
    """Return what a name may mean that theatres use for more than one thing, by the name as names are compared."""
    return {plain_name(entry.name): entry.may_be for entry in _rows(Ambiguous, "ambiguous.json")}


def written(entry: Structure | Item, at: Place) -> dict[str, Any]:
    """Return what the common catalogue says of an entry, as it would be written ``at`` a place of the department."""
    said = {key: value for key, value in entry if value and key not in ("id", "where", "off")}
    return {**said, "name": Text(entry.name, at), "also": tuple(Text(name, at) for name in entry.also)}


def _rows(model: type[_T], pattern: str) -> tuple[_T, ...]:
    return TypeAdapter(tuple[model, ...]).validate_python(tuple(common_rows(pattern)))  # type: ignore[valid-type]

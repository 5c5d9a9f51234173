"""The common catalogue of surgery that ships with the program, under the catalogue of every department.

It is read when a name is asked for that the department's own catalogue does not have, once a process.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from functools import cache
from typing import Any

from pydantic import TypeAdapter

from builder.load.common_files import common_values
from builder.model.catalogue import Catalogue, plain_name
from builder.model.fields import Node
from builder.model.pages import Item, Structure, Term
from builder.place import Text


class Passage(Node):
    """Where a relation was read: the ``work``, its ``year`` and the ``place`` in it."""

    work: Text
    year: Text
    place: Text


class Relation(Node):
    """Two structures that lie close to each other. It counts both ways.

    ``how`` one lies to the other, ``why`` that matters to a surgeon; ``source`` and the ``words`` read there, or neither:
    then it is common practice.
    """

    of: Text
    close_to: Text
    how: Text = Text("close to")
    why: Text | None = None
    source: Passage | None = None
    words: Text | None = None


class Ambiguous(Node):
    """A name that theatres use for more than one thing, so that none of them has it."""

    name: Text
    may_be: tuple[Text, ...]


_ROWS: Mapping[str, TypeAdapter[Any]] = {
    "structures": TypeAdapter(tuple[Structure, ...]),
    "items": TypeAdapter(tuple[Item, ...]),
    "drugs": TypeAdapter(tuple[Item, ...]),
    "terms": TypeAdapter(tuple[Term, ...]),
    "relations": TypeAdapter(tuple[Relation, ...]),
    "ambiguous": TypeAdapter(tuple[Ambiguous, ...]),
}


@dataclass(frozen=True)
class CommonCatalogue:
    """All of it. ``near`` holds the relations of each structure, by its id; ``may_be`` what an ambiguous name may mean."""

    structures: Catalogue[Structure]
    items: Catalogue[Item]
    terms: tuple[Term, ...]
    near: Mapping[str, tuple[Relation, ...]]
    may_be: Mapping[str, tuple[Text, ...]]


@cache
def common_catalogue() -> CommonCatalogue:
    """Return the common catalogue."""
    structures = Catalogue[Structure](_rows("structures-*.yml"))
    near: dict[str, list[Relation]] = defaultdict(list)
    for relation in _rows("relations.yml"):
        for name in (relation.of, relation.close_to):
            structure = structures.find(name)
            if structure is not None:
                near[structure.id].append(relation)
    return CommonCatalogue(
        structures=structures,
        items=Catalogue([*_rows("items.yml"), *_rows("drugs.yml")]),
        terms=tuple(_rows("terms.yml")),
        near={id: tuple(relations) for id, relations in near.items()},
        may_be={plain_name(entry.name): entry.may_be for entry in _rows("ambiguous.yml")},
    )


def _rows(pattern: str) -> Iterable[Any]:
    for kind, values in common_values(pattern):
        yield from _ROWS[kind].validate_python(values)


def structures() -> Catalogue[Structure]:
    """Return the structures of the common catalogue."""
    return common_catalogue().structures


def items() -> Catalogue[Item]:
    """Return the items of the common catalogue, drugs and fluids among them."""
    return common_catalogue().items


def written(entry: Structure | Item) -> dict[str, Any]:
    """Return what the common catalogue says of an entry, as it would be written."""
    return {key: value for key, value in entry if value and key not in ("id", "where", "off")}

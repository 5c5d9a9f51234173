"""One source as it was read. Its pybtex entry and its places are made only when somebody asks for them."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from functools import cached_property
from typing import Any

from pybtex.database import Entry, Person

from builder.place import Place, Text

Names = list[list[str]]
"""The five parts of a name as BibTeX knows them: first, middle, prelast, last, lineage."""

Row = list[Any]
"""A source as plain values: key, [line, column], type, {field: text}, {role: [Names]}, {field: [line, column]}."""

_YEAR = re.compile(r"\b(1[5-9]\d\d|2\d\d\d)\b")
_PARENT_ONLY = frozenset({"title", "subtitle", "crossref"})


class RawSource:
    """One entry of a .bib file: its ``key`` (which knows its place), ``type`` and ``fields`` by lower-case name."""

    def __init__(self, key: Text, entry: Entry, places: Mapping[str, Place] | None = None) -> None:
        self.key = key
        self.type = str(entry.type).lower()
        self.fields: Mapping[str, str] = {str(name).lower(): str(value) for name, value in entry.fields.items()}
        self._persons: Mapping[str, list[Names]] = {
            str(role).lower(): [names_of(person) for person in persons] for role, persons in entry.persons.items()
        }
        self._places: Mapping[str, list[int]] = {
            name: [place.line, place.column] for name, place in (places or {}).items()
        }

    @classmethod
    def of_row(cls, row: Row, file: str) -> RawSource:
        """Return the source that ``row`` holds, standing in ``file``. Raises ValueError or TypeError otherwise."""
        key, (line, column), kind, fields, persons, places = row
        if not (isinstance(key, str) and isinstance(kind, str) and isinstance(fields, dict)):
            raise TypeError("no row of a source")
        source = cls.__new__(cls)
        source.key = Text(key, Place(file, int(line), int(column)))
        source.type = kind
        source.fields, source._persons, source._places = fields, persons, places
        return source

    def __reduce__(self) -> tuple[Callable[[Row, str], RawSource], tuple[Row, str]]:
        """What somebody worked out of it since is not sent to another process: equal sources give equal bytes."""
        return RawSource.of_row, (self.row(), self.key.at.file)

    def row(self) -> Row:
        """Return the source as plain values, which ``of_row`` takes."""
        at = self.key.at
        return [str(self.key), [at.line, at.column], self.type, self.fields, self._persons, self._places]

    def place(self, name: str) -> Place:
        """Return the place of the field ``name``; that of the key where the field is not written."""
        place = self._places.get(name)
        return Place(self.key.at.file, place[0], place[1]) if place else self.key.at

    @cached_property
    def year(self) -> int | None:
        """The year of publication, or None where the source does not say."""
        match = _YEAR.search(self.fields.get("year") or self.fields.get("date", ""))
        return int(match[1]) if match else None

    @property
    def roles(self) -> frozenset[str]:
        """The roles that somebody is named for, such as author and editor."""
        return frozenset(role for role, names in self._persons.items() if names)

    @cached_property
    def entry(self) -> Entry:
        """The entry as pybtex knows it. Not to be changed."""
        persons = {role: [person_of(names) for names in people] for role, people in self._persons.items()}
        entry = Entry(self.type, fields=dict(self.fields), persons=persons)
        entry.key = str(self.key)
        return entry

    def inheriting(self, parent: RawSource) -> RawSource:
        """Return the source with what it lacks from the entry its ``crossref`` names; a title becomes ``booktitle``."""
        extra = {name: text for name, text in parent.fields.items() if name not in _PARENT_ONLY}
        if "title" in parent.fields:
            extra.setdefault("booktitle", parent.fields["title"])
        fields, persons = {**extra, **self.fields}, {**parent._persons, **self._persons}
        if parent.type in ("book", "proceedings", "collection") and "author" not in self._persons:
            persons.pop("author", None)
        return RawSource.of_row([*self.row()[:3], fields, persons, self._places], self.key.at.file)

    def __eq__(self, other: object) -> bool:
        return isinstance(other, RawSource) and self.row() == other.row() and self.key.at == other.key.at

    def __hash__(self) -> int:
        return hash((str(self.key), self.key.at))

    def __repr__(self) -> str:
        return f"RawSource({str(self.key)!r} at {self.key.at})"


def names_of(person: Person) -> Names:
    """Return the five parts of ``person``."""
    parts = (person.first_names, person.middle_names, person.prelast_names, person.last_names, person.lineage_names)
    return [[str(name) for name in part] for part in parts]


def person_of(names: Names) -> Person:
    """Return the person with these five parts."""
    person = Person()
    first, middle, prelast, last, lineage = names
    person.first_names, person.middle_names, person.prelast_names = list(first), list(middle), list(prelast)
    person.last_names, person.lineage_names = list(last), list(lineage)
    return person

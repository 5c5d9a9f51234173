"""Sources in BibTeX, parsed by pybtex, with the place of every entry and field.

The pybtex entry and the places of a source are made only when somebody asks for them.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Mapping
from dataclasses import replace
from functools import cached_property
from hashlib import sha256
from importlib.metadata import version
from itertools import zip_longest
from typing import Any

from pybtex.database import Entry, Person
from pybtex.database.input.bibtex import Parser
from pybtex.errors import capture
from pybtex.exceptions import PybtexError
from pybtex.scanner import PybtexSyntaxError

from builder.findings.finding import Finding, SecondPlace
from builder.findings.message_words import quoted
from builder.findings.register import finding
from builder.load.kept.kept_files import KeptValues
from builder.place import Place, Text

Names = list[list[str]]
"""The five parts of a name as BibTeX knows them: first, middle, prelast, last, lineage."""

Row = list[Any]
"""A source as plain values: key, [line, column], type, {field: text}, {role: [Names]}, {field: [line, column]}."""

_FORMAT = 2
_ENTRY = re.compile(r"^[ \t]*@[ \t]*(?P<type>\w+)[ \t]*[{(]\s*(?P<key>[^\s,{}()]+)\s*,", re.MULTILINE)
_FIELD = re.compile(r"^[ \t]*(?P<name>[A-Za-z][\w-]*)[ \t]*=", re.MULTILINE)
_NO_ENTRY = frozenset({"string", "preamble", "comment"})
_PARTS = ("first_names", "middle_names", "prelast_names", "last_names", "lineage_names")
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


def names_of(person: Person) -> Names:
    """Return the five parts of ``person``."""
    return [[str(name) for name in getattr(person, part)] for part in _PARTS]


def person_of(names: Names) -> Person:
    """Return the person with these five parts."""
    person = Person()
    for part, held in zip(_PARTS, names, strict=True):
        setattr(person, part, list(held))
    return person


class SourceCache(KeptValues):
    """Remembers the sources of .bib texts, keyed by the content of the file."""

    part, most_files, most_bytes = "sources", 16, 128 * 1024 * 1024

    def rows(self, text: str, file: str) -> list[RawSource] | None:
        """Return the sources of ``text`` as standing in ``file``, or None where they are not known."""
        return self._get(_key(text), lambda rows: [RawSource.of_row(row, file) for row in rows])

    def keep(self, text: str, sources: Iterable[RawSource]) -> None:
        """Remember ``sources`` for ``text``. A cache that cannot be written is none: nothing is raised."""
        self._keep(_key(text), [source.row() for source in sources])


def _key(text: str) -> str:
    # What pybtex makes of a text may change with its version, so that is part of the key.
    known = sha256(f"{_FORMAT} {version('pybtex')}\n".encode())
    known.update(text.encode("utf-8", "surrogatepass"))
    return known.hexdigest()


def read_sources(text: str, file: str, cache: SourceCache | None = None) -> tuple[dict[str, RawSource], list[Finding]]:
    """Return the entries of one ``.bib`` text by key, in order, and what is wrong with it.

    An entry that cannot be read is left out; those around it are kept. A text without faults that ``cache`` knows is
    not parsed again.
    """
    known = cache.rows(text, file) if cache else None
    if known is not None:
        return {str(source.key): source for source in known}, []
    sources, findings = _parsed(text, file)
    if cache and not findings:
        cache.keep(text, sources.values())
    return sources, findings


def _parsed(text: str, file: str) -> tuple[dict[str, RawSource], list[Finding]]:
    places, findings = _entry_places(text, file)
    parser = Parser(encoding="UTF-8")
    with capture() as complaints:
        try:
            parser.parse_string(text)
        except (PybtexError, RecursionError) as error:
            complaints.append(error)
    cut_short: set[str] = set()
    for complaint in complaints:
        if "repeated bibliography entry" not in str(complaint):
            key = _entry_at(complaint, text, file, places)
            cut_short.add(key)
            findings.append(_complaint(complaint, text, file, places[key][0] if key else None))
    sources: dict[str, RawSource] = {}
    for key, entry in parser.data.entries.items():
        if key.lower() in cut_short or (findings and key.lower() not in places):
            continue  # pybtex keeps what it had read of an entry when it stopped
        at, fields = places.get(key.lower(), (Place(file), {}))
        sources[key] = RawSource(Text(key, at), entry, fields)
    return _with_parents(sources), findings


def _with_parents(sources: dict[str, RawSource]) -> dict[str, RawSource]:
    """Give each entry with a ``crossref`` what it lacks from that entry of the same file."""
    by_key = {key.lower(): source for key, source in sources.items()}
    for key, source in sources.items():
        parent = by_key.get(source.fields.get("crossref", "").lower())
        if parent is not None and parent is not source:
            sources[key] = source.inheriting(parent)
    return sources


def _entry_places(text: str, file: str) -> tuple[dict[str, tuple[Place, dict[str, Place]]], list[Finding]]:
    """Return the place of each entry and field by lower-case key, and the keys written twice."""
    starts = [match for match in _ENTRY.finditer(text) if match["type"].lower() not in _NO_ENTRY]
    places: dict[str, tuple[Place, dict[str, Place]]] = {}
    findings = []
    line, seen = 1, 0
    for match, following in zip_longest(starts, starts[1:]):
        line += text.count("\n", seen, match.start("key"))
        seen = match.start("key")
        at = Place(file, line, seen - text.rfind("\n", 0, seen))
        key = match["key"].lower()
        if key in places:
            message = f"{quoted(match['key'])} is already the key of the source in line {places[key][0].line}"
            findings.append(
                finding("source-key-written-twice", at, message, "Give one of the two another key, or remove it.")
            )
            continue
        places[key] = (at, _field_places(text, (match.end(), following.start() if following else len(text)), at))
    return places, findings


def _field_places(text: str, span: tuple[int, int], at: Place) -> dict[str, Place]:
    places: dict[str, Place] = {}
    for match in _FIELD.finditer(text, *span):
        start = match.start("name")
        line = at.line + text.count("\n", span[0], start)
        places.setdefault(match["name"].lower(), Place(at.file, line, start - text.rfind("\n", 0, start)))
    return places


def _entry_at(error: Any, text: str, file: str, places: Mapping[str, tuple[Place, dict[str, Place]]]) -> str:
    """Return the lower-case key of the entry in which pybtex stopped, "" where it was in none that has a key."""
    if not isinstance(error, PybtexSyntaxError):
        return ""
    start, _, position = error.error_context_info
    first, last = Place.after(file, text[:start]), Place.after(file, text[:position])
    return min(((place, key) for key, (place, _) in places.items() if first <= place <= last), default=(first, ""))[1]


# What pybtex says, and what an educator can act on.
_PLAIN_WORDS = {"premature end of file": "the file ends inside an entry"}


def _complaint(error: Any, text: str, file: str, entry: Place | None) -> Finding:
    at = Place(file)
    said = str(error).splitlines()[0][:200] if str(error) else "this is not BibTeX"
    if isinstance(error, PybtexSyntaxError):
        # pybtex keeps (start of the entry, line, position) of the character it stopped at.
        _, line, position = error.error_context_info
        at = Place.after(file, text[:position])
        said = said.partition(f"in line {line}: ")[2] or said
    message = f"the sources cannot be read from here: {_PLAIN_WORDS.get(said, said)}"
    hint = "Close every brace and quotation mark, and put a comma after each field."
    fault = finding("sources-unreadable", at, message, hint)
    return replace(fault, also=(SecondPlace(entry, "the entry begins here"),)) if entry else fault

"""Sources in BibTeX, parsed by pybtex, with the place of every entry and field."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import replace
from itertools import zip_longest
from typing import Any

from pybtex.database.input.bibtex import Parser
from pybtex.errors import capture
from pybtex.exceptions import PybtexError
from pybtex.scanner import PybtexSyntaxError

from builder.findings.finding import Finding, SecondPlace
from builder.findings.message_words import quoted
from builder.findings.register import finding
from builder.load.sources.raw_source import RawSource
from builder.load.sources.source_cache import SourceCache
from builder.place import Place, Text

__all__ = ["RawSource", "read_sources"]

_ENTRY = re.compile(r"^[ \t]*@[ \t]*(?P<type>\w+)[ \t]*[{(]\s*(?P<key>[^\s,{}()]+)\s*,", re.MULTILINE)
_FIELD = re.compile(r"^[ \t]*(?P<name>[A-Za-z][\w-]*)[ \t]*=", re.MULTILINE)
_NO_ENTRY = frozenset({"string", "preamble", "comment"})


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
        if not _is_repeat(complaint):
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


def _is_repeat(error: Any) -> bool:
    return "repeated bibliography entry" in str(error)


def _entry_at(error: Any, text: str, file: str, places: Mapping[str, tuple[Place, dict[str, Place]]]) -> str:
    """Return the lower-case key of the entry in which pybtex stopped, "" where it was in none that has a key."""
    if not isinstance(error, PybtexSyntaxError):
        return ""
    start, _, position = error.error_context_info
    first, last = _place(text, file, start), _place(text, file, position)
    return min(((place, key) for key, (place, _) in places.items() if first <= place <= last), default=(first, ""))[1]


def _place(text: str, file: str, offset: int) -> Place:
    return Place(file, text.count("\n", 0, offset) + 1, max(1, offset - text.rfind("\n", 0, offset)))


# What pybtex says, and what an educator can act on.
_PLAIN_WORDS = {"premature end of file": "the file ends inside an entry"}


def _complaint(error: Any, text: str, file: str, entry: Place | None) -> Finding:
    at = Place(file)
    said = str(error).splitlines()[0][:200] if str(error) else "this is not BibTeX"
    if isinstance(error, PybtexSyntaxError):
        # pybtex keeps (start of the entry, line, position) of the character it stopped at.
        _, line, position = error.error_context_info
        at = _place(text, file, position)
        said = said.partition(f"in line {line}: ")[2] or said
    message = f"the sources cannot be read from here: {_PLAIN_WORDS.get(said, said)}"
    hint = "Close every brace and quotation mark, and put a comma after each field."
    fault = finding("sources-unreadable", at, message, hint)
    return replace(fault, also=(SecondPlace(entry, "the entry begins here"),)) if entry else fault

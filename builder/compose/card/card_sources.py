"""Sources in the shortest form that still finds them in the handout's list: first author and year."""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from builder.load.sources.bibliography import RawSource
from builder.load.sources.latex import plain

_LONGEST = 28


def short_sources(sources: Mapping[str, RawSource], keys: Iterable[str]) -> dict[str, str]:
    """Return the short name of every source among ``keys``, in their order, each once."""
    return {key: _short(sources[key]) for key in dict.fromkeys(keys) if key in sources}


def source_words(listed: Mapping[str, str]) -> str:
    """Return the line of sources: the number and short name of each."""
    return "; ".join(f"{number} {name}" for number, name in enumerate(listed.values(), start=1))


def _short(source: RawSource) -> str:
    entry = source.entry
    people = entry.persons.get("author") or entry.persons.get("editor") or []
    name = plain(" ".join(people[0].last_names)) if people else plain(str(entry.fields.get("title", source.key)))
    if len(name) > _LONGEST:
        name = name[:_LONGEST].rsplit(" ", 1)[0] + "…"
    year = plain(str(entry.fields.get("year") or entry.fields.get("date", "")))[:4]
    return f"{name} {year}".strip()

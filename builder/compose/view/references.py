"""References of one document: numbered by first appearance in it, each knowing the places that cite it."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from html import escape

from builder.compose.view.view import ReferenceView
from builder.load.sources.bibliography import RawSource
from builder.load.sources.latex import plain
from builder.model.citation import Citation
from builder.model.styles.registry import DEFAULT, format_in

_PRACTICE = '<span class="practice">common practice</span>'
_LONGEST = 28  # letters of a short name


class References:
    """Gives numbers while a document is composed in its reading order; one instance a document.

    ``style`` is the name of the style in which the references are listed.
    """

    def __init__(self, sources: Mapping[str, RawSource], style: str = DEFAULT) -> None:
        self._sources = sources
        self._style = style
        self._cited_at: dict[str, list[str]] = {}

    def cite(self, cited: Iterable[tuple[str, str]]) -> str:
        """Return the marks for ``cited``, keys with locators ("" = none), as HTML, numbering what is new.

        Sources that do not exist leave no mark.
        """
        marks = [self._mark(key, locator) for key, locator in cited if key in self._sources]
        return f'<sup class="cites">{", ".join(marks)}</sup>' if marks else ""

    def backing(self, evidence: Iterable[Citation], common_practice: bool) -> str:
        """Return the marks for what backs a statement: its sources, or the words common practice."""
        cited = self.cite((str(citation.source), str(citation.locator or "")) for citation in evidence)
        return cited or (_PRACTICE if common_practice else "")

    def _mark(self, key: str, locator: str) -> str:
        places = self._cited_at.setdefault(key, [])
        number = self.number(key)
        anchor = f"cite-{number}-{len(places) + 1}"
        places.append(anchor)
        where = f" ({escape(locator)})" if locator else ""
        return f'<a href="#ref-{number}" id="{anchor}" aria-label="Reference {number}">{number}</a>{where}'

    def number(self, key: str) -> int | None:
        """Return the number of ``key`` in this document, or None where it is not cited."""
        keys = list(self._cited_at)
        return keys.index(key) + 1 if key in keys else None

    def listed(self) -> tuple[ReferenceView, ...]:
        """Return the references in order of their numbers."""
        return tuple(
            ReferenceView(number, key, f"ref-{number}", format_in(self._style, self._sources[key]).html, tuple(places))
            for number, (key, places) in enumerate(self._cited_at.items(), start=1)
        )


def short_sources(sources: Mapping[str, RawSource], keys: Iterable[str]) -> dict[str, str]:
    """Return the first author and year of every source among ``keys``, in their order, each once: the shortest form
    that still finds it in the handout's list."""
    return {key: _short(sources[key]) for key in dict.fromkeys(keys) if key in sources}


def _short(source: RawSource) -> str:
    entry = source.entry
    people = entry.persons.get("author") or entry.persons.get("editor") or []
    name = plain(" ".join(people[0].last_names)) if people else plain(str(entry.fields.get("title", source.key)))
    if len(name) > _LONGEST:
        name = name[:_LONGEST].rsplit(" ", 1)[0] + "…"
    year = plain(str(entry.fields.get("year") or entry.fields.get("date", "")))[:4]
    return f"{name} {year}".strip()

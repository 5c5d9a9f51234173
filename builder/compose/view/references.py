"""References of one document: numbered by first appearance in it, each knowing the places that cite it."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from html import escape

from builder.compose.view.view import ReferenceView
from builder.load.sources.bibliography import RawSource
from builder.model.citation import Citation
from builder.model.styles.registry import DEFAULT, format_in

_PRACTICE = '<span class="practice">common practice</span>'

Use = tuple[str, str]
"""One use of a source: its key and the locator, such as ``p. 12`` ("" = none)."""


def uses(evidence: Iterable[Citation]) -> list[Use]:
    """Return the uses that a list of citations stands for."""
    return [(str(one.source), str(one.locator or "")) for one in evidence]


class References:
    """Gives numbers while a document is composed in its reading order; one instance a document.

    ``style`` is the name of the style in which the references are listed.
    """

    def __init__(self, sources: Mapping[str, RawSource], style: str = DEFAULT) -> None:
        self._sources = sources
        self._style = style
        self._cited_at: dict[str, list[str]] = {}

    def cite(self, cited: Iterable[Use]) -> str:
        """Return the marks for ``cited`` as HTML, numbering what is new. Sources that do not exist leave no mark."""
        marks = [self._mark(key, locator) for key, locator in cited if key in self._sources]
        return f'<sup class="cites">{", ".join(marks)}</sup>' if marks else ""

    def backing(self, evidence: Iterable[Citation], common_practice: bool) -> str:
        """Return the marks for what backs a statement: its sources, or the words common practice."""
        cited = self.cite(uses(evidence))
        return cited or (_PRACTICE if common_practice else "")

    def _mark(self, key: str, locator: str) -> str:
        places = self._cited_at.setdefault(key, [])
        number = list(self._cited_at).index(key) + 1
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

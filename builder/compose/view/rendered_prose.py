"""Prose of one document: HTML from Markdown, cleaned, its links turned into numbers and anchors of that document.

References are numbered by first appearance in it, each knowing the places that cite it.
"""

import re
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from html import escape, unescape
from operator import itemgetter

import nh3

from builder.load.program_words import gettext
from builder.load.prose import LINK_KINDS, Prose
from builder.load.sources.bibliography import RawSource
from builder.load.sources.latex import plain
from builder.model.citation import Citation, is_locator
from builder.model.styles.registry import DEFAULT, format_in

_TAGS = {
    "a", "abbr", "b", "blockquote", "br", "code", "em", "h2", "h3", "h4", "h5", "h6", "hr", "i", "li", "ol", "p",
    "pre", "strong", "sub", "sup", "table", "tbody", "td", "th", "thead", "tr", "ul",
}  # fmt: skip
_ATTRIBUTES = {"a": {"href"}, "abbr": {"title"}, "ol": {"start"}}
_SCHEMES = {"https", "http", "mailto", "tel", *LINK_KINDS}
_LINK = re.compile(r'<a href="(?P<kind>[a-z]+):(?P<targets>[^"]*)"[^>]*>(?P<words>.*?)</a>', re.DOTALL)
_HEADING = re.compile(r"<(/?)h([1-6])>")
_LOWEST_HEADING = 6
_LONGEST = 28  # letters of a short name


@dataclass(frozen=True, slots=True)
class LinkTarget:
    """What a link leads to in this document: ``href`` ("" = not in it), its ``name``, its ``mark`` such as step 4."""

    href: str
    name: str
    mark: str = ""


FindTarget = Callable[[str, str], LinkTarget | None]
"""Finds a target by kind and id."""


@dataclass(frozen=True, slots=True)
class ReferenceView:
    """A reference: its number in this document, its key, its text, and the anchors of the places that cite it."""

    number: int
    key: str
    anchor: str
    html: str
    cited_at: tuple[str, ...]


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

        They stand in order of their numbers. Sources that do not exist leave no mark.
        """
        marks = [self._mark(key, locator) for key, locator in cited if key in self._sources]
        shown = ", ".join(mark for _, mark in sorted(marks, key=itemgetter(0)))
        return f'<sup class="cites">{shown}</sup>' if marks else ""

    def backing(self, evidence: Iterable[Citation], common_practice: bool) -> str:
        """Return the marks for what backs a statement: its sources, or the words common practice."""
        cited = self.cite((str(citation.source), str(citation.locator or "")) for citation in evidence)
        return cited or (_practice() if common_practice else "")

    def _mark(self, key: str, locator: str) -> tuple[int, str]:
        places = self._cited_at.setdefault(key, [])
        number = list(self._cited_at).index(key) + 1
        anchor = f"cite-{number}-{len(places) + 1}"
        places.append(anchor)
        label = escape(gettext("Reference %(number)s", number=number))
        where = f" ({escape(locator)})" if locator else ""
        return number, f'<a href="#ref-{number}" id="{anchor}" aria-label="{label}">{number}</a>{where}'

    def listed(self) -> tuple[ReferenceView, ...]:
        """Return the references in order of their numbers."""
        return tuple(
            ReferenceView(number, key, f"ref-{number}", format_in(self._style, self._sources[key]).html, tuple(places))
            for number, (key, places) in enumerate(self._cited_at.items(), start=1)
        )


class ProseWriter:
    """Writes the prose of one document, citing as it goes; call it in reading order."""

    def __init__(self, find: FindTarget, references: References) -> None:
        self.find = find
        self.references = references

    def html(self, prose: Prose, heading: int) -> str:
        """Return the clean HTML of ``prose``; its highest heading (``##``) becomes level ``heading``."""
        if not prose.html:
            return ""
        cleaned = nh3.clean(
            prose.html.replace("<h1", "<h2").replace("</h1", "</h2"),
            tags=_TAGS,
            attributes=_ATTRIBUTES,
            url_schemes=_SCHEMES,
            link_rel=None,
        )
        return _LINK.sub(self._link, _HEADING.sub(_shifted(heading), cleaned))

    def _link(self, match: re.Match[str]) -> str:
        kind, words = match["kind"], match["words"]
        if kind not in LINK_KINDS:
            return match.group()
        ids = [unescape(part).strip() for part in match["targets"].replace("%20", " ").split(",")]
        if kind == "source":
            located = is_locator(unescape(words))
            cited = self.references.cite((id, unescape(words) if located and id == ids[0] else "") for id in ids)
            return cited if located else words + cited
        return ", ".join(self._pointed(kind, id, words) for id in ids)

    def _pointed(self, kind: str, id: str, words: str) -> str:
        target = self.find(kind, id)
        if target is None:
            return words or escape(id)
        shown = words or escape(target.mark or target.name)
        mark = f" ({escape(target.mark)})" if words and target.mark else ""
        return (f'<a href="{escape(target.href)}">{shown}</a>' if target.href else shown) + mark


def _practice() -> str:
    return f'<span class="practice">{escape(gettext("common practice"))}</span>'


def _shifted(heading: int) -> Callable[[re.Match[str]], str]:
    def shift(match: re.Match[str]) -> str:
        level = min(_LOWEST_HEADING, int(match[2]) - 2 + heading)
        return f"<{match[1]}h{level}>"

    return shift


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

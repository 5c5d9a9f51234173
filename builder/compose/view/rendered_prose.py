"""Prose of one document: HTML from Markdown, cleaned, its links turned into numbers and anchors of that document."""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass
from html import escape, unescape

import nh3

from builder.compose.view.references import References
from builder.load.prose import LINK_KINDS, Prose
from builder.model.citation import is_locator

_TAGS = {
    "a", "abbr", "b", "blockquote", "br", "code", "em", "h2", "h3", "h4", "h5", "h6", "hr", "i", "li", "ol", "p",
    "pre", "strong", "sub", "sup", "table", "tbody", "td", "th", "thead", "tr", "ul",
}  # fmt: skip
_ATTRIBUTES = {"a": {"href"}, "abbr": {"title"}, "ol": {"start"}}
_SCHEMES = {"https", "http", "mailto", "tel", *LINK_KINDS}
_LINK = re.compile(r'<a href="(?P<kind>[a-z]+):(?P<targets>[^"]*)"[^>]*>(?P<words>.*?)</a>', re.DOTALL)
_HEADING = re.compile(r"<(/?)h([1-6])>")
_LOWEST_HEADING = 6


@dataclass(frozen=True, slots=True)
class LinkTarget:
    """What a link leads to in this document: ``href`` ("" = not in it), its ``name``, its ``mark`` such as step 4."""

    href: str
    name: str
    mark: str = ""


FindTarget = Callable[[str, str], LinkTarget | None]
"""Finds a target by kind and id."""


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


def _shifted(heading: int) -> Callable[[re.Match[str]], str]:
    def shift(match: re.Match[str]) -> str:
        level = min(_LOWEST_HEADING, int(match[2]) - 2 + heading)
        return f"<{match[1]}h{level}>"

    return shift

"""What was composed, as text and structure: the other side of every comparison with a finished file."""

from __future__ import annotations

import unicodedata
from dataclasses import dataclass, field
from functools import lru_cache
from html.parser import HTMLParser

_SILENT = {"head", "style", "script", "title", "template"}
_HEADINGS = {"h1", "h2", "h3", "h4", "h5", "h6"}


@lru_cache(maxsize=4096)  # each proof looks at each piece of text
def bare(text: str) -> str:
    """Return ``text`` as it is compared: no white space, no capitals, compatibility forms made equal."""
    folded = unicodedata.normalize("NFKC", text).casefold().replace("ʼ", "’").replace("∆", "δ")
    return "".join(folded.replace("\u00ad", "").replace("\u200b", "").split())


@dataclass
class Composed:
    """The body of composed HTML: its words, headings ``(level, words)``, descriptions of pictures, numbers of tables,
    header cells and data cells, and the language."""

    language: str = ""
    title: str = ""
    text: str = ""
    headings: list[tuple[str, str]] = field(default_factory=list)
    pictures: list[str] = field(default_factory=list)
    tables: int = 0
    headers: int = 0
    cells: int = 0


@lru_cache(maxsize=2)  # two proofs compare with it
def composed(html: str) -> Composed:
    """Read ``html`` as composed for print."""
    reader = _ComposedReader()
    reader.feed(html)
    reader.close()
    reader.found.text = bare("".join(reader.parts))
    return reader.found


class _ComposedReader(HTMLParser):
    def __init__(self) -> None:
        super().__init__(convert_charrefs=True)
        self.found = Composed()
        self.parts: list[str] = []
        self._silent: list[str] = []
        self._heading: list[str] | None = None

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        values = dict(attrs)
        if tag in _SILENT:
            self._silent.append(tag)
        elif tag == "html":
            self.found.language = values.get("lang") or ""
        elif tag in _HEADINGS:
            self._heading = []
        elif tag == "img":
            self.found.pictures.append(values.get("alt") or "")
        self.found.tables += tag == "table"
        self.found.headers += tag == "th"
        self.found.cells += tag == "td"

    def handle_endtag(self, tag: str) -> None:
        if self._silent and tag == self._silent[-1]:
            self._silent.pop()
        elif tag in _HEADINGS and self._heading is not None:
            self.found.headings.append((tag.upper(), bare("".join(self._heading))))
            self._heading = None

    def handle_data(self, data: str) -> None:
        if self._silent:
            if self._silent[-1] == "title":
                self.found.title += data
            return
        self.parts.append(data)
        if self._heading is not None:
            self._heading.append(data)

"""What all proofs share: words as they are compared, what was composed, what is missing, and what a proof tells."""

from __future__ import annotations

import unicodedata
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass, field
from functools import lru_cache
from html.parser import HTMLParser

from builder.compose.document import Must
from builder.findings.message_words import quoted

_SILENT = {"head", "style", "script", "title", "template"}
_HEADINGS = {"h1", "h2", "h3", "h4", "h5", "h6"}


@dataclass(frozen=True, slots=True)
class FileRead:
    """What was found in a finished file: the ``problems``, and of paper and slides how many ``pages`` it has and the
    smallest type in pt, as painted."""

    problems: tuple[str, ...]
    pages: int | None = None
    smallest_type_pt: float | None = None


@lru_cache(maxsize=4096)  # each proof looks at each piece of text
def bare(text: str) -> str:
    """Return ``text`` as it is compared: no white space, no capitals, compatibility forms made equal."""
    folded = unicodedata.normalize("NFKC", text).casefold().replace("ʼ", "’").replace("∆", "δ")
    return "".join(folded.replace("\u00ad", "").replace("\u200b", "").split())


def named(must: Must) -> str:
    """Return what a problem calls ``must``."""
    return f"the {must.kind.replace('-', ' ')} {quoted(must.id)} (“{must.text[:70]}”)"


def missing(musts: Iterable[Must], shown: str, compared: Callable[[str], str] = bare) -> Iterator[str]:
    """Yield which of ``musts`` are not in ``shown``, words as they are ``compared``, or not in their order."""
    at = 0
    for must in musts:
        words = compared(must.text)
        found = shown.find(words, at)
        if found >= 0:
            at = found + len(words)
        else:
            yield f"{named(must)} {'stands before what it should follow' if words in shown else 'is not there'}"


def parting(wanted: str, shown: str) -> str:
    """Return in words where ``shown`` parts from the words ``wanted``."""
    signs = enumerate(zip(wanted, shown, strict=False))
    at = next((at for at, (sign, other) in signs if sign != other), min(len(wanted), len(shown)))
    before, after = wanted[max(0, at - 30) : at], wanted[at : at + 60]
    return f"after “{before}” should stand “{after}”, but there stands “{shown[at : at + 60]}”"


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
    reader.composed.text = bare("".join(reader.parts))
    return reader.composed


class _ComposedReader(HTMLParser):
    def __init__(self) -> None:
        super().__init__(convert_charrefs=True)
        self.composed = Composed()
        self.parts: list[str] = []
        self._silent: list[str] = []
        self._heading: list[str] | None = None

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        values = dict(attrs)
        if tag in _SILENT:
            self._silent.append(tag)
        elif tag == "html":
            self.composed.language = values.get("lang") or ""
        elif tag in _HEADINGS:
            self._heading = []
        elif tag == "img":
            self.composed.pictures.append(values.get("alt") or "")
        self.composed.tables += tag == "table"
        self.composed.headers += tag == "th"
        self.composed.cells += tag == "td"

    def handle_endtag(self, tag: str) -> None:
        if self._silent and tag == self._silent[-1]:
            self._silent.pop()
        elif tag in _HEADINGS and self._heading is not None:
            self.composed.headings.append((tag.upper(), bare("".join(self._heading))))
            self._heading = None

    def handle_data(self, data: str) -> None:
        if self._silent:
            if self._silent[-1] == "title":
                self.composed.title += data
            return
        self.parts.append(data)
        if self._heading is not None:
            self._heading.append(data)

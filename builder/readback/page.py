"""Reads a finished page back: all it promised is there, visible, in order; every link and picture leads somewhere."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass
from html.parser import HTMLParser
from pathlib import Path
from urllib.parse import unquote, urlsplit

from builder.compose.document import Document

NAMES = (
    "everything promised is shown, visible and in order",
    "every link and picture leads to something that was published",
    "nothing is fetched from elsewhere",
)
_SILENT = frozenset({"script", "style", "template", "title", "svg"})
_FOLDED = frozenset({"details", "dialog"})
_EMPTY = frozenset({"br", "hr", "img", "input", "link", "meta", "wbr", "path", "rect", "circle"})
_FETCHING = {"img": "src", "script": "src", "link": "href", "iframe": "src", "object": "data", "embed": "src"}


@dataclass(frozen=True, slots=True)
class PageRead:
    """What was found in a page; a page has no paper, so ``pages`` and ``smallest_type_pt`` are None."""

    problems: tuple[str, ...]
    pages: int | None = None
    smallest_type_pt: float | None = None


def read_back(document: Document, path: Path) -> PageRead:
    """Return what is wrong with the page at ``path`` that was made of ``document``."""
    reader = _Reader()
    reader.feed(path.read_text(encoding="utf-8"))
    reader.close()
    return PageRead((*_missing(document, reader), *_repeated(reader), *_dead_ends(reader, path)))


class _Reader(HTMLParser):
    """Collects what a reader sees, and what the page points to."""

    def __init__(self) -> None:
        super().__init__()
        self.words: list[str] = []
        self.ids: list[str] = []
        self.links: list[str] = []
        self.fetched: list[str] = []
        self._hidden: list[str] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        named = dict(attrs)
        if "id" in named:
            self.ids.append(named["id"] or "")
        if tag == "a" and named.get("href"):
            self.links.append(named["href"] or "")
        if _FETCHING.get(tag) in named and named.get("rel") != "canonical":
            self.fetched.append(named[_FETCHING[tag]] or "")
        hides = tag in _SILENT or tag in _FOLDED or "hidden" in named
        if tag not in _EMPTY and (hides or self._hidden):
            self._hidden.append(tag)
        elif not self._hidden:
            self.words.append(" ")

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        pass

    def handle_endtag(self, tag: str) -> None:
        if self._hidden and tag in self._hidden:
            while self._hidden.pop() != tag:
                pass
        else:
            self.words.append(" ")

    def handle_data(self, data: str) -> None:
        if not self._hidden:
            self.words.append(data)


def _plain(text: str) -> str:
    return "".join(text.split())


def _missing(document: Document, reader: _Reader) -> Iterator[str]:
    """Yield what is not shown behind what stands before it. Spaces do not count: tags may stand between words."""
    shown = _plain("".join(reader.words))
    at = 0
    for must in document.musts:
        text = _plain(must.text)
        found = shown.find(text, at)
        if found >= 0:
            at = found + len(text)
        elif text in shown:
            yield f"the {must.kind} {must.text!r} is not where it belongs in the reading order"
        else:
            yield f"the {must.kind} {must.text!r} is not shown"


def _repeated(reader: _Reader) -> Iterator[str]:
    for id, count in Counter(reader.ids).items():
        if count > 1:
            yield f"the mark {id!r} stands {count} times, so links to it are uncertain"


def _dead_ends(reader: _Reader, path: Path) -> Iterator[str]:
    marks = set(reader.ids)
    for link in dict.fromkeys(reader.links):
        parts = urlsplit(link)
        if not parts.scheme and not parts.path:
            if unquote(parts.fragment) not in marks:
                yield f"the link {link!r} leads nowhere"
        elif not parts.scheme and not parts.netloc and not _exists(path, parts.path):
            yield f"the link {link!r} leads to a file that was not published"
    for name in dict.fromkeys(reader.fetched):
        parts = urlsplit(name)
        if parts.scheme == "data":
            continue
        if parts.scheme or parts.netloc:
            yield f"{name!r} would be fetched from elsewhere"
        elif not _exists(path, parts.path):
            yield f"{name!r} is shown and was not published"


def _exists(page: Path, name: str) -> bool:
    return (page.parent / unquote(name)).is_file()

"""Reads a finished page back: all it promised is there, visible, in order; every link and picture leads somewhere."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from os.path import isfile
from pathlib import Path
from urllib.parse import unquote, urlsplit

from builder.compose.document import Document
from builder.findings.message_words import quoted
from builder.readback.comparison import FileRead, missing
from builder.readback.site.shown import PageContent, shown_by

NAMES = (
    "everything promised is shown, visible and in order",
    "every link and picture leads to something that was published",
    "nothing is fetched from elsewhere",
)


def read_back(document: Document, path: Path) -> FileRead:
    """Return what is wrong with the page at ``path`` that was made of ``document``."""
    shown = shown_by(path.read_bytes())
    # Spaces do not count: tags may stand between words.
    lost = missing(document.musts, _unspaced("".join(shown.words)), _unspaced)
    return FileRead((*shown.spoilt, *lost, *_repeated(shown.ids), *_dead_ends(shown, path)))


def _unspaced(text: str) -> str:
    return "".join(text.split())


def _repeated(ids: list[str]) -> Iterator[str]:
    if len(set(ids)) == len(ids):
        return
    for id, count in Counter(ids).items():
        if count > 1:
            yield f"the mark {quoted(id)} stands {count} times, so links to it are uncertain"


def _dead_ends(shown: PageContent, path: Path) -> Iterator[str]:
    marks = set(shown.ids)
    for link in dict.fromkeys(shown.links):
        if link.startswith("#"):
            if unquote(link[1:]) not in marks:
                yield f"the link {quoted(link)} leads nowhere"
            continue
        parts = urlsplit(link)
        if not parts.scheme and not parts.netloc and not _exists(path, parts.path):
            yield f"the link {quoted(link)} leads to a file that was not published"
    for name in dict.fromkeys(shown.fetched):
        parts = urlsplit(name)
        if parts.scheme == "data":
            continue
        if parts.scheme or parts.netloc:
            yield f"{quoted(name)} would be fetched from elsewhere"
        elif not _exists(path, parts.path):
            yield f"{quoted(name)} is shown and was not published"


def _exists(page: Path, name: str) -> bool:
    # Where the site lies on a server, or in which folder of a share, nobody knows here: ways from the top lead nowhere.
    if name.startswith("/"):
        return False
    return isfile(f"{page.parent}/{unquote(name)}")  # noqa: PTH113  # a dozen times a page: pathlib takes five times as long

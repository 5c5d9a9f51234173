"""Reads a plain text back: all it promised is there, in order, and nothing in it needs more than a reader of text."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from builder.compose.document import Document
from builder.findings.message_words import quoted
from builder.readback.composed_words import bare

NAMES = (
    "everything promised is there, in order",
    "the file is the text that was composed, in UTF-8, without tags or control characters",
)
_ESCAPES = ("&#", "&amp;", "&lt;", "&gt;", "&quot;")


@dataclass(frozen=True, slots=True)
class TextRead:
    """What was found in a text; a text has no paper, so ``pages`` and ``smallest_type_pt`` are None."""

    problems: tuple[str, ...]
    pages: int | None = None
    smallest_type_pt: float | None = None


def read_back(document: Document, path: Path) -> TextRead:
    """Return what is wrong with the text at ``path`` that was made of ``document``."""
    try:
        text = path.read_bytes().decode("utf-8")
    except UnicodeDecodeError as error:
        return TextRead((f"it is not UTF-8: {error}",))
    return TextRead((*_spoilt(document, text), *_missing(document, text)))


def _spoilt(document: Document, text: str) -> Iterator[str]:
    if text != document.text:
        yield "it is not the text that was composed"
    if any(ord(sign) < 32 and sign != "\n" for sign in text):
        yield "it holds control characters"
    yield from (f"it holds {quoted(sign)}, which is markup and no text" for sign in _ESCAPES if sign in text)


def _missing(document: Document, text: str) -> Iterator[str]:
    shown, at = bare(text), 0
    for must in document.musts:
        words = bare(must.text)
        found = shown.find(words, at)
        if found >= 0:
            at = found
        else:
            where = "stands before what it should follow" if words in shown else "is not there"
            yield f"the {must.kind.replace('-', ' ')} {quoted(must.id)} (“{must.text[:70]}”) {where}"

"""Reads a plain text back: all it promised is there, in order, and nothing in it needs more than a reader of text."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

from builder.compose.document import Document
from builder.findings.message_words import quoted
from builder.readback.comparison import FileRead, bare, missing

NAMES = (
    "everything promised is there, in order",
    "the file is the text that was composed, in UTF-8, without tags or control characters",
)
_ESCAPES = ("&#", "&amp;", "&lt;", "&gt;", "&quot;")


def read_back(document: Document, path: Path) -> FileRead:
    """Return what is wrong with the text at ``path`` that was made of ``document``."""
    try:
        text = path.read_bytes().decode("utf-8")
    except UnicodeDecodeError as error:
        return FileRead((f"it is not UTF-8: {error}",))
    return FileRead((*_spoilt(document, text), *missing(document.musts, bare(text))))


def _spoilt(document: Document, text: str) -> Iterator[str]:
    if text != document.text:
        yield "it is not the text that was composed"
    if any(ord(sign) < 32 and sign != "\n" for sign in text):
        yield "it holds control characters"
    yield from (f"it holds {quoted(sign)}, which is markup and no text" for sign in _ESCAPES if sign in text)

"""Reads a table in CSV back: every row as composed, in order, and nothing that a spreadsheet would run."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterator
from itertools import zip_longest
from pathlib import Path

from builder.compose.document import Document
from builder.findings.message_words import quoted
from builder.readback.comparison import FileRead

NAMES = (
    "every row is there with all its cells, in order, and no other",
    "the file is UTF-8 with its mark, and no cell begins like a formula",
)
_MARK = b"\xef\xbb\xbf"
_FORMULA = ("=", "+", "-", "@", "\t", "\r")


def read_back(document: Document, path: Path) -> FileRead:
    """Return what is wrong with the table at ``path`` that was made of ``document``; its musts are its rows."""
    raw = path.read_bytes()
    try:
        text = raw.removeprefix(_MARK).decode("utf-8")
    except UnicodeDecodeError as error:
        return FileRead((f"it is not UTF-8: {error}",))
    problems = [] if raw.startswith(_MARK) else ["it does not begin with the mark of UTF-8"]
    rows = list(csv.reader(io.StringIO(text, newline=""), strict=True))
    return FileRead((*problems, *_wrong_rows(document, rows), *_formulas(rows)))


def _wrong_rows(document: Document, rows: list[list[str]]) -> Iterator[str]:
    for must, row in zip_longest(document.musts, rows):
        if must is None:
            yield f"the row {quoted(' | '.join(row)[:70])} was never promised"
        elif row is None or "\t".join(row) != must.text:
            yield f"row {must.id} ({quoted(must.text[:70])}) is not as promised"
    if any(len(row) != len(rows[0]) for row in rows):
        yield "its rows are not equally long"


def _formulas(rows: list[list[str]]) -> Iterator[str]:
    for row in rows:
        yield from (f"the cell {quoted(cell[:40])} begins like a formula" for cell in row if cell.startswith(_FORMULA))

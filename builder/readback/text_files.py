"""Reads a plain text or a table in CSV back: all that it promised is there, in order, and nothing that could act."""

import csv
import io
from collections.abc import Callable, Iterator
from functools import partial
from itertools import zip_longest
from pathlib import Path

from builder.compose.document import Document
from builder.compose.site.page_citation import words_of_record
from builder.findings.message_words import quoted
from builder.load.sources.import_file import read_records
from builder.publish.build_report import FileRead
from builder.publish.output import Proof
from builder.readback.comparison import bare, missing

_ESCAPES = ("&#", "&amp;", "&lt;", "&gt;", "&quot;")
_MARK = "\ufeff"
_FORMULA = ("=", "+", "-", "@", "\t", "\r")


def _read_back(wrong_with: Callable[[Document, str], Iterator[str]], document: Document, path: Path) -> FileRead:
    try:
        return FileRead(tuple(wrong_with(document, path.read_bytes().decode("utf-8"))))
    except UnicodeDecodeError as error:
        return FileRead((f"it is not UTF-8: {error}",))


def _wrong_with_text(document: Document, text: str) -> Iterator[str]:
    if text != document.text:
        yield "it is not the text that was composed"
    if any(ord(sign) < 32 and sign != "\n" for sign in text):
        yield "it holds control characters"
    yield from (f"it holds {quoted(sign)}, which is markup and no text" for sign in _ESCAPES if sign in text)
    yield from missing(document.musts, bare(text))


def _wrong_with_table(document: Document, text: str) -> Iterator[str]:
    if not text.startswith(_MARK):
        yield "it does not begin with the mark of UTF-8"
    rows = list(csv.reader(io.StringIO(text.removeprefix(_MARK), newline=""), strict=True))
    for must, row in zip_longest(document.musts, rows):
        if must is None:
            yield f"the row {quoted(' | '.join(row)[:70])} was never promised"
        elif row is None or "\t".join(row) != must.text:
            yield f"row {must.id} ({quoted(must.text[:70])}) is not as promised"
    if any(len(row) != len(rows[0]) for row in rows):
        yield "its rows are not equally long"
    for row in rows:
        yield from (f"the cell {quoted(cell[:40])} begins like a formula" for cell in row if cell.startswith(_FORMULA))


def _wrong_with_records(document: Document, text: str) -> Iterator[str]:
    read = read_records(text, document.name)
    for must, record in zip_longest(document.musts, read.records):
        if must is None or record is None or words_of_record(record) != must.text:
            told = f"is read as {quoted(words_of_record(record)[:200])}" if record else "is not there"
            yield f"the reference {quoted(must.text[:200] if must else '')} {told}"


RECORDS = Proof(
    ("every reference comes back with the same words when the file is read as a reference manager reads it",),
    partial(_read_back, _wrong_with_records),
)
TEXT = Proof(
    (
        "everything promised is there, in order",
        "the file is the text that was composed, in UTF-8, without tags or control characters",
    ),
    partial(_read_back, _wrong_with_text),
)
TABLE = Proof(
    (
        "every row is there with all its cells, in order, and no other",
        "the file is UTF-8 with its mark, and no cell begins like a formula",
    ),
    partial(_read_back, _wrong_with_table),
)
"""The musts of a table are its rows."""

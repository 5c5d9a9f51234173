"""Lists of notices: papers that were retracted, corrected, doubted or superseded. The format is our own.

Lines that start with ``#`` come first and hold ``name: value``; ``dated`` (a day) says how fresh the list is. Then CSV
after RFC 4180 with the columns doi, pmid, kind, date, note and, for guidelines, successor::

    # list: retractions known to the library of the trust
    # dated: 2026-11-20
    doi,pmid,kind,date,note,successor
    10.1056/NEJMoa2007621,,retracted,2020-06-04,data could not be audited,
"""

import csv
import io
import re
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date
from enum import StrEnum
from functools import lru_cache

from builder.findings.finding import Finding
from builder.findings.message_words import quoted
from builder.findings.register import finding
from builder.load.sources.identifiers import doi_of, is_doi, is_pmid, pmid_of, same_doi
from builder.place import Place

COLUMNS = ("doi", "pmid", "kind", "date", "note", "successor")
_NEEDED = frozenset(COLUMNS[:4])
_HEAD = re.compile(r'^"?#\s*(?P<name>[a-z]+)\s*:\s*(?P<value>[^"]*?)[\s",;]*$')
_DATE = re.compile(r"\d{4}(?:-\d{2}(?:-\d{2})?)?")


class NoticeKind(StrEnum):
    """What became of a source, the gravest first."""

    RETRACTED = "retracted"
    CONCERN = "concern"
    SUPERSEDED = "superseded"
    CORRECTED = "corrected"


@dataclass(frozen=True, slots=True)
class Notice:
    """One row: which paper (``doi`` as compared, ``pmid``), what, when (year, month or day), why, what replaces it."""

    kind: NoticeKind
    doi: str
    pmid: str
    date: str
    note: str
    successor: str
    at: Place


@dataclass(frozen=True, slots=True)
class NoticeList:
    """One file of notices. ``dated`` is None where the head does not say, or where ``written_day`` is not a day."""

    at: Place
    dated: date | None = None
    title: str = ""
    notices: tuple[Notice, ...] = ()
    faults: tuple[Finding, ...] = ()
    written_day: str = ""


def fault(at: Place, message: str, hint: str) -> Finding:
    """Make the finding that a row, or the head of a list, cannot be used."""
    return finding("notices-unreadable", at, message, hint)


@lru_cache(maxsize=64)
def read_notices(text: str, file: str) -> NoticeList:
    """Return the notices in ``text``. Rows that cannot be used are faults; those around them are kept."""
    lines = [f"{line}\n" for line in text.split("\n")]
    head, first = _read_head(lines, file)
    rows = list(_read_rows(lines[first:], file, first))
    notices = tuple(row for row in rows if isinstance(row, Notice))
    faults = [row for row in rows if isinstance(row, Finding)]
    written, at = head.get("dated", ("", Place(file)))
    dated = None
    try:
        dated = date.fromisoformat(written) if written else None
    except ValueError:
        hint = "Write the day the list was made as year-month-day, for instance `# dated: 2026-11-20`."
        faults.append(fault(at, f"{quoted(written)} is not a date", hint))
    return NoticeList(at, dated, head.get("list", ("", at))[0], notices, tuple(faults), written)


def _read_head(lines: list[str], file: str) -> tuple[dict[str, tuple[str, Place]], int]:
    """Return what the lines with ``#`` say, and the index of the first line behind them."""
    head: dict[str, tuple[str, Place]] = {}
    for index, line in enumerate(lines):
        match = _HEAD.match(line.rstrip("\r\n"))
        if match:
            head[match["name"]] = (match["value"].strip(), Place(file, index + 1, match.start("value") + 1))
        elif line.strip(' \t\r\n,;"') and not line.lstrip('" ').startswith("#"):
            return head, index
    return head, len(lines)


def _read_rows(lines: list[str], file: str, before: int) -> Iterator[Notice | Finding]:
    """Yield each row as a notice, or what is wrong with it."""
    reader = csv.reader(io.StringIO("".join(lines)), strict=True)
    names: list[str] | None = None
    start = before + 1
    try:
        for row in reader:
            at = Place(file, start)
            start = before + reader.line_num + 1
            if not any(cell.strip() for cell in row):
                continue
            if names is None:
                names = [cell.strip().lower() for cell in row]
                if wrong := _unknown_head(names, at):
                    yield wrong
                    return
            elif len(row) != len(names):
                message = f"this row has {len(row)} values for {len(names)} columns"
                yield fault(at, message, "Put quotation marks around every value that holds a comma.")
            else:
                cells = {name: cell.strip() for name, cell in zip(names, row, strict=True)}
                faults = list(_row_faults(cells, at, lines[at.line - before - 1]))
                yield from faults
                if not faults:
                    yield _notice(cells, at)
    except csv.Error as error:
        hint = "Put quotation marks around every value that holds a comma, and double those inside."
        yield fault(Place(file, start), f"this row cannot be read: {error}", hint)
    if names is None:
        hint = f"Write the columns in the first row: {','.join(COLUMNS)}."
        yield fault(Place(file), "the list has no columns", hint)


def _unknown_head(names: list[str], at: Place) -> Finding | None:
    words = [f"no column {quoted(name)}" for name in COLUMNS if name in _NEEDED and name not in names]
    words += [f"an unknown column {quoted(name)}" for name in names if name not in COLUMNS]
    hint = f"Write the columns: {','.join(COLUMNS)}. For an export, use `prescrub sources notices FILE`."
    return fault(at, f"the list has {', '.join(words)}", hint) if words else None


def _notice(cells: dict[str, str], at: Place) -> Notice:
    kind, doi, pmid = NoticeKind(cells["kind"].lower()), same_doi(cells["doi"]), pmid_of(cells["pmid"])
    return Notice(kind, doi, pmid, cells["date"], cells.get("note", ""), cells.get("successor", ""), at)


def _row_faults(cells: dict[str, str], at: Place, line: str) -> Iterator[Finding]:
    def place(cell: str) -> Place:
        """Return the place of ``cell`` in the row's first line, else that of the row."""
        index = line.find(cell) if cell else -1
        return Place(at.file, at.line, index + 1) if index > 0 else at

    kinds = [kind.value for kind in NoticeKind]
    kind, doi, pmid, day = (cells[name] for name in ("kind", "doi", "pmid", "date"))
    if kind.lower() not in kinds:
        yield fault(place(kind), f"{quoted(kind)} is not a kind of notice", f"Write one of: {', '.join(kinds)}.")
    if not doi and not pmid:
        yield fault(at, "this row names no paper", "Write its DOI or its PMID.")
    if doi and not is_doi(doi_of(doi)):
        yield fault(place(doi), f"{quoted(doi)} is not a DOI", "Copy the DOI again; it looks like 10.1002/bjs.5651.")
    if pmid and not is_pmid(pmid_of(pmid)):
        yield fault(place(pmid), f"{quoted(pmid)} is not a PMID", "A PMID has 1 to 8 digits.")
    if not _DATE.fullmatch(day):
        hint = "Write a year, year-month or year-month-day, for instance 2020-06-04."
        yield fault(place(day), f"{quoted(day)} is not a date", hint)
    if kind.lower() == NoticeKind.SUPERSEDED.value and not cells.get("successor"):
        yield fault(at, "what supersedes this source is not named", "Name it in the column `successor`.")

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
from dataclasses import dataclass, field
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


@dataclass
class _Reading:
    head: dict[str, tuple[str, Place]] = field(default_factory=dict)
    notices: list[Notice] = field(default_factory=list)
    faults: list[Finding] = field(default_factory=list)


def fault(at: Place, message: str, hint: str) -> Finding:
    """Make the finding that a row, or the head of a list, cannot be used."""
    return finding("notices-unreadable", at, message, hint)


@lru_cache(maxsize=64)
def read_notices(text: str, file: str) -> NoticeList:
    """Return the notices in ``text``. Rows that cannot be used are faults; those around them are kept."""
    reading = _Reading()
    lines = [f"{line}\n" for line in text.split("\n")]
    first = _read_head(lines, file, reading)
    _read_rows(lines[first:], file, first, reading)
    written, at = reading.head.get("dated", ("", Place(file)))
    dated = _dated(written, at, reading)
    title = reading.head.get("list", ("", at))[0]
    return NoticeList(at, dated, title, tuple(reading.notices), tuple(reading.faults), written)


def _read_head(lines: list[str], file: str, reading: _Reading) -> int:
    """Read the lines with ``#`` and return the index of the first line behind them."""
    for index, line in enumerate(lines):
        match = _HEAD.match(line.rstrip("\r\n"))
        if match:
            reading.head[match["name"]] = (match["value"].strip(), Place(file, index + 1, match.start("value") + 1))
        elif line.strip(' \t\r\n,;"') and not line.lstrip('" ').startswith("#"):
            return index
    return len(lines)


def _dated(written: str, at: Place, reading: _Reading) -> date | None:
    try:
        return date.fromisoformat(written) if written else None
    except ValueError:
        hint = "Write the day the list was made as year-month-day, for instance `# dated: 2026-11-20`."
        reading.faults.append(fault(at, f"{quoted(written)} is not a date", hint))
        return None


def _read_rows(lines: list[str], file: str, before: int, reading: _Reading) -> None:
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
                if not _known_head(names, at, reading):
                    return
            else:
                _read_row(names, row, _Row(at, lines[at.line - before - 1]), reading)
    except csv.Error as error:
        hint = "Put quotation marks around every value that holds a comma, and double those inside."
        reading.faults.append(fault(Place(file, start), f"this row cannot be read: {error}", hint))
    if names is None:
        hint = f"Write the columns in the first row: {','.join(COLUMNS)}."
        reading.faults.append(fault(Place(file), "the list has no columns", hint))


def _known_head(names: list[str], at: Place, reading: _Reading) -> bool:
    missing = [name for name in COLUMNS if name in _NEEDED and name not in names]
    unknown = [name for name in names if name not in COLUMNS]
    if missing or unknown:
        words = [f"no column {quoted(name)}" for name in missing] + [
            f"an unknown column {quoted(name)}" for name in unknown
        ]
        hint = f"Write the columns: {','.join(COLUMNS)}. For an export, use `prescrub sources notices FILE`."
        reading.faults.append(fault(at, f"the list has {', '.join(words)}", hint))
    return not missing and not unknown


@dataclass(frozen=True, slots=True)
class _Row:
    at: Place
    line: str

    def place(self, cell: str) -> Place:
        """Return the place of ``cell`` in the row's first line, else that of the row."""
        index = self.line.find(cell) if cell else -1
        return Place(self.at.file, self.at.line, index + 1) if index > 0 else self.at


def _read_row(names: list[str], row: list[str], where: _Row, reading: _Reading) -> None:
    faults = list(_row_faults(names, row, where))
    reading.faults.extend(faults)
    if faults:
        return
    cells = {name: cell.strip() for name, cell in zip(names, row, strict=True)}
    notice = Notice(
        NoticeKind(cells["kind"].lower()),
        same_doi(cells["doi"]),
        pmid_of(cells["pmid"]),
        cells["date"],
        cells.get("note", ""),
        cells.get("successor", ""),
        where.at,
    )
    reading.notices.append(notice)


def _row_faults(names: list[str], row: list[str], where: _Row) -> Iterator[Finding]:
    if len(row) != len(names):
        message = f"this row has {len(row)} values for {len(names)} columns"
        yield fault(where.at, message, "Put quotation marks around every value that holds a comma.")
        return
    cells = {name: cell.strip() for name, cell in zip(names, row, strict=True)}
    kinds = [kind.value for kind in NoticeKind]
    if cells["kind"].lower() not in kinds:
        hint = f"Write one of: {', '.join(kinds)}."
        yield fault(where.place(cells["kind"]), f"{quoted(cells['kind'])} is not a kind of notice", hint)
    if not cells["doi"] and not cells["pmid"]:
        yield fault(where.at, "this row names no paper", "Write its DOI or its PMID.")
    if cells["doi"] and not is_doi(doi_of(cells["doi"])):
        message = f"{quoted(cells['doi'])} is not a DOI"
        yield fault(where.place(cells["doi"]), message, "Copy the DOI again; it looks like 10.1002/bjs.5651.")
    if cells["pmid"] and not is_pmid(pmid_of(cells["pmid"])):
        yield fault(where.place(cells["pmid"]), f"{quoted(cells['pmid'])} is not a PMID", "A PMID has 1 to 8 digits.")
    if not _DATE.fullmatch(cells["date"]):
        hint = "Write a year, year-month or year-month-day, for instance 2020-06-04."
        yield fault(where.place(cells["date"]), f"{quoted(cells['date'])} is not a date", hint)
    if cells["kind"].lower() == NoticeKind.SUPERSEDED.value and not cells.get("successor"):
        yield fault(where.at, "what supersedes this source is not named", "Name it in the column `successor`.")

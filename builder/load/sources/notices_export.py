"""An export of the public retraction data set (Crossref hands it out as CSV): what of it concerns a department.

The columns are those of such exports as code in public repositories reads them: Title, RetractionDate, RetractionDOI,
OriginalPaperDOI, OriginalPaperPubMedID, RetractionNature, Reason, Notes and others that are passed over. Dates are
written month/day/year with a time, or as ISO dates; an identifier that is not known is 0, empty or "unavailable".
"""

import csv
import io
import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import date

from builder.findings.finding import Finding
from builder.findings.message_words import quoted
from builder.load.sources.bibliography import RawSource
from builder.load.sources.identifiers import doi_of, is_doi, is_pmid, pmid_of, same_doi
from builder.load.sources.notices import COLUMNS, NoticeKind, fault, read_notices
from builder.place import Place

_NEEDED = ("OriginalPaperDOI", "OriginalPaperPubMedID", "RetractionDate", "RetractionNature")
_KINDS = {
    "retraction": NoticeKind.RETRACTED,
    "correction": NoticeKind.CORRECTED,
    "expression of concern": NoticeKind.CONCERN,
}
_REINSTATED = "reinstatement"
_US_DATE = re.compile(r"(?P<month>\d{1,2})/(?P<day>\d{1,2})/(?P<year>\d{4})(?: .*)?")
_ISO_DATE = re.compile(r"(?P<year>\d{4})-(?P<month>\d{2})-(?P<day>\d{2})(?:[T ].*)?")
_MOST_CELL = 1_000_000

Row = tuple[str, str, str, str, str, str]
"""doi, pmid, kind, date, note, successor: the columns of our own lists."""


@dataclass(frozen=True, slots=True)
class Export:
    """What an export says: ``kept`` rows that concern us, how many rows it ``read``, its newest date, what is wrong."""

    kept: tuple[Row, ...]
    read: int
    newest: date | None
    faults: tuple[Finding, ...]


def read_export(text: str, file: str, sources: Mapping[str, RawSource], today: date) -> Export:
    """Return the rows of ``text`` on papers that are among ``sources``, each once for each kind of notice.

    A later reinstatement takes a retraction back. ``newest`` is the newest date of a row that is not after ``today``:
    until then at least the list reaches. A list in our own format is taken as well.
    """
    dois, pmids = _wanted(sources)
    csv.field_size_limit(_MOST_CELL)
    reader = csv.DictReader(io.StringIO(text))
    try:
        names = reader.fieldnames or ()
    except csv.Error as error:
        return Export((), 0, None, (fault(Place(file), f"the first row cannot be read: {error}", _AGAIN),))
    if {"doi", "pmid", "kind"} <= {name.strip().lower() for name in names} or text.lstrip().startswith("#"):
        return _own(text, file, dois, pmids)
    missing = [name for name in _NEEDED if name not in names]
    if missing:
        hint = "Use the CSV file as it was downloaded, with its first row."
        return Export((), 0, None, (fault(Place(file), f"the export has no column {quoted(missing[0])}", hint),))
    taken = _Taken(dois, pmids, today)
    faults: list[Finding] = []
    try:
        for row in reader:
            faults.extend(taken.take(row, Place(file, reader.line_num)))
    except csv.Error as error:
        faults.append(fault(Place(file, reader.line_num), f"this row cannot be read: {error}", _AGAIN))
    return Export(tuple(taken.rows()), taken.read, taken.newest, tuple(faults))


_AGAIN = "Download the file again."


def _wanted(sources: Mapping[str, RawSource]) -> tuple[frozenset[str], frozenset[str]]:
    dois = frozenset(same_doi(source.fields["doi"]) for source in sources.values() if source.fields.get("doi"))
    return dois, frozenset(pmid_of(source.fields["pmid"]) for source in sources.values() if source.fields.get("pmid"))


def _own(text: str, file: str, dois: frozenset[str], pmids: frozenset[str]) -> Export:
    read = read_notices(text, file)
    rows = [
        (notice.doi, notice.pmid, notice.kind.value, notice.date, notice.note, notice.successor)
        for notice in read.notices
        if notice.doi in dois or notice.pmid in pmids
    ]
    return Export(tuple(rows), len(read.notices), read.dated, read.faults)


class _Taken:
    """The rows kept so far, by paper and kind; the newest row of a kind stands."""

    def __init__(self, dois: frozenset[str], pmids: frozenset[str], today: date) -> None:
        self.dois, self.pmids, self.today = dois, pmids, today
        self.by_paper: dict[tuple[str, str], dict[str, Row]] = {}
        self.read = 0
        self.newest: date | None = None

    def take(self, row: Mapping[str, str | None], at: Place) -> Iterator[Finding]:
        """Read one row; yield what is wrong with it where it concerns us."""
        self.read += 1
        day = _date(row.get("RetractionDate") or "")
        if day is not None and day <= self.today and (self.newest is None or day > self.newest):
            self.newest = day
        doi, pmid = doi_of(row.get("OriginalPaperDOI") or ""), pmid_of(row.get("OriginalPaperPubMedID") or "")
        doi, pmid = doi if is_doi(doi) else "", pmid if is_pmid(pmid) else ""
        if doi.lower() not in self.dois and pmid not in self.pmids:
            return
        nature = " ".join((row.get("RetractionNature") or "").lower().split())
        if nature not in _KINDS and nature != _REINSTATED:
            message = f"{quoted(row.get('RetractionNature'))} is not a kind of notice that we know"
            yield fault(at, message, "Look the paper up, and add it to the list by hand.")
            return
        if day is None:
            message = (
                f"{quoted(row.get('RetractionDate'))} is not a date; the notice on {doi or pmid} is kept without one"
            )
            yield fault(at, message, "Look the day up, and write it into the list.")
        kind = _KINDS[nature].value if nature in _KINDS else _REINSTATED
        kept_row: Row = (doi, pmid, kind, day.isoformat() if day else str(self.today.year), _note(row), "")
        held = self.by_paper.setdefault((doi.lower(), pmid), {})
        if kind not in held or held[kind][3] < kept_row[3]:
            held[kind] = kept_row

    def rows(self) -> Iterator[Row]:
        """Yield the rows that stand, in the order of papers and kinds."""
        for _, held in sorted(self.by_paper.items()):
            back = held.pop(_REINSTATED, None)
            retracted = held.get(NoticeKind.RETRACTED.value)
            if back is not None and retracted is not None and retracted[3] <= back[3]:
                del held[NoticeKind.RETRACTED.value]
            yield from (held[kind.value] for kind in NoticeKind if kind.value in held)


def _date(written: str) -> date | None:
    match = _US_DATE.fullmatch(written.strip()) or _ISO_DATE.fullmatch(written.strip())
    try:
        return date(int(match["year"]), int(match["month"]), int(match["day"])) if match else None
    except ValueError:
        return None


def _note(row: Mapping[str, str | None]) -> str:
    """The reasons stand as ``+Falsification of Data;+Misconduct by Author;``."""
    reasons = [part.strip().lstrip("+").strip() for part in (row.get("Reason") or "").split(";")]
    notice = doi_of(row.get("RetractionDOI") or "")
    told = [*(part for part in reasons if part), *([f"notice {notice}"] if is_doi(notice) else [])]
    return "; ".join(told)


def list_text(title: str, dated: date, rows: Iterator[Row] | tuple[Row, ...]) -> str:
    """Return a list of notices in our own format."""
    out = io.StringIO()
    out.write(f"# list: {' '.join(title.split())}\n# dated: {dated.isoformat()}\n")
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(COLUMNS)
    writer.writerows(rows)
    return out.getvalue()

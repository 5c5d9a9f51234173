"""Records written in lines with tags, as RIS and PubMed export them, and what exports put between the records.

They are read by our own two readers: the libraries for RIS keep no line numbers, pass over what they do not
understand without a word, and know no PubMed tags.
"""

import re
from collections.abc import Sequence
from dataclasses import dataclass, field

from builder.findings.finding import Finding
from builder.findings.message_words import quoted
from builder.findings.register import finding
from builder.place import Place

# What a database or a reference manager puts around its records: numbering, rulers, and lines about the export itself.
_AROUND = re.compile(
    r"(?:record\s*)?[#<(\[]*\d+(?:\s*(?:of|/)\s*\d+)?[.)>\]:]*|[-=_*~]{3,}|"
    r"(?:provider|database|content(?:-type)?|platform|vendor|host|export(?:ed)?(?: (?:on|from|by|date))?|date|"
    r"search(?: \w+)?|query|results?|records?|number of records|language|charset|encoding)\s*:.*",
    re.IGNORECASE,
)
_MARKS = "\ufeff\f"
"""A byte-order mark where two files were joined, and the sign that ends a printed page."""
_MOST_SHOWN = 3
_MOST_SIGNS = 40


@dataclass(frozen=True, slots=True)
class TagLayout:
    """How a format writes its records.

    ``line`` finds the groups ``tag`` and ``value``. A record begins with the tag ``begins`` and ends with ``ends``, or,
    where that is empty, with the next record. A line without a tag goes on with the one before if ``goes_on`` matches;
    under the tags ``lists`` each line is a value of its own.
    """

    line: re.Pattern[str]
    begins: str
    ends: str
    goes_on: re.Pattern[str]
    advice: str
    lists: frozenset[str] = frozenset()


@dataclass
class TaggedRecord:
    """One record: where it begins, and each tag with its value, in order."""

    at: Place
    lines: list[tuple[str, str]] = field(default_factory=list)

    def every(self, *tags: str) -> list[str]:
        """Return what stands under ``tags``, in the order of the lines."""
        return [value for tag, value in self.lines if tag in tags and value]

    def first(self, *tags: str) -> str:
        """Return what stands first under the first of ``tags`` that has anything."""
        return next((value for tag in tags for value in self.every(tag)), "")


def split(text: str, file: str, layout: TagLayout) -> tuple[list[TaggedRecord], list[Finding]]:
    """Return the records of ``text`` and what is wrong between them; a record without its end is left out."""
    reading = _TaggedReading(file, layout)
    for number, line in enumerate(text.split("\n"), start=1):
        reading.take(number, line)
    return reading.ended()


def tags_not_kept(records: Sequence[TaggedRecord], known: frozenset[str], file: str) -> list[Finding]:
    """Return a note that names the tags which no field takes, if there are any."""
    unknown = sorted({tag for record in records for tag, _ in record.lines} - known)
    hint = "Add what matters to the entry by hand."
    message = f"not kept: what stands under {', '.join(unknown)}"
    return [finding("tags-not-kept", Place(file), message, hint)] if unknown else []


class _TaggedReading:
    """The records so far, the one that is open, and the lines that belong to none."""

    def __init__(self, file: str, layout: TagLayout) -> None:
        self.file, self.layout = file, layout
        self.records: list[TaggedRecord] = []
        self.findings: list[Finding] = []
        self.open: TaggedRecord | None = None
        self.around: list[tuple[int, str]] = []
        self.strays: list[tuple[int, str]] = []

    def take(self, number: int, line: str) -> None:
        """Read one line."""
        bare = line.strip(_MARKS + " \t")
        match = self.layout.line.fullmatch(line.lstrip(_MARKS).rstrip())
        if match:
            self._tagged(number, match["tag"], " ".join((match["value"] or "").split()), bare)
        elif self.open is not None and self.open.lines and self.layout.goes_on.match(line):
            tag, value = self.open.lines[-1]
            if tag in self.layout.lists:
                self.open.lines.append((tag, bare))
            else:
                self.open.lines[-1] = (tag, f"{value} {bare}".strip())
        elif _AROUND.fullmatch(bare) or (not bare and line.strip(" \t")):
            self.around.append((number, bare))
        elif bare:
            self.strays.append((number, bare))

    def _tagged(self, number: int, tag: str, value: str, bare: str) -> None:
        if tag == self.layout.begins or (self.open is None and not self.layout.ends):
            self._end_open(f"has no end before line {number}")
            self.open = TaggedRecord(Place(self.file, number), [(tag, value)])
        elif self.open is None:
            self.strays.append((number, bare))
            return
        elif tag == self.layout.ends:
            self.records.append(self.open)
            self.open = None
        else:
            self.open.lines.append((tag, value))
        self._end_strays()

    def _end_open(self, fault: str) -> None:
        """Keep the open record; or, where the format says how a record ends, leave it out, for it may be cut short."""
        if self.open is not None and self.layout.ends:
            self._fault(self.open.at, f"the record that begins here {fault}")
        elif self.open is not None:
            self.records.append(self.open)
        self.open = None

    def _end_strays(self) -> None:
        """Name the lines that belong to no record once, however many follow each other."""
        if self.strays:
            number, text = self.strays[0]
            many = f"the {len(self.strays)} lines from here belong" if len(self.strays) > 1 else "this line belongs"
            self._fault(Place(self.file, number), f"{quoted(text[:_MOST_SIGNS])}: {many} to no record")
            self.strays.clear()

    def _fault(self, at: Place, message: str) -> None:
        self.findings.append(finding("record-unreadable", at, message, self.layout.advice))

    def ended(self) -> tuple[list[TaggedRecord], list[Finding]]:
        """Return all records and findings."""
        self._end_strays()
        self._end_open("has no end")
        if self.around:
            shown = list(dict.fromkeys(quoted(text[:_MOST_SIGNS]) for _, text in self.around if text))
            more = ", ..." if len(shown) > _MOST_SHOWN else ""
            said = f": {', '.join(shown[:_MOST_SHOWN])}{more}" if shown else ""
            many = len(self.around)
            lines, were = ("1 line", "was") if many == 1 else (f"{many} lines", "were")
            message = f"{lines} between the records {were} passed over{said}"
            at = Place(self.file, self.around[0][0])
            self.findings.append(finding("lines-passed-over", at, message, "Check that no source is missing."))
        return self.records, self.findings

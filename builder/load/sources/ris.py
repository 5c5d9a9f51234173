"""RIS, the tagged format that reference managers and journals export (Research Information Systems, 2001 and 2011)."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass, field

from builder.findings.finding import Finding
from builder.findings.register import finding
from builder.load.sources.identifiers import doi_of, is_doi, is_pmid
from builder.load.sources.person_names import Name, name_with_commas
from builder.load.sources.record import ReadRecords, Record, imported, plain_pages, split_date
from builder.place import Place

_LINE = re.compile(r"(?P<tag>[A-Z][A-Z0-9]) {0,2}-(?: (?P<value>.*)|\s*)")
TYPES = {
    "JOUR": "article", "EJOUR": "article", "JFULL": "article", "MGZN": "article", "NEWS": "article", "ABST": "article",
    "INPR": "article", "BOOK": "book", "EBOOK": "book", "EDBOOK": "book", "CHAP": "incollection",
    "ECHAP": "incollection", "CONF": "proceedings", "CPAPER": "inproceedings", "RPRT": "techreport",
    "GOVDOC": "techreport", "STAND": "techreport", "THES": "phdthesis", "ELEC": "online", "WEB": "online",
    "BLOG": "online", "CASE": "jurisdiction", "PAT": "patent", "UNPB": "unpublished", "GEN": "misc", "DATA": "misc",
    "COMP": "misc", "VIDEO": "misc", "STAT": "misc",
}  # fmt: skip
_PEOPLE = {"AU": "author", "A1": "author", "A2": "editor", "ED": "editor"}
# The first tag of each list that is there gives the field.
_FIELDS = {
    "title": ("TI", "T1", "BT"), "shortjournal": ("JA", "J2"), "volume": ("VL",), "number": ("IS", "M1"),
    "doi": ("DO",), "url": ("UR", "L2"), "publisher": ("PB",), "address": ("CY", "PP"), "edition": ("ET",),
    "abstract": ("AB", "N2"),
    "language": ("LA",), "series": ("T3",), "type": ("M3",), "chapter": ("SE",),
}  # fmt: skip
_JOINED = {"keywords": ("KW", ", "), "note": ("N1", "; ")}
_HOSTS = ("T2", "JF", "BT", "JO")
_READ = frozenset(
    {tag for tags in _FIELDS.values() for tag in tags} | set(_PEOPLE) | set(_HOSTS)
    | {"TY", "ER", "KW", "N1", "PY", "Y1", "DA", "SP", "EP", "SN", "AN", "C2", "C7", "Y2", "DB", "DP", "ID"}
)  # fmt: skip
_IN_A_HOST = frozenset({"incollection", "inproceedings"})


@dataclass
class _OpenRisRecord:
    """A record while its lines are read: values by tag, in order, each with its line."""

    at: Place
    tags: dict[str, list[str]] = field(default_factory=dict)
    last: str = ""

    def add(self, tag: str, value: str) -> None:
        self.tags.setdefault(tag, []).append(value)
        self.last = tag

    def first(self, *names: str) -> str:
        return next((value for name in names for value in self.tags.get(name, ()) if value), "")


def read_ris(text: str, file: str) -> ReadRecords:
    """Return the records of a RIS ``text``. What cannot be read is an error at its line; those around are kept."""
    findings: list[Finding] = []
    records = [_record(one, findings) for one in _split(text, file, findings)]
    unknown = sorted({tag for _, tags in records for tag in tags} - _READ)
    if unknown:
        hint = "Add what matters to the entry by hand."
        findings.append(
            finding("tags-not-kept", Place(file), f"not kept: what stands under {', '.join(unknown)}", hint)
        )
    return ReadRecords(tuple(record for record, _ in records), tuple(findings))


def _split(text: str, file: str, findings: list[Finding]) -> Iterator[_OpenRisRecord]:
    current: _OpenRisRecord | None = None
    for number, line in enumerate(text.split("\n"), start=1):
        at = Place(file, number)
        match = _LINE.fullmatch(line.rstrip())
        if match is None:
            if current is not None and current.last:
                current.tags[current.last][-1] = f"{current.tags[current.last][-1]} {line.strip()}".strip()
            elif line.strip():
                findings.append(_fault(at, f"{line.strip()[:40]!r} belongs to no record"))
            continue
        tag, value = match["tag"], " ".join((match["value"] or "").split())
        if tag == "TY":
            if current is not None:
                findings.append(_fault(current.at, f"the record that begins here has no end before line {number}"))
            current = _OpenRisRecord(at)
        if current is None:
            findings.append(_fault(at, f"{tag!r} stands outside any record"))
        elif tag == "ER":
            yield current
            current = None
        else:
            current.add(tag, value)
    if current is not None:
        findings.append(_fault(current.at, "the record that begins here has no end"))


def _fault(at: Place, message: str) -> Finding:
    return finding("record-unreadable", at, message, "Begin each record with `TY  - ` and end it with `ER  - `.")


def _record(one: _OpenRisRecord, findings: list[Finding]) -> tuple[Record, dict[str, list[str]]]:
    written = one.first("TY")
    kind = TYPES.get(written.upper(), "misc")
    if written.upper() not in TYPES:
        hint = "Correct the type of the entry by hand."
        findings.append(finding("record-type-unknown", one.at, f"{written!r} is no type we know: kept as misc", hint))
    fields = {name: one.first(*tags) for name, tags in _FIELDS.items()}
    fields |= {name: between.join(filter(None, one.tags.get(tag, ()))) for name, (tag, between) in _JOINED.items()}
    fields |= split_date(one.first("PY", "Y1")) | _finer_date(one)
    fields |= {"pages": _pages(one), "urldate": _iso(split_date(one.first("Y2")))}
    fields |= _host(one, kind) | _numbers(one, kind)
    kept = imported(kind, fields)
    if "title" not in kept:
        findings.append(
            finding("record-without-title", one.at, "the record that begins here has no title", "Add it by hand.")
        )
    return Record(kind, kept, _people(one), one.at), one.tags


def _people(one: _OpenRisRecord) -> dict[str, tuple[Name, ...]]:
    found: dict[str, list[Name]] = {}
    for tag, values in one.tags.items():
        if tag in _PEOPLE:
            found.setdefault(_PEOPLE[tag], []).extend(name_with_commas(value) for value in values if value)
    return {role: tuple(names) for role, names in found.items()}


def _finer_date(one: _OpenRisRecord) -> dict[str, str]:
    """DA holds the whole date where PY holds the year."""
    finer, year = split_date(one.first("DA")), split_date(one.first("PY", "Y1")).get("year", "")
    return finer if finer.get("year") == year or not year else {}


def _iso(date: dict[str, str]) -> str:
    parts = [date.get("year", ""), date.get("month", "").zfill(2), date.get("day", "").zfill(2)]
    if not parts[0].isdigit() or not parts[1].isdigit() or parts[1] == "00":
        return date.get("year", "")
    return "-".join(parts if parts[2] != "00" else parts[:2])


def _pages(one: _OpenRisRecord) -> str:
    first, last = plain_pages(one.first("SP", "C7")), plain_pages(one.first("EP"))
    return f"{first}-{last}" if first and last and last != first and "-" not in first else first or last


def _host(one: _OpenRisRecord, kind: str) -> dict[str, str]:
    title, *others = [one.first(tag) for tag in _HOSTS if one.first(tag)] or [""]
    # In a book T2 is its series and BT its own title (RIS 2011); in a part of a book both name the book.
    if kind == "article":
        # Many programs write the abbreviation under JO.
        short = one.first("JA", "J2") or next((name for name in others if name != title), "")
        return {"journal": title or short, "shortjournal": short if short != title else ""}
    if kind in _IN_A_HOST:
        return {"booktitle": title}
    return {"series": one.first("T3", "T2")}


def _numbers(one: _OpenRisRecord, kind: str) -> dict[str, str]:
    serial = one.first("SN")
    digits = sum(sign.isalnum() for sign in serial.split(" ")[0])
    found = {"issn" if kind == "article" or digits == 8 else "isbn": serial}
    where = one.first("DB", "DP").lower()
    if is_pmid(one.first("AN")) and ("pubmed" in where or "medline" in where or "nlm" in where or not where):
        found["pmid"] = one.first("AN")
    if one.first("C2").upper().startswith("PMC"):
        found["pmcid"] = one.first("C2")
    found["doi"] = doi_of(one.first("DO"))
    if not found["doi"] and is_doi(doi_of(one.first("M3"))):
        found |= {"doi": doi_of(one.first("M3")), "type": ""}
    return found

"""RIS, the tagged format that reference managers and journals export (Research Information Systems, 2001 and 2011)."""

import re
from collections.abc import Mapping

from builder.findings.finding import Finding
from builder.findings.message_words import quoted
from builder.findings.register import finding
from builder.load.sources.identifiers import doi_of, is_doi, is_pmid
from builder.load.sources.record import (
    OTHERS,
    Name,
    ReadRecords,
    Record,
    imported,
    in_iso,
    name_with_commas,
    plain_pages,
    split_date,
)
from builder.load.sources.tagged import TaggedRecord, TagLayout, split, tags_not_kept

_LAYOUT = TagLayout(
    line=re.compile(r"(?P<tag>[A-Z][A-Z0-9]) {0,2}-(?: (?P<value>.*)|\s*)"),
    begins="TY",
    ends="ER",
    goes_on=re.compile(""),
    advice="Begin each record with `TY  - ` and end it with `ER  - `.",
    lists=frozenset({"KW"}),
)
TYPES = {
    "JOUR": "article", "EJOUR": "article", "JFULL": "article", "MGZN": "article", "NEWS": "article", "ABST": "article",
    "INPR": "article", "BOOK": "book", "EBOOK": "book", "EDBOOK": "book", "CHAP": "incollection",
    "ECHAP": "incollection", "CONF": "proceedings", "CPAPER": "inproceedings", "RPRT": "techreport",
    "GOVDOC": "techreport", "STAND": "techreport", "THES": "phdthesis", "ELEC": "online", "WEB": "online",
    "BLOG": "online", "CASE": "jurisdiction", "PAT": "patent", "UNPB": "unpublished", "GEN": "misc", "DATA": "misc",
    "COMP": "misc", "VIDEO": "misc", "STAT": "misc",
}  # fmt: skip
_PEOPLE = {"author": ("AU", "A1"), "editor": ("A2", "ED")}
# The first tag of each list that is there gives the field.
_FIELDS = {
    "title": ("TI", "T1", "BT", "CT", "ST"), "shortjournal": ("JA", "J2"), "volume": ("VL",), "number": ("IS", "M1"),
    "doi": ("DO",), "url": ("UR", "L2"), "publisher": ("PB",), "address": ("CY", "PP"), "edition": ("ET",),
    "abstract": ("AB", "N2"),
    "language": ("LA",), "series": ("T3",), "type": ("M3",), "chapter": ("SE",),
}  # fmt: skip
_JOINED = {"keywords": ("KW", ", "), "note": ("N1", "; ")}
_HOSTS = ("T2", "JF", "BT", "JO")
_READ = frozenset(
    {tag for tags in (*_FIELDS.values(), *_PEOPLE.values()) for tag in tags} | set(_HOSTS)
    | {"TY", "ER", "KW", "N1", "PY", "Y1", "DA", "SP", "EP", "SN", "AN", "C2", "C7", "Y2", "DB", "DP", "ID"}
)  # fmt: skip
_IN_A_HOST = frozenset({"incollection", "inproceedings"})


def read_ris(text: str, file: str) -> ReadRecords:
    """Return the records of a RIS ``text``. What cannot be read is an error at its line; those around are kept."""
    tagged, findings = split(text, file, _LAYOUT)
    records = tuple(_record(record, findings) for record in tagged)
    return ReadRecords(records, (*findings, *tags_not_kept(tagged, _READ, file)))


def _record(tagged: TaggedRecord, findings: list[Finding]) -> Record:
    written = tagged.first("TY")
    kind = TYPES.get(written.upper(), "misc")
    if written.upper() not in TYPES:
        hint = "Correct the type of the entry by hand."
        message = f"{quoted(written)} is not a type of source that we know: kept as misc"
        findings.append(finding("record-type-unknown", tagged.at, message, hint))
    fields = {name: tagged.first(*tags) for name, tags in _FIELDS.items()}
    fields |= {name: between.join(tagged.every(tag)) for name, (tag, between) in _JOINED.items()}
    fields |= split_date(tagged.first("PY", "Y1")) | _finer_date(tagged)
    fields |= {"pages": _pages(tagged), "urldate": in_iso(split_date(tagged.first("Y2")))}
    fields |= _host(tagged, kind) | _numbers(tagged, kind)
    people = {role: tuple(map(name_with_commas, tagged.every(*tags))) for role, tags in _PEOPLE.items()}
    return Record(kind, imported(kind, fields), {role: names for role, names in people.items() if names}, tagged.at)


def _finer_date(tagged: TaggedRecord) -> dict[str, str]:
    """DA holds the whole date where PY holds the year."""
    finer, year = split_date(tagged.first("DA")), split_date(tagged.first("PY", "Y1")).get("year", "")
    return finer if finer.get("year") == year or not year else {}


def _pages(tagged: TaggedRecord) -> str:
    first, last = plain_pages(tagged.first("SP", "C7")), plain_pages(tagged.first("EP"))
    return f"{first}-{last}" if first and last and last != first and "-" not in first else first or last


def _host(tagged: TaggedRecord, kind: str) -> dict[str, str]:
    title, *others = [tagged.first(tag) for tag in _HOSTS if tagged.first(tag)] or [""]
    # In a book T2 is its series and BT its own title (RIS 2011); in a part of a book both name the book.
    if kind == "article":
        # Many programs write the abbreviation under JO.
        short = tagged.first("JA", "J2") or next((name for name in others if name != title), "")
        return {"journal": title or short, "shortjournal": short if short != title else ""}
    if kind in _IN_A_HOST:
        return {"booktitle": title}
    return {"series": tagged.first("T3", "T2"), "journal": tagged.first("JF", "JO")}


def _numbers(tagged: TaggedRecord, kind: str) -> dict[str, str]:
    # A number may be followed by which edition it is of, such as (print), and by the number of another.
    serial = tagged.first("SN").partition("(")[0].strip()
    first = serial.partition(" ")[0]
    is_issn = kind == "article" or sum(sign.isalnum() for sign in first) == 8
    numbers = {"issn": first} if is_issn else {"isbn": serial}
    where = tagged.first("DB", "DP").lower()
    if is_pmid(tagged.first("AN")) and ("pubmed" in where or "medline" in where or "nlm" in where or not where):
        numbers["pmid"] = tagged.first("AN")
    if tagged.first("C2").upper().startswith("PMC"):
        numbers["pmcid"] = tagged.first("C2")
    numbers["doi"] = doi_of(tagged.first("DO"))
    if not numbers["doi"] and is_doi(doi_of(tagged.first("M3"))):
        numbers |= {"doi": doi_of(tagged.first("M3")), "type": ""}
    return numbers


_TYPE_WRITTEN = {kind: tag for tag, kind in reversed(TYPES.items())} | {
    "inbook": "CHAP", "conference": "CPAPER", "report": "RPRT", "mastersthesis": "THES", "thesis": "THES",
    "misc": "GEN",
}  # fmt: skip
_WRITTEN = {field: tags[0] for field, tags in _FIELDS.items()} | {
    "institution": "PB", "school": "PB", "pmid": "AN", "pmcid": "C2", "isbn": "SN", "issn": "SN", "note": "N1",
    "journal": "T2", "booktitle": "T2",
}  # fmt: skip


def to_ris(record: Record) -> str:
    """Return ``record`` as RIS. Fields that RIS has no tag for are left out."""
    fields = {**split_date(record.fields.get("date", "")), **record.fields}
    lines = [("TY", _TYPE_WRITTEN.get(record.type, "GEN")), ("ID", record.key)]
    lines += [(_PEOPLE[role][0], _name(name)) for role in _PEOPLE for name in record.people.get(role, ())]
    lines += [(tag, fields.get(field, "")) for field, tag in _WRITTEN.items()]
    lines += [("KW", word) for word in fields.get("keywords", "").split(", ")]
    lines += zip(("SP", "EP"), fields.get("pages", "").split("-", 1), strict=False)
    lines += [("PY", fields.get("year", "")), ("DA", _day(fields)), ("Y2", fields.get("urldate", "").replace("-", "/"))]
    lines += [("DB", "PubMed" if "pmid" in fields else "")]
    return "".join(f"{tag}  - {value}\n" for tag, value in lines if value) + "ER  - \n"


def _name(name: Name) -> str:
    if name == OTHERS:
        return "et al."
    return ", ".join(part for part in (name.family, name.given, name.suffix) if part)


def _day(fields: Mapping[str, str]) -> str:
    """Return year, month and day with a place of its own for a season: ``1998/07/25/`` or ``1977///Spring``."""
    year, month, day = (fields.get(name, "") for name in ("year", "month", "day"))
    if not month.isdigit():
        return f"{year}///{month}" if month else ""
    return f"{year}/{month.zfill(2)}/{day.zfill(2) if day else ''}/"

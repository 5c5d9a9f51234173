"""CSL-JSON, the form in which reference managers and Crossref hand on sources (Citation Style Language 1.0.2)."""

import json
import re
from collections.abc import Iterable, Iterator, Mapping
from typing import Any

from builder.findings.finding import Finding
from builder.findings.message_words import quoted
from builder.findings.register import finding
from builder.load.sources.identifiers import doi_of
from builder.load.sources.record import (
    OTHERS,
    Name,
    ReadRecords,
    Record,
    imported,
    in_iso,
    name_of_parts,
    plain_pages,
    split_date,
)
from builder.place import Place

TYPES = {
    "article-journal": "article", "article-magazine": "article", "article-newspaper": "article", "review": "article",
    "book": "book", "chapter": "incollection", "entry-dictionary": "incollection", "entry-encyclopedia": "incollection",
    "paper-conference": "inproceedings", "report": "techreport", "standard": "techreport", "thesis": "phdthesis",
    "webpage": "online", "post": "online", "post-weblog": "online", "legal_case": "jurisdiction", "patent": "patent",
    "manuscript": "unpublished", "article": "unpublished", "collection": "proceedings",
}  # fmt: skip
VARIABLES = {
    "title": "title", "shortjournal": "container-title-short", "volume": "volume", "pages": "page", "doi": "DOI",
    "url": "URL", "isbn": "ISBN", "issn": "ISSN", "pmid": "PMID", "pmcid": "PMCID", "publisher": "publisher",
    "address": "publisher-place", "edition": "edition", "abstract": "abstract", "note": "note", "keywords": "keyword",
    "language": "language", "series": "collection-title", "type": "genre", "chapter": "chapter-number",
    "eventtitle": "event-title", "venue": "event-place", "pubstate": "status", "howpublished": "medium",
    "court": "authority",
}  # fmt: skip
_IN_A_HOST = frozenset({"incollection", "inbook", "inproceedings", "conference"})
_TYPE_WRITTEN = {
    "article": "article-journal", "book": "book", "incollection": "chapter", "inbook": "chapter",
    "inproceedings": "paper-conference", "conference": "paper-conference", "proceedings": "collection",
    "techreport": "report", "report": "report", "phdthesis": "thesis", "mastersthesis": "thesis", "thesis": "thesis",
    "online": "webpage", "jurisdiction": "legal_case", "patent": "patent", "unpublished": "manuscript",
}  # fmt: skip
DATES = {"accessed": "urldate", "event-date": "eventdate"}
_IN_NOTE = re.compile(r"^\s*(?P<name>PMID|PMCID|DOI)\s*:\s*(?P<value>\S+)\s*$", re.MULTILINE)


def read_csl(text: str, file: str) -> ReadRecords:
    """Return the sources of a CSL-JSON ``text``, a list or one object. What cannot be read is an error at its place."""
    findings: list[Finding] = []
    records = [_record(item, at, findings) for item, at in _items(text, file, findings)]
    return ReadRecords(tuple(record for record in records if record is not None), tuple(findings))


def _items(text: str, file: str, findings: list[Finding]) -> Iterator[tuple[Any, Place]]:
    """Yield each item with its place: the list is walked by hand, because the parser keeps no places."""
    decoder = json.JSONDecoder()
    at = _skip(text, 0)
    is_list = text[at : at + 1] == "["
    at = _skip(text, at + 1) if is_list else at
    while at < len(text) and text[at] != "]":
        try:
            item, end = decoder.raw_decode(text, at)
        except (ValueError, RecursionError) as error:
            position = getattr(error, "pos", at)
            said = getattr(error, "msg", "nested too deeply")
            findings.append(_fault(Place.after(file, text[:position]), f"from here it is not JSON: {said}"))
            return
        yield item, Place.after(file, text[:at])
        at = _skip(text, end)
        if is_list and text[at : at + 1] == ",":
            at = _skip(text, at + 1)
        elif is_list and text[at : at + 1] != "]":
            findings.append(_fault(Place.after(file, text[:at]), "a comma or the end of the list is missing here"))
            return
        elif not is_list:
            return
    if not is_list or at >= len(text):
        findings.append(_fault(Place.after(file, text[:at]), "the list of sources has no end"))


def _skip(text: str, at: int) -> int:
    while at < len(text) and text[at] in " \t\r\n":
        at += 1
    return at


def _fault(at: Place, message: str) -> Finding:
    return finding("record-unreadable", at, message, "Save the sources again as CSL-JSON.")


def _record(item: Any, at: Place, findings: list[Finding]) -> Record | None:
    if not isinstance(item, dict):
        findings.append(_fault(at, "this item is not a source: sources are objects in {}"))
        return None
    written = str(item.get("type", ""))
    kind = TYPES.get(written, "misc")
    if written and written not in TYPES and written != "document":
        hint = "Correct the type of the entry by hand."
        message = f"{quoted(written)} is not a type of source that we know: kept as misc"
        findings.append(finding("record-type-unknown", at, message, hint))
    try:
        fields = _fields(item, kind)
        people = {role: tuple(_names(item[role])) for role in ("author", "editor") if item.get(role)}
    except (TypeError, ValueError, AttributeError, IndexError):
        findings.append(_fault(at, "a date or a name of this source is not written as CSL-JSON writes it"))
        return None
    return Record(kind, fields, people, at, str(item.get("id", "")))


def _fields(item: dict[str, Any], kind: str) -> dict[str, str]:
    fields = {name: _text(item.get(variable)) for name, variable in VARIABLES.items()}
    fields["shortjournal"] = fields["shortjournal"] or _text(item.get("journalAbbreviation"))
    fields["booktitle" if kind in _IN_A_HOST else "journal"] = _text(item.get("container-title"))
    fields["number"] = _text(item.get("issue")) or _text(item.get("number")) or _text(item.get("collection-number"))
    for match in _IN_NOTE.finditer(str(item.get("note", ""))):
        fields[match["name"].lower()] = fields[match["name"].lower()] or match["value"]
    if _IN_NOTE.search(str(item.get("note", ""))):
        fields["note"] = _text(_IN_NOTE.sub("", str(item["note"])))
    fields["pages"], fields["doi"] = plain_pages(fields["pages"]), doi_of(fields["doi"])
    fields |= _date(item.get("issued"))
    fields |= {name: in_iso(_date(item.get(variable))) for variable, name in DATES.items()}
    return imported(kind, fields)


def _text(value: Any) -> str:
    """Some programs write numbers as numbers, and lists of one where the schema has a text."""
    if isinstance(value, list):
        value = value[0] if value else ""
    return "" if value is None or isinstance(value, dict | bool) else " ".join(str(value).split())


def _date(value: Any) -> dict[str, str]:
    if not value:
        return {}
    if "date-parts" not in value:
        return {"year": _text(value.get("literal") or value.get("raw"))}
    parts = [str(int(part)) for part in value["date-parts"][0] if part not in ("", None)]
    parts_by_name = dict(zip(("year", "month", "day"), parts, strict=False))
    season = _text(value.get("season"))
    return parts_by_name | ({"month": season} if season else {})


def _names(values: Iterable[Any]) -> Iterator[Name]:
    for value in values:
        literal = _text(value.get("literal"))
        if literal:
            yield OTHERS if literal in ("others", "et al.") else Name(literal, group=True)
            continue
        particles = (_text(value.get(part)) for part in ("dropping-particle", "non-dropping-particle", "family"))
        family = " ".join(part for part in particles if part)
        yield name_of_parts(family or _text(value.get("given")), _text(value.get("given")) if family else "",
                            _text(value.get("suffix")))  # fmt: skip


def to_csl(record: Record, id: str) -> dict[str, Any]:
    """Return ``record`` as a CSL-JSON item with this ``id``. Fields that CSL has no variable for are left out."""
    fields = {**split_date(record.fields.get("date", "")), **record.fields}
    item: dict[str, Any] = {"id": id, "type": _TYPE_WRITTEN.get(record.type, "document")}
    item |= {variable: fields[name] for name, variable in VARIABLES.items() if name in fields}
    host = fields.get("journal") or fields.get("booktitle")
    if host:
        item["container-title"] = host
    if "publisher" not in item and (fields.get("institution") or fields.get("school")):
        item["publisher"] = fields.get("institution") or fields["school"]
    if "number" in fields:
        number_of = {"article": "issue", "book": "collection-number", "incollection": "collection-number"}
        item[number_of.get(record.type, "number")] = fields["number"]
    if "year" in fields:
        item["issued"] = _csl_date(fields)
    for variable, name in DATES.items():
        if name in fields:
            year, month, day = [*fields[name].split("-"), "", ""][:3]
            item[variable] = _csl_date({"year": year, "month": month, "day": day})
    return item | {role: [_csl_name(name) for name in names] for role, names in record.people.items()}


def _csl_date(date: Mapping[str, str]) -> dict[str, Any]:
    year, month, day = date["year"], date.get("month", ""), date.get("day", "")
    if not year.isdigit():
        return {"literal": year}
    parts = [int(year)]
    if month.isdigit():
        parts += [int(month), int(day)] if day.isdigit() else [int(month)]
    return {"date-parts": [parts]} | ({"season": month} if month and not month.isdigit() else {})


def _csl_name(name: Name) -> dict[str, str]:
    if name.group or name == OTHERS:
        return {"literal": name.family}
    parts = {"family": name.family, "given": name.given, "suffix": name.suffix}
    return {part: value for part, value in parts.items() if value}

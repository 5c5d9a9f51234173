"""Writes CSL-JSON as reference managers do, so that what a reader makes of it can be compared with what was meant."""

from __future__ import annotations

from typing import Any

from builder.load.sources.csl import DATES, VARIABLES
from builder.load.sources.record import OTHERS, Name, Record

_CSL_TYPES = {
    "article": "article-journal", "book": "book", "incollection": "chapter", "inbook": "chapter",
    "inproceedings": "paper-conference", "conference": "paper-conference", "proceedings": "collection",
    "techreport": "report", "report": "report", "phdthesis": "thesis", "mastersthesis": "thesis", "thesis": "thesis",
    "online": "webpage", "jurisdiction": "legal_case", "patent": "patent", "unpublished": "manuscript",
}  # fmt: skip


def to_csl(record: Record, id: str) -> dict[str, Any]:
    """Return ``record`` as a CSL-JSON item with this ``id``. Fields that CSL has no variable for are left out."""
    fields = record.fields
    item: dict[str, Any] = {"id": id, "type": _CSL_TYPES.get(record.type, "document")}
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


def _csl_date(date: Any) -> dict[str, Any]:
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

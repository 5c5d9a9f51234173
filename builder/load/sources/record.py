"""A source between formats: plain text by the names of BibTeX and biblatex, and names of people and organisations."""

import re
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import NamedTuple

from pybtex.database import Person

from builder.findings.finding import Finding
from builder.load.sources.bibliography import RawSource
from builder.load.sources.latex import latex, plain, raw
from builder.place import Place

_SUFFIXES = frozenset({"jr", "sr", "2nd", "3rd", "4th", "5th", "ii", "iii", "iv"})
_OTHERS = frozenset({"others", "et al", "et al."})


class Name(NamedTuple):
    """A person's ``family`` name (particles included), ``given`` names and ``suffix``; or a ``group``, named whole."""

    family: str
    given: str = ""
    suffix: str = ""
    group: bool = False


OTHERS = Name("others")


def _is_group(person: Person) -> bool:
    """Tell whether ``person`` is an organisation: written in braces, or several words without a comma."""
    if person.first_names or person.middle_names or person.prelast_names or person.lineage_names:
        return False
    return any(" " in name or name.startswith("{") for name in person.last_names) or len(person.last_names) > 1


def name_from(person: Person) -> Name:
    """Return what BibTeX's ``person`` is called."""
    if not person.first_names and [str(name) for name in person.last_names] == ["others"]:  # of "and others"
        return OTHERS
    family = plain(" ".join([*person.prelast_names, *person.last_names]))
    if _is_group(person):
        return Name(family, group=True)
    given = plain(" ".join([*person.first_names, *person.middle_names]))
    return Name(family, given, plain(" ".join(person.lineage_names)))


def name_of_parts(family: str, given: str = "", suffix: str = "") -> Name:
    """Return a name from its parts; a name of one part with a space in it can only be an organisation's."""
    family, given, suffix = (" ".join(part.split()) for part in (family, given, suffix))
    if family.lower() in _OTHERS and not given:
        return OTHERS
    return Name(family, given, suffix, group=not given and not suffix and " " in family)


def name_with_commas(written: str) -> Name:
    """Return the name in ``Family, Given, Suffix`` (RIS) or ``Family, Given Suffix`` (PubMed); no comma: a whole."""
    family, *rest = (part.strip() for part in written.split(","))
    given, suffix = (rest[0] if rest else "", ", ".join(rest[1:]))
    words = given.split()
    if not suffix and len(words) > 1 and words[-1].rstrip(".").lower() in _SUFFIXES:
        given, suffix = " ".join(words[:-1]), words[-1]
    return name_of_parts(family, given, suffix)


def bibtex_name(name: Name) -> str:
    """Return ``name`` as an author field holds it; what BibTeX would take apart stands in braces."""
    if name == OTHERS:
        return "others"
    if name.group:
        return f"{{{latex(name.family)}}}"
    parts = [name.family, name.suffix, name.given] if name.suffix else [name.family, name.given]
    return ", ".join(_whole(part) for part in parts if part)


def _whole(part: str) -> str:
    written = latex(part)
    return f"{{{written}}}" if "," in part or re.search(r"\band\b", part, re.IGNORECASE) else written


RAW_FIELDS = frozenset({"doi", "pmid", "pmcid", "url", "isbn", "issn", "eprint", "file"})
"""Identifiers and addresses: no text, so LaTeX means nothing in them."""

PUBLISHER_OF = {"techreport": "institution", "phdthesis": "school", "mastersthesis": "school"}
"""BibTeX's own word for the publisher of these types."""

MONTHS = ("jan", "feb", "mar", "apr", "may", "jun", "jul", "aug", "sep", "oct", "nov", "dec")
_MONTH_WORD = re.compile(
    r"jan(uary)?|feb(ruary)?|mar(ch)?|apr(il)?|may|june?|july?|aug(ust)?|sept?(ember)?|oct(ober)?|nov(ember)?|dec(ember)?"
)


@dataclass(frozen=True, slots=True)
class Record:
    """One source: BibTeX ``type``, ``fields`` (plain text by name), ``people`` by role, where it was read."""

    type: str
    fields: Mapping[str, str]
    people: Mapping[str, tuple[Name, ...]]
    at: Place = field(compare=False, default=Place(""))
    key: str = field(compare=False, default="")


@dataclass(frozen=True, slots=True)
class ReadRecords:
    """What one file held; where an error is among the ``findings``, without the records that could not be read."""

    records: tuple[Record, ...]
    findings: tuple[Finding, ...] = ()


def imported(kind: str, fields: Mapping[str, str]) -> dict[str, str]:
    """Return the ``fields`` that hold something, the publisher by the word that ``kind`` has for it."""
    word = PUBLISHER_OF.get(kind, "publisher")
    return {(word if name == "publisher" else name): text for name, text in fields.items() if text}


def record_of(source: RawSource) -> Record:
    """Return ``source`` as a record."""
    fields = {name: _text(name, written) for name, written in source.fields.items() if written.strip()}
    people = {str(role).lower(): tuple(map(name_from, persons)) for role, persons in source.entry.persons.items()}
    return Record(source.type, fields, people, source.key.at, str(source.key))


def _text(name: str, written: str) -> str:
    if name in RAW_FIELDS:
        return raw(written)
    if name == "pages":
        return plain_pages(plain(written))
    return month_number(plain(written)) if name == "month" else plain(written)


def plain_pages(pages: str) -> str:
    """Return page ranges with single hyphens."""
    for dash in ("---", "--", "–", "—", "\u2010", "\u2011"):
        pages = pages.replace(dash, "-")
    return pages.replace(" - ", "-")


def month_number(month: str) -> str:
    """Return ``7`` for ``July``, ``jul`` or ``07``; a season or range of months as it stands."""
    word = month.strip().rstrip(".").lower()
    if word.isdigit() and 1 <= int(word) <= 12:
        return str(int(word))
    return str(MONTHS.index(word[:3]) + 1) if _MONTH_WORD.fullmatch(word) else month.strip()


def split_date(written: str) -> dict[str, str]:
    """Return year, month and day from ``2002``, ``2002/07/25/`` (RIS), ``2002-07-25`` or ``2002 Jul 25`` (PubMed)."""
    year, rest = written.strip()[:4], written.strip()[4:]
    if not year.isdigit():
        return {"year": written.strip()} if written.strip() else {}
    parts = [part for part in re.split(r"[/\s]+" if rest[:1] in "/ " else r"[-/\s]+", rest) if part]
    if any("-" in part for part in parts):  # a range of months, such as Jul-Aug
        return {"year": year, "month": rest.strip(" /")}
    date = {"year": year, "month": month_number(parts[0]) if parts else "", "day": parts[1] if len(parts) > 1 else ""}
    date["day"] = date["day"].lstrip("0")
    return {name: value for name, value in date.items() if value}


def in_iso(date: Mapping[str, str]) -> str:
    """Return a date in parts as ``2002-07-25``, as far as it is known in numbers."""
    parts = (date.get(name, "") for name in ("month", "day"))
    return "-".join([date.get("year", ""), *(part.zfill(2) for part in parts if part.strip("0").isdigit())])

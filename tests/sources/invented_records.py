"""Invented records for round trips: RIS text, and beside it what each record holds, worked out without our readers."""

from __future__ import annotations

import random
from dataclasses import dataclass

_SEED = 20_261_125
_WORDS = (
    "the", "of", "nerve", "hernia", "<15", "A&B", "50%", "{braced}", "x_y", "$5", "#1", "C--D", "''q''", "``r''",
    "~tilde", "back\\slash", "Über", "Łódź", "手術", "mRNA", "STITCH", "O'Neil", '"quoted"', "a-b", "(2)", "[3]", ";",
    ":", "?", "!", "\\textit{x}", "}lone", "{lone", "@at", "=is", ",",
)  # fmt: skip
_PEOPLE = {
    "van der Berg, R. J. A.": ("van der Berg", "R. J. A.", "", False),
    "O'Brien, Tony": ("O'Brien", "Tony", "", False),
    "Gilstrap, L. C., 3rd": ("Gilstrap", "L. C.", "3rd", False),
    "HerniaSurge Group": ("HerniaSurge Group", "", "", True),
    "De La Cruz, María-José": ("De La Cruz", "María-José", "", False),
    "Müller, K.": ("Müller", "K.", "", False),
    "Plato": ("Plato", "", "", False),
    "Centers for Disease Control and Prevention": ("Centers for Disease Control and Prevention", "", "", True),
    "Smith & Jones {Ltd} and Sons": ("Smith & Jones {Ltd} and Sons", "", "", True),
}
_TYPES = {
    "JOUR": "article", "BOOK": "book", "CHAP": "incollection", "RPRT": "techreport", "THES": "phdthesis",
    "CPAPER": "inproceedings", "ELEC": "online", "CASE": "jurisdiction",
}  # fmt: skip
_PUBLISHER = {"RPRT": "institution", "THES": "school"}
_DATES = {
    "2002": {"year": "2002"},
    "1998/07/25/": {"year": "1998", "month": "7", "day": "25"},
    "2011/11//": {"year": "2011", "month": "11"},
    "1977///Spring": {"year": "1977", "month": "Spring"},
}
_PAGES = {("284", "287"): "284-287", ("S93", "S99"): "S93-S99", ("zrad080", ""): "zrad080", ("e1", ""): "e1"}
_PLAIN = {
    "VL": ("volume", ("12", "42")),
    "IS": ("number", ("4", "Suppl 2", "12 Suppl 7")),
    "DO": ("doi", ("10.1002/(SICI)1097-4571(199806)49:8<693::AID-ASI4>3.0.CO;2-O", "10.1007/978-3-642-28108-2_19")),
    "UR": ("url", ("https://example.org/a_b%20c?x=1&y=~z#f",)),
    "ET": ("edition", ("2nd",)),
    "LA": ("language", ("German",)),
    "AN": ("pmid", ("12345678",)),
    "C2": ("pmcid", ("PMC123",)),
    "CY": ("address", ("St. Louis", "Köln & Bonn")),
}


@dataclass(frozen=True)
class Invented:
    """One record: its RIS lines, and its type, fields and authors as (family, given, suffix, group)."""

    ris: str
    type: str
    fields: dict[str, str]
    authors: tuple[tuple[str, str, str, bool], ...]


def invented(count: int) -> list[Invented]:
    """Return ``count`` records, always the same."""
    shuffled = random.Random(_SEED)
    return [_one(number, shuffled) for number in range(count)]


def _words(shuffled: random.Random, most: int) -> str:
    return " ".join(shuffled.choice(_WORDS) for _ in range(shuffled.randint(1, most)))


def _one(number: int, shuffled: random.Random) -> Invented:
    kind = shuffled.choice(list(_TYPES))
    fields = {"title": f"Title {number} {_words(shuffled, 8)}"}
    lines = [f"TY  - {kind}", f"TI  - {fields['title']}"]
    people = [shuffled.choice(list(_PEOPLE)) for _ in range(shuffled.randint(0, 8))]
    lines += [f"AU  - {name}" for name in people]
    if kind == "JOUR":
        fields |= {"journal": f"Journal {_words(shuffled, 3)}", "shortjournal": f"J {_words(shuffled, 2)}"}
        lines += [f"T2  - {fields['journal']}", f"J2  - {fields['shortjournal']}"]
    elif kind in ("CHAP", "CPAPER"):
        fields["booktitle"] = f"Book {_words(shuffled, 4)}"
        lines.append(f"T2  - {fields['booktitle']}")
    written = shuffled.choice(list(_DATES))
    fields |= _DATES[written]
    lines.append(f"PY  - {written}")
    for tag, (name, values) in _PLAIN.items():
        if shuffled.random() < 0.7:
            fields[name] = shuffled.choice(values)
            lines.append(f"{tag}  - {fields[name]}")
    lines += _more(kind, fields, shuffled)
    return Invented("\n".join([*lines, "ER  - "]), _TYPES[kind], fields, tuple(_PEOPLE[name] for name in people))


def _more(kind: str, fields: dict[str, str], shuffled: random.Random) -> list[str]:
    first, last = shuffled.choice(list(_PAGES))
    fields["pages"] = _PAGES[first, last]
    lines = [f"SP  - {first}"] + [f"EP  - {last}"] * bool(last)
    for tag, name in (("PB", _PUBLISHER.get(kind, "publisher")), ("AB", "abstract"), ("N1", "note")):
        fields[name] = _words(shuffled, 20)
        lines.append(f"{tag}  - {fields[name]}")
    keywords = [f"word {number}" for number in range(shuffled.randint(0, 3))]
    if keywords:
        fields["keywords"] = ", ".join(keywords)
    serial = "issn" if kind == "JOUR" else "isbn"
    fields[serial] = "1050-124X" if serial == "issn" else "978-0-306-40615-7"
    fields["urldate"] = "2002-08-12"
    return [*lines, *(f"KW  - {word}" for word in keywords), f"SN  - {fields[serial]}", "Y2  - 2002/08/12/"]

"""PubMed's own tagged format (.nbib), as NLM describes it in "MEDLINE/PubMed Data Element (Field) Descriptions"."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass, field

from builder.findings.finding import Finding
from builder.findings.register import finding
from builder.load.sources.person_names import Name, name_of_parts, name_with_commas
from builder.load.sources.record import ReadRecords, Record, imported, split_date
from builder.place import Place

_LINE = re.compile(r"(?P<tag>[A-Z]{2,4}) {0,2}- (?P<value>.*)|(?P<bare>[A-Z]{2,4}) {0,2}-")
_FIELDS = {
    "pmid": "PMID", "pmcid": "PMC", "shortjournal": "TA", "journal": "JT", "volume": "VI", "number": "IP",
    "pages": "PG", "abstract": "AB", "booktitle": "BTI", "publisher": "PB", "address": "PL", "isbn": "ISBN",
    "edition": "EN",
}  # fmt: skip
# Tags about the record itself, or about money, places of work and terms that no reference shows.
_PASSED_OVER = frozenset({
    "OWN", "STAT", "DCOM", "LR", "JID", "SB", "EDAT", "MHDA", "CRDT", "PHST", "PST", "SO", "GR", "AD", "AUID", "IR",
    "FIR", "IRAD", "RN", "MH", "OTO", "CI", "COIS", "OID", "GS", "GN", "SI", "PS", "FPS", "DEP", "DRDT", "CDAT",
    "EFR", "ORI", "AID", "NM", "CTDT", "OCI", "OAB", "OABL",
})  # fmt: skip
_READ = frozenset(_FIELDS.values()) | {
    "TI", "TT", "FAU", "AU", "CN", "ED", "FED", "DP", "LID", "IS", "LA", "PT", "OT", "RIN", "ROF", "CIN", "CON", "EIN",
    "EFR", "CTI", "UOF", "UIN", "RPI", "RPF",
}  # fmt: skip
_LABELLED = {"Letter": "letter", "Editorial": "editorial", "News": "news"}
_LANGUAGES = {
    "chi": "Chinese", "cze": "Czech", "dan": "Danish", "dut": "Dutch", "fin": "Finnish", "fre": "French",
    "ger": "German", "gre": "Greek", "hun": "Hungarian", "ita": "Italian", "jpn": "Japanese", "kor": "Korean",
    "nor": "Norwegian", "pol": "Polish", "por": "Portuguese", "rus": "Russian", "spa": "Spanish", "swe": "Swedish",
    "tur": "Turkish",
}  # fmt: skip


@dataclass
class _OpenNbibRecord:
    at: Place
    lines: list[tuple[str, str]] = field(default_factory=list)

    def every(self, *tags: str) -> list[str]:
        return [value for tag, value in self.lines if tag in tags and value]

    def first(self, *tags: str) -> str:
        return next(iter(self.every(*tags)), "")


def read_nbib(text: str, file: str) -> ReadRecords:
    """Return the records of a PubMed ``text``. What cannot be read is an error at its line."""
    findings: list[Finding] = []
    opened = list(_split(text, file, findings))
    records = tuple(_record(one, findings) for one in opened)
    unknown = sorted({tag for one in opened for tag, _ in one.lines} - _READ - _PASSED_OVER)
    if unknown:
        hint = "Add what matters to the entry by hand."
        findings.append(
            finding("tags-not-kept", Place(file), f"not kept: what stands under {', '.join(unknown)}", hint)
        )
    return ReadRecords(records, tuple(findings))


def _split(text: str, file: str, findings: list[Finding]) -> Iterator[_OpenNbibRecord]:
    """A record begins with PMID; a line that begins with spaces goes on with the one before."""
    current: _OpenNbibRecord | None = None
    for number, line in enumerate(text.split("\n"), start=1):
        if not line.strip():
            continue
        match = _LINE.fullmatch(line.rstrip())
        if line.startswith("    ") and current is not None and current.lines:
            tag, value = current.lines[-1]
            current.lines[-1] = (tag, f"{value} {line.strip()}".strip())
        elif match is None:
            hint = "Export the record from PubMed again, in the format PubMed."
            message = f"{line.strip()[:40]!r} is no line of a PubMed record"
            findings.append(finding("record-unreadable", Place(file, number), message, hint))
        else:
            tag = match["tag"] or match["bare"]
            if tag == "PMID" or current is None:
                if current is not None:
                    yield current
                current = _OpenNbibRecord(Place(file, number))
            current.lines.append((tag, " ".join((match["value"] or "").split())))
    if current is not None:
        yield current


def _record(one: _OpenNbibRecord, findings: list[Finding]) -> Record:
    kinds = one.every("PT")
    fields = {name: one.first(tag) for name, tag in _FIELDS.items()}
    fields |= split_date(one.first("DP")) | _titles(one)
    fields["doi"] = next((value[:-5].strip() for value in one.every("LID", "AID") if value.endswith("[doi]")), "")
    fields["issn"] = one.first("IS").split(" ")[0]
    fields["keywords"] = ", ".join(value.lstrip("*") for value in one.every("OT"))
    fields["type"] = next((_LABELLED[kind] for kind in kinds if kind in _LABELLED), "")
    fields["language"] = next((_LANGUAGES.get(code, code) for code in one.every("LA") if code != "eng"), "")
    fields["pubstate"] = "preprint" if "Preprint" in kinds else ""
    kind = "article"
    if fields["booktitle"]:
        kind = "incollection" if fields["title"] else "book"
        fields["title"], fields["booktitle"] = (
            (fields["title"], fields["booktitle"]) if fields["title"] else (fields["booktitle"], "")
        )
    kept = imported(kind, fields)
    findings.extend(_warnings(one, kinds, kept))
    return Record(kind, kept, _people(one), one.at)


def _titles(one: _OpenNbibRecord) -> dict[str, str]:
    """PubMed puts a title that NLM translated in brackets, and the original under TT; the original comes first."""
    title = one.first("TI", "CTI").removesuffix(".")
    if title.startswith("[") and title.endswith("]"):
        title = title[1:-1].removesuffix(".")
        original = one.first("TT").removesuffix(".")
        if original:
            return {"title": original, "titletranslation": title}
    return {"title": title}


def _people(one: _OpenNbibRecord) -> dict[str, tuple[Name, ...]]:
    authors = [
        Name(value.removesuffix("."), group=True) if tag == "CN" else name_with_commas(value)
        for tag, value in one.lines
        if tag in ("FAU", "CN") and value
    ]
    if not one.every("FAU"):
        authors = [_short_name(value) for value in one.every("AU")] + authors
    editors = [name_with_commas(value) for value in one.every("FED")] or [_short_name(v) for v in one.every("ED")]
    return {role: tuple(names) for role, names in (("author", authors), ("editor", editors)) if names}


def _short_name(written: str) -> Name:
    """``Halpern SD`` has its initials behind a space."""
    family, _, initials = written.rpartition(" ")
    return name_of_parts(family, initials) if family and initials.isupper() else name_of_parts(written)


def _warnings(one: _OpenNbibRecord, kinds: list[str], fields: dict[str, str]) -> Iterator[Finding]:
    if "title" not in fields:
        yield finding("record-without-title", one.at, "the record that begins here has no title", "Add it by hand.")
    if "Retracted Publication" in kinds or one.first("RIN"):
        where = one.first("RIN")
        message = f"PubMed says that {one.first('PMID')} was retracted{f': {where}' if where else ''}"
        yield finding(
            "record-was-retracted", one.at, message, "Do not rest a claim on it; add it to references/notices/."
        )

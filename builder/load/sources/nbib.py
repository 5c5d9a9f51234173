"""PubMed's own tagged format (.nbib), as NLM describes it in "MEDLINE/PubMed Data Element (Field) Descriptions"."""

import re
from collections.abc import Iterator

from builder.findings.finding import Finding
from builder.findings.register import finding
from builder.load.sources.record import Name, ReadRecords, Record, imported, name_of_parts, name_with_commas, split_date
from builder.load.sources.tagged import TaggedRecord, TagLayout, split, tags_not_kept

_LAYOUT = TagLayout(
    line=re.compile(r"(?P<tag>[A-Z]{2,4}) {0,2}-(?: (?P<value>.*))?"),
    begins="PMID",
    ends="",
    goes_on=re.compile(" {4}"),
    advice="Save the record from PubMed again, in the format PubMed.",
)
_FIELDS = {
    "pmid": "PMID", "pmcid": "PMC", "shortjournal": "TA", "journal": "JT", "volume": "VI", "number": "IP",
    "pages": "PG", "abstract": "AB", "booktitle": "BTI", "publisher": "PB", "address": "PL", "isbn": "ISBN",
    "edition": "EN",
}  # fmt: skip
# Tags about the record itself, or about money, places of work and terms that no reference shows.
_PASSED_OVER = frozenset({
    "OWN", "STAT", "DCOM", "LR", "JID", "SB", "EDAT", "MHDA", "CRDT", "PHST", "PST", "SO", "GR", "AD", "AUID", "IR",
    "FIR", "IRAD", "RN", "MH", "OTO", "CI", "COIS", "OID", "GS", "GN", "SI", "PS", "FPS", "DEP", "DRDT", "CDAT",
    "ORI", "AID", "NM", "CTDT", "OCI", "OAB", "OABL",
})  # fmt: skip
_READ = frozenset(_FIELDS.values()) | {
    "TI", "TT", "FAU", "AU", "CN", "ED", "FED", "DP", "LID", "IS", "LA", "PT", "OT", "RIN", "PRIN", "ECI", "EIN",
    "CRI", "ROF", "PROF", "ECF", "EFR", "CRF", "CIN", "CON", "CTI", "UOF", "UIN", "RPI", "RPF",
}  # fmt: skip
_LABELLED = {"Letter": "letter", "Editorial": "editorial", "News": "news"}
_LANGUAGES = {
    "chi": "Chinese", "cze": "Czech", "dan": "Danish", "dut": "Dutch", "fin": "Finnish", "fre": "French",
    "ger": "German", "gre": "Greek", "hun": "Hungarian", "ita": "Italian", "jpn": "Japanese", "kor": "Korean",
    "nor": "Norwegian", "pol": "Polish", "por": "Portuguese", "rus": "Russian", "spa": "Spanish", "swe": "Swedish",
    "tur": "Turkish",
}  # fmt: skip


# What became of the paper, as PubMed says: where the notice stands, what is found, how it is said, what to do.
_NOTICES = (
    ("RIN", "record-was-retracted", "was retracted", "Cite another source, and add this one to references/notices/."),
    ("PRIN", "record-was-retracted", "was retracted in part", "Read what is left of it before you cite it."),
    ("ECI", "record-in-doubt", "is under an expression of concern", "Look for another source."),
    ("EIN", "record-was-corrected", "was corrected", "Read the correction before you rest a claim on it."),
    ("CRI", "record-was-corrected", "was corrected and published again", "Cite the corrected paper."),
)


def read_nbib(text: str, file: str) -> ReadRecords:
    """Return the records of a PubMed ``text``. What cannot be read is an error at its line."""
    tagged, findings = split(text, file, _LAYOUT)
    records = tuple(map(_record, tagged))
    findings += [notice for record in tagged for notice in _notices(record)]
    return ReadRecords(records, (*findings, *tags_not_kept(tagged, _READ | _PASSED_OVER, file)))


def _record(tagged: TaggedRecord) -> Record:
    kinds = tagged.every("PT")
    fields = {name: tagged.first(tag) for name, tag in _FIELDS.items()}
    fields |= split_date(tagged.first("DP")) | _titles(tagged)
    fields["doi"] = next((value[:-5].strip() for value in tagged.every("LID", "AID") if value.endswith("[doi]")), "")
    fields["issn"] = tagged.first("IS").split(" ")[0]
    fields["keywords"] = ", ".join(value.lstrip("*") for value in tagged.every("OT"))
    fields["type"] = next((_LABELLED[kind] for kind in kinds if kind in _LABELLED), "")
    fields["language"] = next((_LANGUAGES.get(code, code) for code in tagged.every("LA") if code != "eng"), "")
    fields["pubstate"] = "preprint" if "Preprint" in kinds else ""
    kind = "incollection" if fields["booktitle"] else "article"
    if fields["booktitle"] and not fields["title"]:
        kind, fields["title"], fields["booktitle"] = "book", fields["booktitle"], ""
    return Record(kind, imported(kind, fields), _people(tagged), tagged.at)


def _titles(tagged: TaggedRecord) -> dict[str, str]:
    """PubMed puts a title that NLM translated in brackets, and the original under TT; the original comes first."""
    title = tagged.first("TI", "CTI").removesuffix(".")
    if title.startswith("[") and title.endswith("]"):
        title = title[1:-1].removesuffix(".")
        original = tagged.first("TT").removesuffix(".")
        if original:
            return {"title": original, "titletranslation": title}
    return {"title": title}


def _people(tagged: TaggedRecord) -> dict[str, tuple[Name, ...]]:
    authors = [
        Name(value.removesuffix("."), group=True) if tag == "CN" else name_with_commas(value)
        for tag, value in tagged.lines
        if tag in ("FAU", "CN") and value
    ]
    if not tagged.every("FAU"):
        authors = [_short_name(value) for value in tagged.every("AU")] + authors
    editors = [name_with_commas(value) for value in tagged.every("FED")] or [_short_name(v) for v in tagged.every("ED")]
    return {role: tuple(names) for role, names in (("author", authors), ("editor", editors)) if names}


def _short_name(written: str) -> Name:
    """``Halpern SD`` has its initials behind a space."""
    family, _, initials = written.rpartition(" ")
    return name_of_parts(family, initials) if family and initials.isupper() else name_of_parts(written)


def _notices(tagged: TaggedRecord) -> Iterator[Finding]:
    """Yield what PubMed says became of the paper: retracted, doubted, corrected."""
    for tag, name, became, hint in _NOTICES:
        where = tagged.first(tag)
        if where or (tag == "RIN" and "Retracted Publication" in tagged.every("PT")):
            message = f"PubMed says that {tagged.first('PMID')} {became}{f': {where}' if where else ''}"
            yield finding(name, tagged.at, message, hint)

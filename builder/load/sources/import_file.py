"""Reads sources from elsewhere: .bib, .ris, .nbib or CSL-JSON, told apart by what they hold, else by the ending."""

import re
from collections.abc import Callable
from pathlib import Path

from builder.findings.finding import Finding, Refused
from builder.findings.message_words import quoted
from builder.findings.register import finding
from builder.load import limits
from builder.load.files import read_text
from builder.load.sources.bibliography import read_sources
from builder.load.sources.csl import read_csl
from builder.load.sources.nbib import read_nbib
from builder.load.sources.record import ReadRecords, Record, record_of
from builder.load.sources.ris import read_ris
from builder.place import Place

_Reader = Callable[[str, str], ReadRecords]


def read_import(path: Path) -> ReadRecords:
    """Return the records in the file at ``path``. What is wrong is in its findings; nothing is raised for it."""
    try:
        text = read_text(path.parent, path.name, limits.MAX_SOURCES_BYTES)
    except Refused as refusal:
        return ReadRecords((), (refusal.finding,))
    return read_records(text, path.name)


def read_records(text: str, file: str) -> ReadRecords:
    """Return the records of ``text``, read as what it holds; where no line shows that, by the ending of ``file``."""
    at, ending = Place(file), Path(file).suffix.lower()
    called, by_sign = _format_of(text)
    by_ending = next((reader for name, reader in _READERS.items() if name == ending), None)
    reader = by_sign or (None if called else by_ending)
    if reader is None:
        message = f"{file} holds {called}, which cannot be read" if called else f"no source was recognised in {file}"
        return ReadRecords((), (finding("export-not-recognised", at, message, _AGAIN),))
    read = reader(text, file)
    retracted = (record for record in read.records if _RETRACTED.match(record.fields.get("title", "")))
    findings = [*read.findings, *map(_retracted, retracted)]
    if by_ending not in (None, reader):
        hint = f"Give the file the ending {_ENDINGS[reader]}."
        findings.append(finding("export-not-as-named", at, f"{file} holds {called}; it was read as such", hint))
    if not read.records and not findings:
        findings.append(finding("record-unreadable", at, f"{file} holds no source", _AGAIN))
    return ReadRecords(read.records, tuple(findings))


def _read_bib(text: str, file: str) -> ReadRecords:
    sources, findings = read_sources(text, file)
    return ReadRecords(tuple(map(record_of, sources.values())), tuple(findings))


_AGAIN = "Save the sources again as RIS, BibTeX, CSL-JSON or, from PubMed, as .nbib."
_READERS: dict[str, _Reader] = {".bib": _read_bib, ".ris": read_ris, ".nbib": read_nbib, ".json": read_csl}
_ENDINGS = {reader: ending for ending, reader in _READERS.items()}
_JSON = re.compile(r"[\s\ufeff]*(?:\[\s*[\[{\"\]]|\{\s*[\"}])")
# The first line that is like one of these tells the format; what has no reader is named, so that nobody has to guess.
_SIGNS: tuple[tuple[re.Pattern[str], str, _Reader | None], ...] = (
    (re.compile(r"TY {0,2}-"), "RIS records", read_ris),
    (re.compile(r"PMID {0,2}-"), "PubMed records", read_nbib),
    (re.compile(r"@ *\w+ *[{(]"), "BibTeX entries", _read_bib),
    (re.compile(r"%[0A-Z] "), "records with EndNote's tags (%0, %A, %T)", None),
    (re.compile(r"FN \S|PT [A-Z]$"), "records with Web of Science's tags (FN, PT, AU)", None),
    (re.compile(r"RT \S"), "records with RefWorks' tags (RT, A1, T1)", None),
    (re.compile(r"<(?:\?xml|xml|records|PubmedArticle)", re.IGNORECASE), "XML", None),
    (re.compile(r"<!doctype html|<html", re.IGNORECASE), "a web page", None),
)


def _format_of(text: str) -> tuple[str, _Reader | None]:
    """Return what ``text`` holds, in words, and what reads it; "" where no line shows it."""
    if _JSON.match(text):
        return "CSL-JSON", read_csl
    lines = (line.strip("\ufeff\f \t") for line in text.split("\n"))
    signs = ((called, reader) for line in lines for sign, called, reader in _SIGNS if sign.match(line))
    return next(signs, ("", None))


_RETRACTED = re.compile(r"\W*(?:retracted|withdrawn)\b(?: article| paper)?\W*[:\]–—-]", re.IGNORECASE)


def _retracted(record: Record) -> Finding:
    message = f"{quoted(record.fields['title'][:60])}: the title says that the paper was retracted"
    hint = "Cite another source, and add this one to a list in references/notices/."
    return finding("record-was-retracted", record.at, message, hint)

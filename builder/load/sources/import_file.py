"""Reads sources from elsewhere: .bib, .ris, .nbib or CSL-JSON, told apart by the file's ending or its first signs."""

from __future__ import annotations

from pathlib import Path

from builder.findings.finding import Refused
from builder.findings.register import finding
from builder.load import limits
from builder.load.files import read_text
from builder.load.sources.bibliography import read_sources
from builder.load.sources.csl import read_csl
from builder.load.sources.nbib import read_nbib
from builder.load.sources.record import ReadRecords, record_of
from builder.load.sources.ris import read_ris
from builder.place import Place

_READERS = {".ris": read_ris, ".nbib": read_nbib, ".json": read_csl}


def read_import(path: Path) -> ReadRecords:
    """Return the records in the file at ``path``. What is wrong is in its findings; nothing is raised for it."""
    try:
        text = read_text(path.parent, path.name, limits.MAX_SOURCES_BYTES)
    except Refused as refusal:
        return ReadRecords((), (refusal.finding,))
    return read_records(text, path.name)


def read_records(text: str, file: str) -> ReadRecords:
    """Return the records of ``text``, whose form follows from the ending of ``file``, else from its first signs."""
    start = text.lstrip()
    if file.lower().endswith(".bib") or start.startswith("@"):
        sources, findings = read_sources(text, file)
        return ReadRecords(tuple(map(record_of, sources.values())), tuple(findings))
    reader = _READERS.get(Path(file).suffix.lower())
    if reader is None:
        reader = next((read for sign, read in _SIGNS if start.startswith(sign)), None)
    if reader is None:
        message = f"{file} is none of .bib, .ris, .nbib and CSL-JSON"
        return ReadRecords(
            (), (finding("record-unreadable", Place(file), message, "Export the sources in one of these."),)
        )
    read = reader(text, file)
    if not read.records and read.is_whole:
        return ReadRecords(
            (), (*read.findings, finding("record-unreadable", Place(file), f"{file} holds no source", _AGAIN))
        )
    return read


_SIGNS = (("TY  -", read_ris), ("PMID-", read_nbib), ("[", read_csl), ("{", read_csl))
_AGAIN = "Export the sources again, and look into the file."

"""Adds to references/: sources, where what is there is left alone and what is new is BibTeX, and lists of notices.

A broken record does not hold up the others: all that can be used is written in one step and the rest is named. The
same file, put right, adds only what is missing, because what is there is known by DOI, PMID, or title and year.
"""

import os
import re
from collections.abc import Collection, Iterable, Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path

from builder.edit.file_change import FileChange
from builder.edit.ids import free, plain_words
from builder.findings.finding import Finding, Refused
from builder.findings.register import finding
from builder.grouping import bare_letters, word_set
from builder.load import limits
from builder.load.files import open_file, read_text
from builder.load.sources.bibliography import RawSource, read_sources
from builder.load.sources.bibtex_text import bibtex
from builder.load.sources.identifiers import doi_of, is_doi, is_pmid, pmid_of, same_doi, told_apart
from builder.load.sources.notices import fault
from builder.load.sources.notices_export import Export, list_text
from builder.load.sources.record import OTHERS, Record, record_of
from builder.model.fields import NOT_SAID, is_not_said
from builder.place import Place
from builder.write.writer import digest_now, write_files

DEFAULT_FILE = "references/sources.bib"

_KEY_WORDS = 3
_SMALL_WORDS = word_set("a an and as at by for from in into is of on or the to versus vs with without")


@dataclass(frozen=True, slots=True)
class Merged:
    """What comes of adding records: those ``added`` under a new key; those ``known`` already, with that key; and what
    a known source lacks and the record has (``more``: field to text, by key), which is left to a person.

    ``findings`` name the new ones that were left out, because nobody could tell them apart without a title.
    """

    added: tuple[tuple[str, Record], ...]
    known: tuple[tuple[Record, str], ...]
    more: Mapping[str, Mapping[str, str]]
    findings: tuple[Finding, ...] = ()


def merge(sources: Mapping[str, RawSource], records: Iterable[Record]) -> Merged:
    """Return what is to be done with ``records``. Two are the same by DOI, by PMID, or by title and year."""
    known: dict[tuple[str, ...], str] = {}
    held: dict[str, Record] = {}
    for key, source in sources.items():
        _know(known, held, record_of(source), key)
    added: list[tuple[str, Record]] = []
    already: list[tuple[Record, str]] = []
    more: dict[str, dict[str, str]] = {}
    untitled: list[Finding] = []
    for record in records:
        known_key = _same(known, held, record)
        if known_key is None and not record.fields.get("title"):
            untitled.append(_untitled(record))
        elif known_key is None:
            key = proposed_key(record, held)
            added.append((key, record))
            _know(known, held, record, key)
        else:
            already.append((record, known_key))
            lacking = {name: text for name, text in record.fields.items() if name not in held[known_key].fields}
            if lacking and known_key in sources:
                more.setdefault(known_key, {}).update(lacking)
    return Merged(tuple(added), tuple(already), more, tuple(untitled))


def _untitled(record: Record) -> Finding:
    known = next((f" ({name.upper()} {record.fields[name]})" for name in ("doi", "pmid") if name in record.fields), "")
    message = f"the record that begins here has no title{known}, so it was not added"
    hint = "Write its title into the file, then add the file again."
    return finding("record-without-title", record.at, message, hint)


def _names(record: Record) -> Iterator[tuple[str, ...]]:
    fields = record.fields
    if fields.get("doi"):
        yield "doi", same_doi(fields["doi"])
    if fields.get("pmid"):
        yield "pmid", pmid_of(fields["pmid"])
    title = bare_letters(fields.get("title", ""))
    if title and not is_not_said(fields["title"]):
        yield "title", title, fields.get("year", "")[:4]


def _know(known: dict[tuple[str, ...], str], held: dict[str, Record], record: Record, key: str) -> None:
    held[key] = record
    for name in _names(record):
        known.setdefault(name, key)


def _same(known: Mapping[tuple[str, ...], str], held: Mapping[str, Record], record: Record) -> str | None:
    for name in _names(record):
        key = known.get(name)
        # The same title and year under another DOI is another paper.
        if key is not None and (name[0] != "title" or not told_apart(record.fields, held[key].fields)):
            return key
    return None


def proposed_key(record: Record, taken: Collection[str]) -> str:
    """Return a key such as ``wijsmuller-nerve-management-open-2007`` that is not ``taken``.

    A key the record brings itself is kept where it is free and has the form of our keys.
    """
    lower = {key.lower() for key in taken}
    if re.fullmatch(r"[a-z0-9]+(-[a-z0-9]+)+", record.key) and record.key not in lower:
        return record.key
    people = record.people.get("author") or record.people.get("editor") or ()
    first = [name for name in people[:1] if name != OTHERS]
    families = [(plain_words(name.family) or [""])[0 if name.group else -1] for name in first]
    title_words = [word for word in plain_words(record.fields.get("title", "")) if word not in _SMALL_WORDS]
    words = [*families, *title_words[:_KEY_WORDS]]
    if not any(words) or is_not_said(record.fields.get("title", "")):  # or in another script than ours
        words = [f"pmid {record.fields['pmid']}" if "pmid" in record.fields else record.fields.get("doi", record.type)]
    key = "-".join(plain_words(" ".join([*words, record.fields.get("year", "")[:4]])))
    return free(key or record.type, lower)


def with_entries(text: str, added: Iterable[tuple[str, Record]]) -> str:
    """Return the .bib ``text``, unchanged, with the entries ``added`` at its end."""
    entries = [bibtex(record, key) for key, record in added]
    before = text.rstrip("\n") + "\n\n" if text.strip() else ""
    return before + "\n".join(entries) if entries else text


class SourcesNotAdded(Exception):
    """Raised when nothing was written; ``findings`` say why."""

    def __init__(self, findings: tuple[Finding, ...]) -> None:
        super().__init__("; ".join(finding.message for finding in findings))
        self.findings = findings


def add_sources(root: Path, sources: Mapping[str, RawSource], records: Iterable[Record]) -> Merged:
    """Add those of ``records`` that ``sources`` (all of the department) lack to the department in ``root``.

    What stands in DEFAULT_FILE stays as it is, byte for byte but for the line ends. All is written, or nothing: raises
    SourcesNotAdded where the file is itself not in order.
    """
    file = DEFAULT_FILE
    try:
        opened = open_file(root, file, limits.MAX_SOURCES_BYTES) if os.path.lexists(root / file) else None
        before = read_text(root, file, limits.MAX_SOURCES_BYTES) if opened else ""
    except Refused as refusal:
        raise SourcesNotAdded((refusal.finding,)) from None
    _, faults = read_sources(before, file)
    if faults:
        raise SourcesNotAdded(tuple(faults))
    merged = merge(sources, records)
    begun = [(key, record) for record, key in merged.known if key in sources and _only_begun(sources[key], record)]
    if merged.added or begun:
        text = with_entries(_completed(before, begun), merged.added)
        many = len(merged.added) + len(begun)
        label = f"{many} {'source' if many == 1 else 'sources'} added"
        write_files(root, {file: FileChange(text, opened.digest if opened else None)}, label)
    return merged


def begun_record(written: str) -> Record | None:
    """Return the record of a source of which only its DOI or its PubMed number is known; None where it is neither."""
    if is_doi(doi_of(written)):
        return Record("article", {"title": NOT_SAID, "doi": doi_of(written)}, {})
    if is_pmid(pmid_of(written)):
        return Record("article", {"title": NOT_SAID, "pmid": pmid_of(written)}, {})
    return None


def _only_begun(source: RawSource, record: Record) -> bool:
    return is_not_said(source.fields.get("title", "")) and not is_not_said(record.fields.get("title", NOT_SAID))


def _completed(text: str, records: Iterable[tuple[str, Record]]) -> str:
    """Return the .bib ``text`` with the entries of sources that were only begun written in full, under their keys."""
    for key, record in records:
        begun = re.compile(rf"^@\w+\{{{re.escape(key)},\n.*?^\}}\n", re.MULTILINE | re.DOTALL)
        text = begun.sub(lambda _, key=key, record=record: bibtex(record, key), text, count=1)  # type: ignore[misc]
    return text


def add_notices(root: Path, path: Path, export: Export) -> str:
    """Write the list made from ``export`` (read from ``path``) and return its name in the department's folder.

    It replaces an older list made from a file of the same name. Raises SourcesNotAdded where the export told no date
    or could not be read.
    """
    if export.newest is None:
        undated = fault(Place(path.name), "the export holds no date", "Download it again.")
        raise SourcesNotAdded(export.faults or (undated,))
    name = f"references/notices/{'-'.join(plain_words(path.stem)) or 'notices'}.csv"
    title = f"notices on sources of this department, from {path.name} ({export.read} rows)"
    text = list_text(title, export.newest, export.kept)
    write_files(root, {name: FileChange(text, digest_now(root, name))}, f"{name}: taken from {path.name}")
    return name

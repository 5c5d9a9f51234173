"""Each source is complete, its identifiers can be right, and it is in references/ once and is used."""

from collections.abc import Callable, Iterator
from difflib import get_close_matches

from builder.check.hit import Hit, finds
from builder.facts.claims import resting
from builder.findings.finding import SecondPlace, Severity
from builder.findings.message_words import listed, quoted
from builder.grouping import bare_letters
from builder.load.sources.bibliography import RawSource
from builder.load.sources.identifiers import (
    doi_of,
    is_doi,
    is_isbn,
    is_issn,
    is_orcid,
    is_pmcid,
    is_pmid,
    pmcid_of,
    pmid_of,
    same_doi,
    told_apart,
)
from builder.load.sources.latex import plain, raw
from builder.model.library import Library
from builder.model.styles.journals import abbreviation
from builder.model.styles.reference_fields import is_preprint
from builder.model.styles.vancouver import TYPES

_YEAR = ("year", "date")
_PUBLISHER = ("publisher", "institution", "school", "organization")
# What each type must have, after the BibTeX manual (Patashnik 1988) and biblatex; one of each group is enough.
_NEEDED: dict[str, tuple[tuple[str, ...], ...]] = {
    "article": (
        ("title",),
        ("journal", "journaltitle"),
        _YEAR,
        ("volume", "number", "pages", "eid", "doi", "pubstate"),
    ),
    "book": (("title",), _PUBLISHER, _YEAR),
    "incollection": (("title",), ("booktitle",), _PUBLISHER, _YEAR),
    "inbook": (("title", "chapter"), _PUBLISHER, _YEAR),
    "inproceedings": (("title",), ("booktitle",), _YEAR),
    "techreport": (("title",), _PUBLISHER, _YEAR),
    "report": (("title",), _PUBLISHER, _YEAR),
    "phdthesis": (("title",), _PUBLISHER, _YEAR),
    "mastersthesis": (("title",), _PUBLISHER, _YEAR),
    "thesis": (("title",), _PUBLISHER, _YEAR),
    "online": (("title",), ("url", "doi"), ("urldate", "accessed", "lastaccessed")),
    "patent": (("title",), ("number",), _YEAR),
}
_ALWAYS = (("title",), _YEAR)
# These are told apart without an author: a case by its name, a web page by its address.
_AUTHORLESS = frozenset({"jurisdiction", "legal", "judgment", "online", "www", "electronic", "webpage", "misc"})


@finds("source-unused")
def unused_sources(library: Library) -> Iterator[Hit]:
    """Yield each source that nothing cites. Where a page could not be read, nothing can be called unused."""
    if any(kind not in ("sources", "notices", "figure") for kind, _, _ in library.broken):
        return
    cited = resting(library)
    for key, source in library.sources.items():
        if key not in cited:
            hint = "Cite it where it is needed, or remove it."
            yield Hit(source.key.at, f"{quoted(key)} is not cited anywhere", hint)


@finds("source-field-missing")
def missing_fields(library: Library) -> Iterator[Hit]:
    """Yield each source that lacks a field which its type must have; a missing author is a note only."""
    for key, source in library.sources.items():
        has = source.fields.keys()
        groups = _NEEDED.get(source.type, _ALWAYS)
        lacking = [group for group in groups if not any(name in has for name in group)]
        if lacking:
            names = listed((quoted(group[0]) for group in lacking), "and")
            options = "; ".join(" or ".join(f"`{name}`" for name in group) for group in lacking)
            message = f"{quoted(key)} lacks {names}, which a source of type {quoted(source.type)} must have"
            yield Hit(source.key.at, message, f"Add {options}.")
        if not source.roles & {"author", "editor"} and source.type not in _AUTHORLESS:
            message = f"{quoted(key)} names neither author nor editor"
            yield Hit(
                source.key.at, message, "Add `author`, with an organisation in double braces.", severity=Severity.NOTE
            )


@finds("source-type-unknown")
def unknown_types(library: Library) -> Iterator[Hit]:
    """Yield each source of a type that nobody knows: it is laid out like a book, and loses what a book has not."""
    for key, source in library.sources.items():
        if source.type not in TYPES:
            near = get_close_matches(source.type, TYPES, n=1)
            hint = f"Write `@{near[0]}`." if near else "Write `@article`, `@book`, `@techreport`, `@online` or `@misc`."
            yield Hit(source.key.at, f"{quoted(source.type)} is not a type of source ({quoted(key)})", hint)


# (field, how it is read, whether it can be right, what is wrong and what to do)
_CHECKED: tuple[tuple[str, Callable[[str], str], Callable[[str], bool], str, str], ...] = (
    ("doi", doi_of, is_doi, "is not a DOI", "Copy it again; it looks like 10.1002/bjs.5651."),
    ("pmid", pmid_of, is_pmid, "is not a PMID", "Copy it again from PubMed; it has 1 to 8 digits."),
    ("pmcid", pmcid_of, is_pmcid, "is not a PMCID", "Copy it again; it looks like PMC5809582."),
    ("isbn", raw, is_isbn, "is not an ISBN: its check digit is wrong", "Copy all 10 or 13 digits again."),
    ("issn", raw, is_issn, "is not an ISSN: its check digit is wrong", "Copy all 8 characters again."),
    ("orcid", raw, is_orcid, "is not an ORCID iD: its check digit is wrong", "Copy all 16 characters again."),
)


@finds("identifier-wrong")
def wrong_identifiers(library: Library) -> Iterator[Hit]:
    """Yield each DOI, PMID, PMCID, ISBN, ISSN and ORCID iD that cannot be right."""
    for source in library.sources.values():
        for name, read, can_be_right, wrong, hint in _CHECKED:
            if name in source.fields:
                for written in _each(name, source.fields[name]):
                    if not can_be_right(read(written)):
                        yield Hit(source.place(name), f"{quoted(written)} {wrong}", hint)


def _each(name: str, written: str) -> list[str]:
    """A book may have two ISBNs and a journal two ISSNs in one field."""
    if name in ("isbn", "issn", "orcid"):
        return [part for part in written.replace(";", ",").split(",") if part.strip()] or [written]
    return [written]


@finds("source-twice")
def sources_twice(library: Library) -> Iterator[Hit]:
    """Yield each source that is another one under a second key: same DOI, same PMID, or same title and year."""
    first: dict[tuple[str, str], RawSource] = {}
    for source in library.sources.values():
        for name in _names(source):
            other = first.setdefault(name, source)
            if other is not source and not told_apart(source.fields, other.fields):
                message = f"{quoted(source.key)} is the same source as {quoted(other.key)}: it has the same {name[0]}"
                also = (SecondPlace(other.key.at, "the other entry"),)
                yield Hit(source.key.at, message, f"Cite {quoted(other.key)} and remove this entry.", also)
                break


def _names(source: RawSource) -> Iterator[tuple[str, str]]:
    fields = source.fields
    if fields.get("doi"):
        yield "DOI", same_doi(fields["doi"])
    if fields.get("pmid"):
        yield "PMID", pmid_of(fields["pmid"])
    title = bare_letters(plain(fields.get("title", "")))
    if title:
        yield "title and year", f"{title} {source.year} {source.type} {fields.get('booktitle', '')}"


@finds("source-from-the-future")
def years_in_future(library: Library) -> Iterator[Hit]:
    """Yield each source from a year that has not begun; and each whose year is no year."""
    for source in library.sources.values():
        written = source.fields.get("year") or source.fields.get("date", "")
        year = source.year
        at = source.place("year" if source.fields.get("year") else "date")
        if year is not None and year > library.today.year:
            yield Hit(at, f"{quoted(written)} is in the future", "Correct the year.")
        elif written and year is None:
            yield Hit(at, f"{quoted(written)} contains no year", "Write the year with four digits.")


@finds("source-is-preprint")
def preprints(library: Library) -> Iterator[Hit]:
    """Yield each source that nobody has reviewed yet."""
    for key, source in library.sources.items():
        if is_preprint(source.type, source.fields):
            hint = "Cite the peer-reviewed paper once it is published, or say beside the claim that this is a preprint."
            yield Hit(source.key.at, f"{quoted(key)} is a preprint: it has not been peer reviewed", hint)


@finds("journal-in-full")
def journals_in_full(library: Library) -> Iterator[Hit]:
    """Yield each journal, once, whose NLM abbreviation neither the source nor our table gives."""
    seen: set[str] = set()
    for source in library.sources.values():
        written = source.fields.get("journal") or source.fields.get("journaltitle", "")
        if not written or source.fields.get("shortjournal") or written in seen:
            continue
        seen.add(written)
        title = plain(written)
        if abbreviation(title) is None and not is_preprint(source.type, source.fields):
            hint = "Add `shortjournal` with the abbreviation from the NLM Catalog."
            yield Hit(source.place("journal"), f"{quoted(title)} is printed in full: its abbreviation is unknown", hint)

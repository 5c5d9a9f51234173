"""The pieces that references are made of, as pybtex templates: names, titles, hosts, dates, imprints, links."""

from __future__ import annotations

import re
from collections.abc import Callable
from typing import Any

from pybtex.style.template import FieldIsMissing, href, join, node, optional, sentence

from builder.load.sources.identifiers import doi_of, pmcid_of, pmid_of
from builder.model.styles.journals import abbreviation
from builder.model.styles.reference_fields import SourceFields
from builder.model.styles.reference_names import name_list
from builder.model.styles.reference_parts import issue_of, pages_of

Template = Any
_WEB = re.compile(r"https?://", re.IGNORECASE)


# pybtex hands every node its children; these have none.
@node  # type: ignore[untyped-decorator]  # pybtex has no types
def text(_: Any, context: dict[str, Any], *names: str, shown: Callable[[str], str] = str) -> str:
    """The first of the fields ``names`` that is there, as plain text passed through ``shown``."""
    words = context["fields"].first(*names)
    if not words:
        raise FieldIsMissing(names[0], context["entry"])
    return shown(words)


@node  # type: ignore[untyped-decorator]
def people(_: Any, context: dict[str, Any], role: str) -> str:
    """The persons of ``role``, shortened as the style says."""
    shown = name_list(context["entry"].persons.get(role, ()), context["style"].most_names)
    if not shown:
        raise FieldIsMissing(role, context["entry"])
    return shown


@node  # type: ignore[untyped-decorator]
def made(_: Any, context: dict[str, Any], make: Callable[[SourceFields], str]) -> str:
    """What ``make`` works out from several fields."""
    words = make(context["fields"])
    if not words:
        raise FieldIsMissing(make.__name__, context["entry"])
    return words


def said(*parts: Any) -> Template:
    """One sentence of ``parts``, left out whole where one of them is missing."""
    return optional[sentence(sep="")[list(parts)]]


def editors_part(persons: Any) -> Template:
    """``Names, editors``."""
    return join[people("editor"), ", editors" if len(persons) > 1 else ", editor"]


def title_part(fields: SourceFields, kind: str = "") -> Template:
    """The title as a sentence, with what kind of work it is and whether it lies on the internet in brackets."""
    title = fields.first("title", "booktitle") or "[title missing]"
    subtitle = fields.first("subtitle")
    title = f"{title.rstrip('.')}: {subtitle}" if subtitle else title
    translated = fields.first("titletranslation", "translatedtitle")
    kind = kind or (fields.first("type", "entrysubtype") if fields.type == "article" else "")
    labels = [f"[{part.strip('[]')}]" for part in (translated, kind, _internet(fields)) if part]
    # The label is inside the sentence, before its full stop: "Anatomy [dissertation]."
    return sentence(sep=" ")[title.rstrip("."), *labels]


def _internet(fields: SourceFields) -> str:
    """In an article the medium follows the journal; everywhere else with the title."""
    return "Internet" if fields.is_web and fields.type not in ("article", *_PARTS) and not fields.is_preprint else ""


_PARTS = ("incollection", "inbook", "inproceedings", "conference", "inreference")


def medium_part(fields: SourceFields) -> str:
    """The medium, after the title of a journal, unless it is print."""
    return " [Internet]" if fields.is_web else ""


def host_parts(fields: SourceFields) -> list[str]:
    """The title of the book that a part is in, and the meeting it came from."""
    title = (fields.first("booktitle", "maintitle", "journal") or "[title missing]").rstrip(".")
    title += " [Internet]" if fields.is_web else ""
    return [title, *meeting_parts(fields)]


def meeting_parts(fields: SourceFields) -> list[str]:
    """A meeting: its name, its days, its place."""
    return [part for part in (fields.first("eventtitle"), fields.event_date, fields.first("venue")) if part]


def journal_name(fields: SourceFields) -> str:
    """The abbreviation the source brings, else that of the table, else the title as written."""
    brought = fields.first("shortjournal", "journalabbr", "journal-iso", "iso-source-abbreviation")
    title = fields.first("journal", "journaltitle")
    return (brought or abbreviation(title) or title).replace(".", "") if brought or title else ""


def date_text(fields: SourceFields) -> str:
    """The date as far as it is known."""
    return fields.date


def _cited(fields: SourceFields) -> str:
    known = [f"updated {fields.updated}" * bool(fields.updated), f"cited {fields.cited}" * bool(fields.cited)]
    told = "; ".join(part for part in known if part) if fields.is_web else ""
    return f"[{told}]" if told else ""


def date_cited(fields: SourceFields) -> str:
    """The date and, for a web page, the days on which it was changed and read."""
    return " ".join(part for part in (fields.date, _cited(fields)) if part)


def date_volume_pages(fields: SourceFields) -> str:
    """``2002 Jul 25;347(4):284-7``, or what of it is known."""
    if fields.is_forthcoming:
        return f"Forthcoming {fields.year}".strip()
    volume, number = fields.first("volume"), fields.first("number", "issue")
    pages = pages_of(fields.first("pages", "eid", "articleno", "article-number"))
    issue = volume + issue_of(number, bool(volume))
    told = date_cited(fields)
    if issue:
        told += f";{issue}"
    # A newspaper has sections, not pages of a volume: "2002 Aug 12;Sect. A:2 (col. 4)".
    between = ":" if issue or not pages.startswith("Sect") else ";"
    return f"{told}{between}{pages}" if pages else told


def series_text(fields: SourceFields) -> str:
    """``(Series; no. 3)``."""
    series, number = fields.first("series"), fields.first("number")
    if not series:
        return ""
    return f"({series}; no. {number})" if number else f"({series})"


def imprint(fields: SourceFields) -> Template:
    """Place: publisher; date. A place that is not given is left out: "place unknown" would claim that none exists."""
    place, publisher = fields.first("address", "location"), fields.publisher
    made_by = ": ".join(part for part in (place, publisher) if part)
    return sentence(sep="")["; ".join(part for part in (made_by, date_cited(fields)) if part)]


def tail(fields: SourceFields, note: bool = True) -> list[Template]:
    """What follows in every kind of source: language, note, address, DOI, PMID and PMCID."""
    return [
        said(fields.language) if fields.language else "",
        said(text("note")) if note else "",
        _address(fields),
        said("doi: ", _link(_doi_address(fields.raw("doi")), doi_of(fields.raw("doi")))) if fields.raw("doi") else "",
        _pubmed(fields),
    ]


def _address(fields: SourceFields) -> Template:
    if not fields.is_web:
        return ""
    address = fields.raw("url")
    # Citing Medicine, chapter 22: a full stop after an address only where it ends with a slash.
    return join["Available from: ", _link(address, address), "." if address.endswith("/") else ""]


def _pubmed(fields: SourceFields) -> Template:
    pmid, pmcid = pmid_of(fields.raw("pmid")), pmcid_of(fields.raw("pmcid"))
    known = []
    if pmid:
        address = f"https://pubmed.ncbi.nlm.nih.gov/{pmid}/" if pmid.isdigit() else ""
        known.append(join["PubMed PMID: ", _link(address, pmid)])
    if pmcid:
        address = f"https://pmc.ncbi.nlm.nih.gov/articles/{pmcid}/" if pmcid[3:].isdigit() else ""
        known.append(join["PubMed Central PMCID: ", _link(address, pmcid)])
    return sentence(sep="; ")[known] if known else ""


def _doi_address(written: str) -> str:
    return f"https://doi.org/{doi_of(written)}"


def _link(address: str, shown: str) -> Template:
    """A link where the address is one of the web; any other scheme is shown and not linked."""
    return href(address)[shown] if _WEB.match(address) else shown

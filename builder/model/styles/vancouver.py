"""The Vancouver style: NLM's Citing Medicine (2nd edition, Patrias and Wendling) and the ICMJE sample references.

Six authors, then et al.; at most two initials; NLM journal abbreviations; page ranges without repeated digits; DOI and
PMID linked. What the two leave open, or where we differ, is told beside the code.
"""

import re
from collections.abc import Iterable
from typing import Any

from pybtex.database import Entry
from pybtex.richtext import HRef
from pybtex.richtext import Text as RichText
from pybtex.textutils import add_period

from builder.load.sources.identifiers import doi_of, pmcid_of, pmid_of
from builder.model.styles.journals import abbreviation
from builder.model.styles.reference_fields import SourceFields, date_of, edition_of, issue_of, pages_of

Piece = Any
"""A part of a reference, text or rich text, mostly a sentence with its full stop; what is missing is an empty text."""

MOST_NAMES = 6
_NEUTRAL_CITATION = re.compile(r"\[\d{4}\]\s+[A-Z]+(?:\s+\w+)?\s+\d+|\[\d{4}\]\s+\d*\s*[A-Z]+\s+\d+")
# biblatex and exporters know more types than BibTeX; each is laid out like its nearest relative.
_LAID_OUT_LIKE = {
    "periodical": "article", "suppperiodical": "article", "review": "article",
    "mvbook": "book", "collection": "book", "mvcollection": "book", "proceedings": "book", "mvproceedings": "book",
    "manual": "book", "booklet": "book", "reference": "book",
    "inbook": "incollection", "inreference": "incollection", "bookinbook": "incollection",
    "suppbook": "incollection", "suppcollection": "incollection", "conference": "inproceedings",
    "techreport": "report", "standard": "report", "guideline": "report",
    "phdthesis": "thesis", "mastersthesis": "thesis",
    "www": "online", "electronic": "online", "webpage": "online",
    "legal": "jurisdiction", "judgment": "jurisdiction", "case": "jurisdiction",
    "preprint": "unpublished",
}  # fmt: skip

TYPES = frozenset(_LAID_OUT_LIKE) | frozenset(_LAID_OUT_LIKE.values()) | {
    "patent", "misc", "online", "dataset", "software", "audio", "video", "movie", "image", "letter", "map",
    "performance",
}  # fmt: skip
"""The types of entry that are known, those of BibTeX and biblatex and a few of exporters."""
_PARTS = ("incollection", "inbook", "inproceedings", "conference", "inreference")
_WEB = re.compile(r"https?://", re.IGNORECASE)


def reference(entry: Entry, most_names: int = MOST_NAMES) -> RichText:
    """Return the reference of ``entry``. Any is laid out, one of an unknown type like a book; nothing is raised."""
    return _joined(_layout(SourceFields(entry, most_names)))


def _layout(fields: SourceFields) -> list[Piece]:
    """Return the pieces of a reference for the kind of source that ``fields`` describes."""
    kind = _LAID_OUT_LIKE.get(fields.type, fields.type)
    if _NEUTRAL_CITATION.search(fields.first("number")) or kind == "jurisdiction":
        return _judgment(fields)
    if fields.is_preprint:
        kind = "unpublished"
    layout = {
        "article": _article, "incollection": _part, "inproceedings": _part, "report": _report, "thesis": _thesis,
        "patent": _patent, "unpublished": _preprint,
    }.get(kind, _book)  # fmt: skip
    return layout(fields)


def _article(fields: SourceFields) -> list[Piece]:
    journal = _journal(fields)
    # The medium follows the title of a journal, unless it is print.
    medium = " [Internet]" if fields.is_web else ""
    return [
        _said(fields.people("author")),
        _title(fields),
        _said(journal and journal + medium),
        _said(_date_volume_pages(fields)),
        *_tail(fields),
    ]


def _book(fields: SourceFields) -> list[Piece]:
    editors = _editors(fields)
    by_editors = editors and not fields.entry.persons.get("author")
    written = fields.first("howpublished")
    return [
        _said(editors if by_editors else fields.people("author")),
        # What ``howpublished`` says is what it is when it is not a book, unless that is an address.
        _title(fields, fields.first("type") or ("" if "://" in written else written)),
        _edition(fields),
        _said(fields.first("volume"), "Vol. "),
        "" if by_editors else _said(editors),
        _said("; ".join(_meeting(fields))),
        _imprint(fields),
        _said(_series(fields)),
        _said(pages_of(fields.first("pages")), "p. "),
        *_tail(fields),
    ]


def _part(fields: SourceFields) -> list[Piece]:
    # The title of the book that it is in, and the meeting it came from.
    host = (fields.first("booktitle", "maintitle", "journal") or "[title missing]").rstrip(".")
    host += " [Internet]" if fields.is_web else ""
    return [
        _said(fields.people("author")),
        _title(fields),
        _joined(["In:", _said(_editors(fields)), _said("; ".join([host, *_meeting(fields)]))]),
        _edition(fields),
        _said(fields.first("volume"), "Vol. "),
        _imprint(fields),
        _said(_series(fields)),
        _said(pages_of(fields.first("pages")), "p. ") or _said(fields.first("chapter"), "Chapter "),
        *_tail(fields),
    ]


def _report(fields: SourceFields) -> list[Piece]:
    return [
        _said(fields.people("author")),
        _title(fields),
        _said(fields.first("type")),
        _edition(fields),
        _imprint(fields),
        _said(fields.first("number"), "Report No.: "),
        _said(fields.first("contract"), "Contract No.: "),
        *_tail(fields),
    ]


def _thesis(fields: SourceFields) -> list[Piece]:
    usual = "master's thesis" if fields.type == "mastersthesis" else "dissertation"
    written = fields.first("type")
    kind = {"phdthesis": "dissertation", "mathesis": "master's thesis"}.get(written.lower(), written) or usual
    return [_said(fields.people("author")), _title(fields, kind), _imprint(fields), *_tail(fields)]


def _patent(fields: SourceFields) -> list[Piece]:
    people, holder, kind = fields.people("author"), fields.first("holder", "assignee"), fields.first("type")
    inventors = "inventors" if len(fields.entry.persons.get("author", ())) > 1 else "inventor"
    held = f"; {holder}, assignee" if holder else ""
    return [
        _said(people and f"{people}, {inventors}{held}"),
        _title(fields),
        _said(kind and f"{kind} {fields.first('number')}".rstrip()),
        _said(fields.date),
        *_tail(fields),
    ]


def _preprint(fields: SourceFields) -> list[Piece]:
    # ICMJE samples, "Preprint": the server and number, with [Preprint], take the place of a journal.
    server = fields.first("eprinttype", "archiveprefix", "publisher", "journal", "howpublished", "institution")
    return [
        _said(fields.people("author")),
        _title(fields),
        _said(_spaced(server, fields.first("eprint", "number"), "[Preprint]")),
        _said(_date_cited(fields)),
        *_tail(fields),
    ]


def _judgment(fields: SourceFields) -> list[Piece]:
    # Citing Medicine leaves law to the usage of each country. In the United Kingdom that is OSCOLA: the name of the
    # case and its neutral citation, from which the court can be told; elsewhere the report and the court.
    title = fields.first("title") or "[title missing]"
    cited = _NEUTRAL_CITATION.search(f"{fields.first('number')} {fields.first('howpublished')}")
    if cited:
        return [_said(f"{title} {cited.group()}"), _said(fields.first("reporter")), *_tail(fields, note=False)]
    report = _spaced(fields.first("volume"), fields.first("reporter", "journal"), fields.first("number", "pages"))
    heard = _spaced(fields.first("court", "institution", "publisher"), fields.year)
    where = _spaced(report, f"({heard})" if heard else "")
    return [_said(f"{title}, {where}" if where else title), *_tail(fields, note=False)]


def _spaced(*parts: str) -> str:
    return " ".join(part for part in parts if part)


def _joined(pieces: Iterable[Piece]) -> RichText:
    return RichText(" ").join([piece for piece in pieces if piece])


def _said(words: str, before: str = "") -> str:
    """One sentence of ``words``, with what stands ``before`` them; nothing where there are none."""
    return str(add_period(before + words)) if words else ""


def _editors(fields: SourceFields) -> str:
    """``Names, editors``."""
    names = fields.people("editor")
    return names and f"{names}, editor{'s' if len(fields.entry.persons['editor']) > 1 else ''}"


def _title(fields: SourceFields, kind: str = "") -> str:
    """The title as a sentence, with what kind of work it is and whether it lies on the internet in brackets."""
    title = fields.first("title", "booktitle") or "[title missing]"
    subtitle = fields.first("subtitle")
    title = f"{title.rstrip('.')}: {subtitle}" if subtitle else title
    translated = fields.first("titletranslation", "translatedtitle")
    kind = kind or (fields.first("type", "entrysubtype") if fields.type == "article" else "")
    # In an article the medium follows the journal; everywhere else the title.
    is_web = fields.is_web and fields.type not in ("article", *_PARTS) and not fields.is_preprint
    labels = (f"[{part.strip('[]')}]" for part in (translated, kind, "Internet" if is_web else "") if part)
    # The label is inside the sentence, before its full stop: "Anatomy [dissertation]."
    return _said(_spaced(title.rstrip("."), *labels))


def _edition(fields: SourceFields) -> str:
    written = fields.first("edition")
    return written and edition_of(written)


def _meeting(fields: SourceFields) -> list[str]:
    """A meeting: its name, its days, its place."""
    return [
        part for part in (fields.first("eventtitle"), date_of(fields.first("eventdate")), fields.first("venue")) if part
    ]


def _journal(fields: SourceFields) -> str:
    """The abbreviation the source brings, else that of the table, else the title as written."""
    brought = fields.first("shortjournal", "journalabbr", "journal-iso", "iso-source-abbreviation")
    title = fields.first("journal", "journaltitle")
    return (brought or abbreviation(title) or title).replace(".", "") if brought or title else ""


def _date_cited(fields: SourceFields) -> str:
    """The date and, for a web page, the days on which it was changed and read."""
    updated = date_of(fields.first("updated", "lastmodified"))
    cited = date_of(fields.first("urldate", "accessed", "lastaccessed", "lastchecked"))
    known = [f"updated {updated}" * bool(updated), f"cited {cited}" * bool(cited)]
    told = "; ".join(part for part in known if part) if fields.is_web else ""
    return _spaced(fields.date, told and f"[{told}]")


def _date_volume_pages(fields: SourceFields) -> str:
    """``2002 Jul 25;347(4):284-7``, or what of it is known."""
    if fields.first("pubstate").lower() in ("forthcoming", "inpress", "in press"):
        return f"Forthcoming {fields.year}".strip()
    volume, number = fields.first("volume"), fields.first("number", "issue")
    pages = pages_of(fields.first("pages", "eid", "articleno", "article-number"))
    issue = volume + issue_of(number, bool(volume))
    told = _date_cited(fields)
    if issue:
        told += f";{issue}"
    # A newspaper has sections, not pages of a volume: "2002 Aug 12;Sect. A:2 (col. 4)".
    between = ":" if issue or not pages.startswith("Sect") else ";"
    return f"{told}{between}{pages}" if pages else told


def _series(fields: SourceFields) -> str:
    """``(Series; no. 3)``."""
    series, number = fields.first("series"), fields.first("number")
    return series and (f"({series}; no. {number})" if number else f"({series})")


def _imprint(fields: SourceFields) -> str:
    """Place: publisher; date. A place that is not given is left out: "place unknown" would claim that none exists."""
    publisher = fields.first("publisher", "institution", "school", "organization")
    made_by = ": ".join(part for part in (fields.first("address", "location"), publisher) if part)
    return _said("; ".join(part for part in (made_by, _date_cited(fields)) if part))


def _tail(fields: SourceFields, note: bool = True) -> list[Piece]:
    """What follows in every kind of source: language, note, address, DOI, PMID and PMCID."""
    address, doi = fields.raw("url"), doi_of(fields.raw("doi"))
    # Citing Medicine, chapter 22: a full stop after an address only where it ends with a slash.
    available = RichText("Available from: ", _link(address, address), "." if address.endswith("/") else "")
    return [
        _said(fields.language),
        _said(fields.first("note")) if note else "",
        available if fields.is_web else "",
        RichText("doi: ", _link(f"https://doi.org/{doi}", doi)).add_period() if fields.raw("doi") else "",
        _pubmed(pmid_of(fields.raw("pmid")), pmcid_of(fields.raw("pmcid"))),
    ]


def _pubmed(pmid: str, pmcid: str) -> RichText:
    pubmed = f"https://pubmed.ncbi.nlm.nih.gov/{pmid}/" if pmid.isdigit() else ""
    central = f"https://pmc.ncbi.nlm.nih.gov/articles/{pmcid}/" if pmcid[3:].isdigit() else ""
    known = [RichText("PubMed PMID: ", _link(pubmed, pmid))] if pmid else []
    known += [RichText("PubMed Central PMCID: ", _link(central, pmcid))] if pmcid else []
    return RichText("; ").join(known).add_period()


def _link(address: str, shown: str) -> Piece:
    """A link where the address is one of the web; any other scheme is shown and not linked."""
    return HRef(address, shown) if _WEB.match(address) else shown

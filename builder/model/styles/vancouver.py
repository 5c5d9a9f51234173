"""The Vancouver style: NLM's Citing Medicine (2nd edition, Patrias and Wendling) and the ICMJE sample references.

Six authors, then et al.; at most two initials; NLM journal abbreviations; page ranges without repeated digits; DOI and
PMID linked. What the two leave open, or where we differ, stands beside the code.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from typing import Any

from pybtex.database import Entry
from pybtex.richtext import Text as RichText
from pybtex.style.formatting import BaseStyle
from pybtex.style.template import FieldIsMissing, first_of, href, join, node, optional, sentence, words

from builder.load.bibliography import RawSource
from builder.load.identifiers import doi_of, pmcid_of, pmid_of
from builder.model.styles.backends import FormattedSource, formatted
from builder.model.styles.fields import SourceFields
from builder.model.styles.journals import abbreviation
from builder.model.styles.names import name_list
from builder.model.styles.parts import edition_of, issue_of, pages_of

_Template = Any
_WEB = re.compile(r"https?://", re.IGNORECASE)
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


# pybtex hands every node its children; these have none.
@node  # type: ignore[untyped-decorator]  # pybtex has no types
def text(_: Any, context: dict[str, Any], *names: str, shown: Callable[[str], str] = str) -> str:
    """The first of the fields ``names`` that is there, as plain text passed through ``shown``."""
    found = context["fields"].first(*names)
    if not found:
        raise FieldIsMissing(names[0], context["entry"])
    return shown(found)


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
    found = make(context["fields"])
    if not found:
        raise FieldIsMissing(make.__name__, context["entry"])
    return found


def _said(*parts: Any) -> _Template:
    """One sentence of ``parts``, left out whole where one of them is missing."""
    return optional[sentence(sep="")[list(parts)]]


class Vancouver(BaseStyle):  # type: ignore[misc]  # pybtex has no types
    """Lays out any entry; a type it does not know is laid out like a book. ``most_names`` come before et al."""

    most_names = 6

    def format_entry(self, label: str, entry: Entry, bib_data: Any = None) -> RichText:  # noqa: ARG002
        """Return the reference of ``entry``. Missing fields are left out; nothing is raised for them."""
        context = {"entry": entry, "style": self, "bib_data": bib_data, "fields": SourceFields(entry)}
        return self.template(context["fields"]).format_data(context)

    def template(self, fields: SourceFields) -> _Template:
        """Return the template for the kind of source that ``fields`` describes."""
        kind = _LAID_OUT_LIKE.get(fields.type, fields.type)
        if _NEUTRAL_CITATION.search(fields.first("number")) or kind == "jurisdiction":
            return self._judgment(fields)
        if fields.is_preprint:
            kind = "unpublished"
        layout = {
            "article": self._article, "incollection": self._part, "inproceedings": self._part,
            "report": self._report, "thesis": self._thesis, "patent": self._patent, "unpublished": self._preprint,
        }.get(kind, self._book)  # fmt: skip
        return layout(fields)

    def _article(self, fields: SourceFields) -> _Template:
        return words[
            _said(people("author")),
            _title(fields),
            _said(made(_journal), _medium(fields)),
            _said(made(_date_volume_pages)),
            *_tail(fields),
        ]

    def _book(self, fields: SourceFields) -> _Template:
        editors = fields.entry.persons.get("editor", ())
        by_editors = editors and not fields.entry.persons.get("author")
        return words[
            _said(_editors(editors)) if by_editors else _said(people("author")),
            _title(fields, fields.first("type") or fields.media),
            optional[text("edition", shown=edition_of)],
            _said("Vol. ", text("volume")),
            "" if by_editors else _said(_editors(editors)),
            _imprint(fields),
            _said(made(_series)),
            _said("p. ", text("pages", shown=pages_of)),
            *_tail(fields),
        ]

    def _part(self, fields: SourceFields) -> _Template:
        editors = fields.entry.persons.get("editor", ())
        host = words[optional[sentence[_editors(editors)]], sentence(sep="; ")[_host(fields)]]
        return words[
            _said(people("author")),
            _title(fields),
            join["In: ", host],
            optional[text("edition", shown=edition_of)],
            _said("Vol. ", text("volume")),
            _imprint(fields),
            _said(made(_series)),
            first_of[_said("p. ", text("pages", shown=pages_of)), _said("Chapter ", text("chapter"))],
            *_tail(fields),
        ]

    def _report(self, fields: SourceFields) -> _Template:
        return words[
            _said(people("author")),
            _title(fields),
            _said(text("type")),
            optional[text("edition", shown=edition_of)],
            _imprint(fields),
            _said("Report No.: ", text("number")),
            _said("Contract No.: ", text("contract")),
            *_tail(fields),
        ]

    def _thesis(self, fields: SourceFields) -> _Template:
        usual = "master's thesis" if fields.type == "mastersthesis" else "dissertation"
        written = fields.first("type")
        kind = {"phdthesis": "dissertation", "mathesis": "master's thesis"}.get(written.lower(), written) or usual
        return words[_said(people("author")), _title(fields, kind), _imprint(fields), *_tail(fields)]

    def _patent(self, fields: SourceFields) -> _Template:
        inventors = "inventors" if len(fields.entry.persons.get("author", ())) > 1 else "inventor"
        holder = optional["; ", text("holder", "assignee"), ", assignee"]
        return words[
            _said(people("author"), f", {inventors}", holder),
            _title(fields),
            _said(text("type"), optional[" ", text("number")]),
            _said(made(_date)),
            *_tail(fields),
        ]

    def _preprint(self, fields: SourceFields) -> _Template:
        # ICMJE samples, "Preprint": the server and number stand with [Preprint] in the place of a journal.
        server = optional[
            text("eprinttype", "archiveprefix", "publisher", "journal", "howpublished", "institution"), " "
        ]
        number = optional[text("eprint", "number"), " "]
        return words[
            _said(people("author")),
            _title(fields),
            sentence(sep="")[server, number, "[Preprint]"],
            _said(made(_date_cited)),
            *_tail(fields),
        ]

    def _judgment(self, fields: SourceFields) -> _Template:
        # Citing Medicine leaves law to the usage of each country. In the United Kingdom that is OSCOLA: the name of the
        # case and its neutral citation, from which the court can be told; elsewhere the report and the court.
        title = fields.first("title") or "[title missing]"
        cited = _NEUTRAL_CITATION.search(f"{fields.first('number')} {fields.first('howpublished')}")
        if cited:
            return words[sentence(sep=" ")[title, cited.group()], _said(text("reporter")), *_tail(fields, note=False)]
        report = words[
            optional[text("volume")], optional[text("reporter", "journal")], optional[text("number", "pages")]
        ]
        court = fields.first("court", "institution", "publisher")
        heard = " ".join(part for part in (court, fields.year) if part)
        return words[
            sentence(sep=", ")[title, words[report, f"({heard})" if heard else ""]], *_tail(fields, note=False)
        ]


def _editors(persons: Any) -> _Template:
    return join[people("editor"), ", editors" if len(persons) > 1 else ", editor"]


def _title(fields: SourceFields, kind: str = "") -> _Template:
    title = fields.first("title", "booktitle") or "[title missing]"
    subtitle = fields.first("subtitle")
    title = f"{title.rstrip('.')}: {subtitle}" if subtitle else title
    translated = fields.first("titletranslation", "translatedtitle")
    kind = kind or (fields.first("type", "entrysubtype") if fields.type == "article" else "")
    labels = [f"[{part.strip('[]')}]" for part in (translated, kind, _internet(fields)) if part]
    # The label stands inside the sentence, before its full stop: "Anatomy [dissertation]."
    return sentence(sep=" ")[title.rstrip("."), *labels]


def _internet(fields: SourceFields) -> str:
    """In an article the medium stands with the journal; everywhere else with the title."""
    return "Internet" if fields.is_web and fields.type not in ("article", *_PARTS) and not fields.is_preprint else ""


_PARTS = ("incollection", "inbook", "inproceedings", "conference", "inreference")


def _medium(fields: SourceFields) -> str:
    return " [Internet]" if fields.is_web else ""


def _host(fields: SourceFields) -> list[str]:
    title = (fields.first("booktitle", "maintitle", "journal") or "[title missing]").rstrip(".")
    title += " [Internet]" if fields.is_web else ""
    meeting = [fields.first("eventtitle"), fields.event_date, fields.first("venue")]
    return [part for part in (title, *meeting) if part]


def _journal(fields: SourceFields) -> str:
    """The abbreviation the source brings, else that of the table, else the title as written."""
    brought = fields.first("shortjournal", "journalabbr", "journal-iso", "iso-source-abbreviation")
    title = fields.first("journal", "journaltitle")
    return (brought or abbreviation(title) or title).replace(".", "") if brought or title else ""


def _date(fields: SourceFields) -> str:
    return fields.date


def _cited(fields: SourceFields) -> str:
    known = [f"updated {fields.updated}" * bool(fields.updated), f"cited {fields.cited}" * bool(fields.cited)]
    told = "; ".join(part for part in known if part) if fields.is_web else ""
    return f"[{told}]" if told else ""


def _date_cited(fields: SourceFields) -> str:
    return " ".join(part for part in (fields.date, _cited(fields)) if part)


def _date_volume_pages(fields: SourceFields) -> str:
    if fields.is_forthcoming:
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
    series, number = fields.first("series"), fields.first("number")
    if not series:
        return ""
    return f"({series}; no. {number})" if number else f"({series})"


def _imprint(fields: SourceFields) -> _Template:
    """Place: publisher; date. A place that is not given is left out: "place unknown" would claim that none exists."""
    place, publisher = fields.first("address", "location"), fields.publisher
    made_by = ": ".join(part for part in (place, publisher) if part)
    return sentence(sep="")["; ".join(part for part in (made_by, _date_cited(fields)) if part)]


def _tail(fields: SourceFields, note: bool = True) -> list[_Template]:
    """What follows in every kind of source: language, note, address, DOI, PMID and PMCID."""
    return [
        _said(fields.language) if fields.language else "",
        _said(text("note")) if note else "",
        _address(fields),
        _said("doi: ", _link(_doi_address(fields.raw("doi")), doi_of(fields.raw("doi")))) if fields.raw("doi") else "",
        _pubmed(fields),
    ]


def _address(fields: SourceFields) -> _Template:
    if not fields.is_web:
        return ""
    address = fields.raw("url")
    # Citing Medicine, chapter 22: a full stop after an address only where it ends with a slash.
    return join["Available from: ", _link(address, address), "." if address.endswith("/") else ""]


def _pubmed(fields: SourceFields) -> _Template:
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


def _link(address: str, shown: str) -> _Template:
    """A link where the address is one of the web; any other scheme is shown and not linked."""
    return href(address)[shown] if _WEB.match(address) else shown


_STYLE = Vancouver()


def format_source(source: RawSource) -> FormattedSource:
    """Return the reference of ``source``: clean HTML with DOI, PMID and address linked, and plain text."""
    return formatted(_STYLE.format_entry("", source.entry))

"""The Vancouver style: NLM's Citing Medicine (2nd edition, Patrias and Wendling) and the ICMJE sample references.

Six authors, then et al.; at most two initials; NLM journal abbreviations; page ranges without repeated digits; DOI and
PMID linked. What the two leave open, or where we differ, is told beside the code.
"""

from __future__ import annotations

import re
from typing import Any

from pybtex.database import Entry
from pybtex.richtext import Text as RichText
from pybtex.style.formatting import BaseStyle
from pybtex.style.template import first_of, join, optional, sentence, words

from builder.load.sources.bibliography import RawSource
from builder.model.styles.backends import FormattedSource, formatted
from builder.model.styles.pieces import (
    Template,
    date_cited,
    date_text,
    date_volume_pages,
    editors_part,
    host_parts,
    imprint,
    journal_name,
    made,
    medium_part,
    meeting_parts,
    people,
    said,
    series_text,
    tail,
    text,
    title_part,
)
from builder.model.styles.reference_fields import SourceFields
from builder.model.styles.reference_parts import edition_of, pages_of

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


class Vancouver(BaseStyle):  # type: ignore[misc]  # pybtex has no types
    """Lays out any entry; a type it does not know is laid out like a book. ``most_names`` come before et al."""

    most_names = 6

    def format_entry(self, label: str, entry: Entry, bib_data: Any = None) -> RichText:  # noqa: ARG002
        """Return the reference of ``entry``. Missing fields are left out; nothing is raised for them."""
        context = {"entry": entry, "style": self, "bib_data": bib_data, "fields": SourceFields(entry)}
        return self.template(context["fields"]).format_data(context)

    def template(self, fields: SourceFields) -> Template:
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

    def _article(self, fields: SourceFields) -> Template:
        return words[
            said(people("author")),
            title_part(fields),
            said(made(journal_name), medium_part(fields)),
            said(made(date_volume_pages)),
            *tail(fields),
        ]

    def _book(self, fields: SourceFields) -> Template:
        editors = fields.entry.persons.get("editor", ())
        by_editors = editors and not fields.entry.persons.get("author")
        return words[
            said(editors_part(editors)) if by_editors else said(people("author")),
            title_part(fields, fields.first("type") or fields.media),
            optional[text("edition", shown=edition_of)],
            said("Vol. ", text("volume")),
            "" if by_editors else said(editors_part(editors)),
            sentence(sep="; ")[meeting_parts(fields)],
            imprint(fields),
            said(made(series_text)),
            said("p. ", text("pages", shown=pages_of)),
            *tail(fields),
        ]

    def _part(self, fields: SourceFields) -> Template:
        editors = fields.entry.persons.get("editor", ())
        host = words[optional[sentence[editors_part(editors)]], sentence(sep="; ")[host_parts(fields)]]
        return words[
            said(people("author")),
            title_part(fields),
            join["In: ", host],
            optional[text("edition", shown=edition_of)],
            said("Vol. ", text("volume")),
            imprint(fields),
            said(made(series_text)),
            first_of[said("p. ", text("pages", shown=pages_of)), said("Chapter ", text("chapter"))],
            *tail(fields),
        ]

    def _report(self, fields: SourceFields) -> Template:
        return words[
            said(people("author")),
            title_part(fields),
            said(text("type")),
            optional[text("edition", shown=edition_of)],
            imprint(fields),
            said("Report No.: ", text("number")),
            said("Contract No.: ", text("contract")),
            *tail(fields),
        ]

    def _thesis(self, fields: SourceFields) -> Template:
        usual = "master's thesis" if fields.type == "mastersthesis" else "dissertation"
        written = fields.first("type")
        kind = {"phdthesis": "dissertation", "mathesis": "master's thesis"}.get(written.lower(), written) or usual
        return words[said(people("author")), title_part(fields, kind), imprint(fields), *tail(fields)]

    def _patent(self, fields: SourceFields) -> Template:
        inventors = "inventors" if len(fields.entry.persons.get("author", ())) > 1 else "inventor"
        holder = optional["; ", text("holder", "assignee"), ", assignee"]
        return words[
            said(people("author"), f", {inventors}", holder),
            title_part(fields),
            said(text("type"), optional[" ", text("number")]),
            said(made(date_text)),
            *tail(fields),
        ]

    def _preprint(self, fields: SourceFields) -> Template:
        # ICMJE samples, "Preprint": the server and number, with [Preprint], take the place of a journal.
        server = optional[
            text("eprinttype", "archiveprefix", "publisher", "journal", "howpublished", "institution"), " "
        ]
        number = optional[text("eprint", "number"), " "]
        return words[
            said(people("author")),
            title_part(fields),
            sentence(sep="")[server, number, "[Preprint]"],
            said(made(date_cited)),
            *tail(fields),
        ]

    def _judgment(self, fields: SourceFields) -> Template:
        # Citing Medicine leaves law to the usage of each country. In the United Kingdom that is OSCOLA: the name of the
        # case and its neutral citation, from which the court can be told; elsewhere the report and the court.
        title = fields.first("title") or "[title missing]"
        cited = _NEUTRAL_CITATION.search(f"{fields.first('number')} {fields.first('howpublished')}")
        if cited:
            return words[sentence(sep=" ")[title, cited.group()], said(text("reporter")), *tail(fields, note=False)]
        report = words[
            optional[text("volume")], optional[text("reporter", "journal")], optional[text("number", "pages")]
        ]
        court = fields.first("court", "institution", "publisher")
        heard = " ".join(part for part in (court, fields.year) if part)
        return words[sentence(sep=", ")[title, words[report, f"({heard})" if heard else ""]], *tail(fields, note=False)]


_STYLE = Vancouver()


def format_source(source: RawSource) -> FormattedSource:
    """Return the reference of ``source``: clean HTML with DOI, PMID and address linked, and plain text."""
    return formatted(_STYLE.format_entry("", source.entry))

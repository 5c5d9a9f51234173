"""The fields of one source as a style reads them: plain text, with the names of BibTeX and biblatex side by side."""

from __future__ import annotations

import re
from collections.abc import Mapping
from functools import cached_property

from pybtex.database import Entry

from builder.load.sources.identifiers import doi_of
from builder.load.sources.latex import plain, raw
from builder.model.styles.reference_parts import date_of, full_date

_PREPRINT_SERVERS = re.compile(
    r"\b(?:arxiv|biorxiv|medrxiv|psyarxiv|preprints\.org|research square|ssrn)\b", re.IGNORECASE
)
_PREPRINT_DOI = re.compile(r"10\.(?:1101/(?:\d{6}|20\d\d\.)|48550/|21203/rs\.|20944/preprints|31234/|2139/ssrn)")
_ENGLISH = frozenset({"", "en", "eng", "english", "british", "american", "ukenglish", "usenglish", "en-gb", "en-us"})


class SourceFields:
    """Reads the fields of ``entry``; what is missing is an empty text."""

    def __init__(self, entry: Entry) -> None:
        self.entry = entry
        self.type = str(entry.type).lower()

    def first(self, *names: str) -> str:
        """Return the first of the fields ``names`` that is not empty, as plain text."""
        for name in names:
            if words := plain(str(self.entry.fields.get(name, ""))):
                return words
        return ""

    def raw(self, name: str) -> str:
        """Return an identifier or address, without LaTeX but otherwise as written."""
        return raw(str(self.entry.fields.get(name, "")))

    @cached_property
    def date(self) -> str:
        """The date as far as it is known, ``[date unknown]`` where nothing is (Citing Medicine, "Date")."""
        return self.known_date or "[date unknown]"

    @cached_property
    def known_date(self) -> str:
        """The date as far as it is known, or nothing."""
        written = self.first("date")
        return date_of(written) if written else full_date(self.first("year"), self.first("month"), self.first("day"))

    @cached_property
    def year(self) -> str:
        """The year of publication, or nothing."""
        year = re.search(r"\d{4}", self.first("year") or self.first("date"))
        return year.group() if year else ""

    @cached_property
    def cited(self) -> str:
        """The day on which a web page was read."""
        return date_of(self.first("urldate", "accessed", "lastaccessed", "lastchecked"))

    @cached_property
    def updated(self) -> str:
        """The day on which a web page was last changed."""
        return date_of(self.first("updated", "lastmodified"))

    @cached_property
    def event_date(self) -> str:
        """The days of a meeting."""
        return date_of(self.first("eventdate"))

    @cached_property
    def publisher(self) -> str:
        """Who issued it, under whichever name the type of entry has for that."""
        return self.first("publisher", "institution", "school", "organization")

    @cached_property
    def media(self) -> str:
        """What it is when it is not a book: what ``howpublished`` says, unless that is an address."""
        written = self.first("howpublished")
        return "" if "://" in written else written

    @cached_property
    def language(self) -> str:
        """The language when it is not English."""
        written = self.first("language")
        return "" if written.lower() in _ENGLISH else written[:1].upper() + written[1:]

    @property
    def is_web(self) -> bool:
        """Whether it is cited by its address: it has one, and no DOI, which lasts longer."""
        return bool(self.raw("url")) and not self.raw("doi")

    @property
    def is_forthcoming(self) -> bool:
        """Whether it is accepted and not yet published."""
        return self.first("pubstate").lower() in ("forthcoming", "inpress", "in press")

    @cached_property
    def is_preprint(self) -> bool:
        """Whether it was put on a server before any review."""
        return is_preprint(self.type, {str(name).lower(): str(text) for name, text in self.entry.fields.items()})


_SERVER_NAMED_IN = ("eprinttype", "archiveprefix", "journal", "publisher", "howpublished")


def is_preprint(kind: str, fields: Mapping[str, str]) -> bool:
    """Tell whether a source of type ``kind`` with ``fields`` (by small letters) was put out before any review."""
    if kind == "preprint" or "preprint" in (fields.get("pubstate", "").lower(), fields.get("type", "").lower()):
        return True
    if _PREPRINT_DOI.match(doi_of(fields.get("doi", ""))):
        return True
    return any(_PREPRINT_SERVERS.search(fields[name]) for name in _SERVER_NAMED_IN if name in fields)

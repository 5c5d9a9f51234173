"""The fields of one source as a style reads them: plain text, with the names of BibTeX and biblatex side by side.

Names, dates, pages, issues and editions are written as NLM's Citing Medicine writes them.
"""

import re
from collections.abc import Mapping, Sequence
from functools import cached_property

from pybtex.database import Entry

from builder.load.sources.identifiers import doi_of
from builder.load.sources.latex import plain, raw
from builder.load.sources.record import MONTHS, OTHERS, Name, month_number, name_from

MOST_INITIALS = 2
"""Citing Medicine, chapter 1, "Author": at most two initials after each surname."""

_PREPRINT_SERVERS = re.compile(
    r"\b(?:arxiv|biorxiv|medrxiv|psyarxiv|preprints\.org|research square|ssrn)\b", re.IGNORECASE
)
_PREPRINT_DOI = re.compile(r"10\.(?:1101/(?:\d{6}|20\d\d\.)|48550/|21203/rs\.|20944/preprints|31234/|2139/ssrn)")
_ENGLISH = frozenset({"", "en", "eng", "english", "british", "american", "ukenglish", "usenglish", "en-gb", "en-us"})
_LINEAGE = {"ii": "2nd", "iii": "3rd", "iv": "4th", "v": "5th", "jr": "Jr", "sr": "Sr"}
_GIVEN = re.compile(r"[\s.\-\u2010\u2011~]+")
_ISO = re.compile(r"(?P<year>\d{4})(?:-(?P<month>\d{1,2}))?(?:-(?P<day>\d{1,2}))?")
_MONTH_WORD = re.compile(r"[A-Za-z]{3,}\.?")
_DASHES = re.compile(r"\s*(?:-{2,3}|[\u2010-\u2015])\s*")
_RANGE = re.compile(r"(?<![\w.-])(?P<before>[A-Za-z]*)(?P<first>\d+)-(?P<again>[A-Za-z]*)(?P<last>\d+)(?![\w.-])")
_APART = re.compile(r"^(?:suppl|spec|pt)\b", re.IGNORECASE)
_ORDINALS = {
    "first": "1st", "second": "2nd", "third": "3rd", "fourth": "4th", "fifth": "5th", "sixth": "6th",
    "seventh": "7th", "eighth": "8th", "ninth": "9th", "tenth": "10th", "eleventh": "11th", "twelfth": "12th",
}  # fmt: skip


class SourceFields:
    """Reads the fields of ``entry``; what is missing is an empty text. ``most_names`` come before et al."""

    def __init__(self, entry: Entry, most_names: int) -> None:
        self.entry = entry
        self.type = str(entry.type).lower()
        self.most_names = most_names

    def first(self, *names: str) -> str:
        """Return the first of the fields ``names`` that is not empty, as plain text."""
        for name in names:
            if words := plain(str(self.entry.fields.get(name, ""))):
                return words
        return ""

    def raw(self, name: str) -> str:
        """Return an identifier or address, without LaTeX but otherwise as written."""
        return raw(str(self.entry.fields.get(name, "")))

    def people(self, role: str) -> str:
        """Return the names of those who have the ``role``."""
        return _name_list([name_from(person) for person in self.entry.persons.get(role, ())], self.most_names)

    @property
    def date(self) -> str:
        """The date as far as it is known, ``[date unknown]`` where nothing is (Citing Medicine, "Date")."""
        written = self.first("date")
        known = date_of(written) if written else _full_date(self.first("year"), self.first("month"), self.first("day"))
        return known or "[date unknown]"

    @property
    def year(self) -> str:
        """The year of publication, or nothing."""
        year = re.search(r"\d{4}", self.first("year") or self.first("date"))
        return year.group() if year else ""

    @property
    def language(self) -> str:
        """The language when it is not English."""
        written = self.first("language")
        return "" if written.lower() in _ENGLISH else written[:1].upper() + written[1:]

    @property
    def is_web(self) -> bool:
        """Whether it is cited by its address: it has one, and no DOI, which lasts longer."""
        return bool(self.raw("url")) and not self.raw("doi")

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


def _name_of(name: Name) -> str:
    """Return one name: surname, up to two initials, lineage; or an organisation without its leading "The"."""
    if name.group:
        return re.sub(r"^The\s+", "", name.family)
    suffixes = (part.rstrip(".") for part in name.suffix.split())
    lineage = " ".join(_LINEAGE.get(suffix.lower(), suffix) for suffix in suffixes)
    return " ".join(part for part in (name.family.replace(".", ""), _initials(name.given), lineage) if part)


def _initials(given: str) -> str:
    """Return the initials of given names; a part that is all capitals, such as ``JP``, is initials already."""
    parts = _GIVEN.split(given)
    letters = "".join(part if part.isupper() and len(part) <= 3 else part[:1].upper() for part in parts)
    return letters[:MOST_INITIALS]


def _name_list(names: Sequence[Name], most: int) -> str:
    """Return the names in order, at most ``most``, then ``et al``; a semicolon sets organisations apart."""
    known = [name for name in names if name != OTHERS]
    text, before = "", False
    for name in known[:most]:
        text += ("; " if before or name.group else ", ") * bool(text) + _name_of(name)
        before = name.group
    return f"{text}, et al." if len(known) > most or (len(known) < len(names) and text) else text


def month_of(written: str) -> str:
    """Return ``Jul`` for ``July``, ``jul``, ``7`` or ``07``; ranges part by part; seasons as they stand."""
    if written.strip().isdigit():
        return _short_month(written.strip())
    return _MONTH_WORD.sub(lambda word: _short_month(word.group()), _dashed(written))


def _short_month(word: str) -> str:
    number = month_number(word)
    return MONTHS[int(number) - 1].capitalize() if number.isdigit() and 1 <= int(number) <= 12 else word


def date_of(written: str) -> str:
    """Return ``2002 Jul 25`` for the ISO date ``2002-07-25`` (shorter ones too); anything else as it stands."""
    start, _, end = written.strip().partition("/")
    match = _ISO.fullmatch(start)
    if match is None:
        return written.strip()
    shown = _full_date(match["year"], match["month"] or "", match["day"] or "")
    return _date_range(shown, date_of(end)) if end else shown


def _date_range(start: str, end: str) -> str:
    """Return ``2002 Apr 3-5``: what the end shares with the start is not said twice."""
    first, last = start.split(), end.split()
    shared = 0
    for word, other in zip(first[:-1], last[:-1], strict=False):
        if word != other:
            break
        shared += 1
    return f"{start}-{' '.join(last[shared:])}"


def _full_date(year: str, month: str, day: str) -> str:
    """Return year, month and day in the order of Citing Medicine; what is missing is left out."""
    return " ".join(part for part in (year, month_of(month) if month else "", day.lstrip("0")) if part)


def pages_of(written: str) -> str:
    """Return page ranges without repeated digits (``284-287`` is ``284-7``, ``S93-S99`` is ``S93-9``).

    Ranges in which a letter follows the number (``e227S-e277S``) stay whole.
    """
    return _RANGE.sub(_shortened, _dashed(written))


def _shortened(match: re.Match[str]) -> str:
    before, first, again, last = match["before"], match["first"], match["again"], match["last"]
    if again and again != before:
        return match.group()
    if len(first) == len(last):
        if first == last:
            return f"{before}{first}"
        same = next(index for index in range(len(first)) if first[index] != last[index])
        last = last[same:]
    return f"{before}{first}-{last}"


def _dashed(written: str) -> str:
    return _DASHES.sub("-", written.strip())


def issue_of(written: str, after_volume: bool) -> str:
    """Return ``(4)``, ``(12 Suppl 7)`` or, after a volume, `` Suppl 2``."""
    number = _dashed(re.sub(r"\b(Suppl|Pt|Spec|No)\.", r"\1", re.sub(r"\bSupplement\b", "Suppl", written)))
    if not number:
        return ""
    if after_volume and _APART.match(number) and not number.lower().startswith("pt"):
        return f" {number}"
    return f"({number})"


def edition_of(written: str) -> str:
    """Return ``4th ed.`` for ``4``, ``4th``, ``Fourth`` or ``4th ed.``; anything else as it stands."""
    bare = re.sub(r"\s*\bed(?:ition|n)?\.?$", "", written.strip(), flags=re.IGNORECASE)
    if bare.isdigit():
        number = int(bare)
        ending = "th" if 10 <= number % 100 <= 20 else {1: "st", 2: "nd", 3: "rd"}.get(number % 10, "th")
        bare = f"{number}{ending}"
    return f"{_ORDINALS.get(bare.lower(), bare)} ed."

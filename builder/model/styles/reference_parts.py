"""The small parts of a reference: dates, pages, issues, editions, as NLM's Citing Medicine writes them."""

from __future__ import annotations

import re

_MONTHS = ("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec")
_LONG_MONTHS = (
    "January", "February", "March", "April", "May", "June",
    "July", "August", "September", "Sept", "October", "November", "December",
)  # fmt: skip
_MONTH_NAMES = frozenset(_LONG_MONTHS) | frozenset(_MONTHS)
_ISO = re.compile(r"(?P<year>\d{4})(?:-(?P<month>\d{1,2}))?(?:-(?P<day>\d{1,2}))?")
_MONTH_WORD = re.compile(r"[A-Za-z]{3,}\.?")
_DASHES = re.compile(r"\s*(?:-{2,3}|[\u2010-\u2015])\s*")
_RANGE = re.compile(r"(?<![\w.-])(?P<before>[A-Za-z]*)(?P<first>\d+)-(?P<again>[A-Za-z]*)(?P<last>\d+)(?![\w.-])")
_APART = re.compile(r"^(?:suppl|spec|pt)\b", re.IGNORECASE)
_ORDINALS = {
    "first": "1st", "second": "2nd", "third": "3rd", "fourth": "4th", "fifth": "5th", "sixth": "6th",
    "seventh": "7th", "eighth": "8th", "ninth": "9th", "tenth": "10th", "eleventh": "11th", "twelfth": "12th",
}  # fmt: skip


def month_of(written: str) -> str:
    """Return ``Jul`` for ``July``, ``jul``, ``7`` or ``07``; ranges part by part; seasons as they stand."""
    if written.strip().isdigit():
        number = int(written)
        return _MONTHS[number - 1] if 1 <= number <= 12 else written.strip()
    return _MONTH_WORD.sub(lambda word: _short_month(word.group()), _dashed(written))


def _short_month(word: str) -> str:
    bare = word.rstrip(".").capitalize()
    return bare[:3] if bare in _MONTH_NAMES else word


def date_of(written: str) -> str:
    """Return ``2002 Jul 25`` for the ISO date ``2002-07-25`` (shorter ones too); anything else as it stands."""
    start, _, end = written.strip().partition("/")
    match = _ISO.fullmatch(start)
    if match is None:
        return written.strip()
    shown = " ".join(
        part
        for part in (match["year"], month_of(match["month"]) if match["month"] else "", _day(match["day"] or ""))
        if part
    )
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


def _day(day: str) -> str:
    return day.lstrip("0")


def full_date(year: str, month: str, day: str) -> str:
    """Return year, month and day in the order of Citing Medicine; what is missing is left out."""
    return " ".join(part for part in (year, month_of(month) if month else "", _day(day)) if part)


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

"""Times after the operation, as they are written: ``6 h``, ``2 days``, one to two weeks."""

import re
from collections.abc import Iterator
from fractions import Fraction
from functools import lru_cache
from typing import NamedTuple

from builder.facts.quantities import exact

HOURS: dict[str, Fraction | int] = {
    "h": 1, "hr": 1, "hour": 1, "day": 24, "week": 168, "month": 730, "minute": Fraction(1, 60), "min": Fraction(1, 60),
}  # fmt: skip
"""Units of time in hours; a month is a twelfth of a year."""

_NUMBER_WORDS = {
    "a": 1, "an": 1, "one": 1, "two": 2, "three": 3, "four": 4, "five": 5, "six": 6, "seven": 7, "eight": 8, "nine": 9,
    "ten": 10, "eleven": 11, "twelve": 12, "thirteen": 13, "fourteen": 14, "fifteen": 15, "sixteen": 16,
    "seventeen": 17, "eighteen": 18, "nineteen": 19, "twenty": 20, "twenty-four": 24, "thirty": 30, "forty": 40,
    "forty-eight": 48, "fifty": 50, "sixty": 60,
}  # fmt: skip
_COUNTED = "|".join(sorted(_NUMBER_WORDS.keys() - {"a", "an"}, key=len, reverse=True))
_NUMBER = rf"(?:[0-9]+(?:\.[0-9]+)?|{_COUNTED})"
# Units first, because they are rare; then what stands before them.
_UNIT = re.compile(r"(?P<unit>hour|day|week|month|minute|min|hr|h)s?\b")
_BEFORE = re.compile(
    rf"\b(?:(?P<low>{_NUMBER})\s*(?:to|(?<![a-z])-|–|or|and)\s*)?(?P<number>{_NUMBER})[\s-]+$", re.IGNORECASE
)
_NTH = re.compile(
    rf"\b(?P<unit>hour|day|week)\s+(?P<number>{_NUMBER})\b(?!\s*(?:hours?|days?|weeks?|months?|times?|%)\b)",
    re.IGNORECASE,
)
_PLAIN = re.compile(r"\s*(?P<number>[0-9.]+)\s*(?P<unit>[a-z]+?)s?\s*", re.IGNORECASE)


class Span(NamedTuple):
    """A time in a text: its hours, its unit in hours, and where it stands."""

    hours: Fraction
    unit: str
    start: int
    end: int


@lru_cache(maxsize=1024)
def hours_of(words: str) -> Fraction | None:
    """Return the hours of a time such as ``2 days``; None where it is an event such as ``until walking``."""
    match = _PLAIN.fullmatch(words)
    if match is None or match["unit"].casefold() not in HOURS:
        return None
    value = exact(match["number"])
    return None if value is None else value * HOURS[match["unit"].casefold()]


_ENDS_OF_NUMBERS = tuple(word.rpartition("-")[2] for word in _NUMBER_WORDS if word not in ("a", "an"))


def _number_before(text: str, start: int) -> re.Match[str] | None:
    """Return the number before the unit at ``start``; most that looks like a unit is the end of another word."""
    near = text[max(0, start - 34) : start].rstrip("- \n\t\u00a0\u2009\u202f")
    if not near or not (near[-1].isdigit() or near.lower().endswith(_ENDS_OF_NUMBERS)):
        return None
    return _BEFORE.search(text, max(0, start - 34), start)


_ORDINALS = {
    "first": 1, "second": 2, "third": 3, "fourth": 4, "fifth": 5, "sixth": 6, "seventh": 7, "tenth": 10,
}  # fmt: skip
_NTH_DAY = re.compile(
    rf"\bon the (?P<nth>{'|'.join(_ORDINALS)})(?: (?:or|to) (?:{'|'.join(_ORDINALS)}))? day\b", re.IGNORECASE
)


def nth_days(text: str) -> Iterator[Span]:
    """Yield each day that ``text`` counts, by the hours at its end: on the second day is until 48 hours."""
    for match in _NTH_DAY.finditer(text) if " day" in text else ():
        yield Span(Fraction(24 * _ORDINALS[match["nth"].casefold()]), "nth day", match.start(), match.end())


@lru_cache(maxsize=4096)
def spans(text: str) -> tuple[Span, ...]:
    """Return each time in ``text``; one to two weeks are two times, and day three is three days."""
    return tuple(_spans(text))


def _spans(text: str) -> Iterator[Span]:
    for match in _UNIT.finditer(text):
        if match.start() and (text[match.start() - 1].isalnum() or text[match.start() - 1] == "_"):
            continue  # the end of a longer word
        before = _number_before(text, match.start())
        if before is None:
            nth = _NTH.match(text, match.start())
            value = (_NUMBER_WORDS.get(nth["number"].casefold()) or exact(nth["number"])) if nth else None
            if nth is not None and value is not None:
                yield Span(Fraction(value) * HOURS[nth["unit"]], nth["unit"], nth.start(), nth.end())
            continue
        unit = {"hr": "hour", "h": "hour", "min": "minute"}.get(match["unit"], match["unit"])
        for number in (before["low"], before["number"]):
            if number is not None:
                value = _NUMBER_WORDS.get(number.casefold()) or exact(number)
                if value is not None:
                    yield Span(Fraction(value) * HOURS[unit], unit, before.start(), match.end())

"""Aftercare in the order of time, and its times in words."""

from __future__ import annotations

from collections.abc import Iterable
from fractions import Fraction

from builder.facts.times import hours_of
from builder.model.pages import Aftercare, When

_LATER_THAN_ANY = Fraction(10**9)


def in_time(items: Iterable[Aftercare]) -> tuple[Aftercare, ...]:
    """Return ``items`` by when they begin, then by when they end; what begins with an event comes behind them, in the
    order in which it is written."""
    return tuple(sorted(items, key=lambda item: _span(item.when)))


def when_words(when: When) -> str:
    """Return a time as staff read it: ``First 2 days``, ``1 day to 6 weeks``, ``From drain out until 7 days later``."""
    start, until = str(when.start).removeprefix("from "), str(when.until or "").removeprefix("until ")
    begins, ends = hours_of(start), hours_of(until) if until else None
    if begins == 0:
        if not until:
            return "At once"
        return f"First {until}" if ends else f"At once, until {until}"
    if not until:
        return f"From {start}"
    return f"{start} to {until}" if begins and ends else f"From {start} until {until}"


def _span(when: When) -> tuple[Fraction, Fraction]:
    begins = hours_of(when.start)
    if begins is None:
        return _LATER_THAN_ANY, Fraction(0)
    ends = hours_of(when.until) if when.until else None
    return begins, ends if ends is not None else _LATER_THAN_ANY

"""Limits as texts state them: more than 50 mL of fluid, a hole wider than 2 cm."""

import re
from collections.abc import Iterator
from fractions import Fraction
from typing import NamedTuple

from builder.facts.imperatives import VERBS
from builder.facts.quantities import exact
from builder.facts.stems import senses

_ABOVE = "more|greater|wider|longer|larger|bigger|deeper|thicker|higher|older|heavier"
_BELOW = "less|fewer|narrower|shorter|smaller|shallower|thinner|lower|younger|lighter"
_SIZES = {
    "mm": ("length", 1), "cm": ("length", 10), "m": ("length", 1000), "mL": ("volume", 1), "L": ("volume", 1000),
    "second": ("time", 1), "minute": ("time", 60), "hour": ("time", 3600), "h": ("time", 3600), "day": ("time", 86_400),
    "week": ("time", 604_800), "mmHg": ("pressure", 1), "mL/kg": ("volume by weight", 1), "%": ("part", 1),
}  # fmt: skip
_LIMIT = re.compile(
    rf"\b(?P<not>[Nn]ot? )?(?i:(?P<above>{_ABOVE})|(?P<below>{_BELOW})) than (?P<number>[0-9]+(?:\.[0-9]+)?) ?"
    r"(?P<unit>%|[A-Za-z]+(?:/[a-z]+)?)"
)
_SENTENCE = re.compile(r"(?:[^.;!?\n]++|\.(?=\d)|\n(?!\s*\n|- ))+")


class Limit(NamedTuple):
    """More (``above``) or less than ``size`` of one ``measure``, what its sentence is about, and what it orders."""

    above: bool
    size: Fraction
    measure: str
    about: frozenset[str]
    orders: frozenset[str]
    begin: int
    said: str

    def differs(self, other: "Limit") -> bool:
        """Tell whether both are about the same, order nothing else, and mean another limit or the other side of it."""
        if self.measure != other.measure or (self.orders and other.orders and self.orders != other.orders):
            return False
        alike = len(self.about & other.about)
        is_same = bool(alike) and alike >= _ALIKE * min(len(self.about), len(other.about))
        return is_same and ((self.size == other.size) != (self.above == other.above))


_ALIKE = 0.6
"""The part of the words of the shorter of two sentences that the other has too, where both are about the same."""


def limits_in(text: str) -> Iterator[Limit]:
    """Yield each limit of ``text``; a sentence with two says what lies between them."""
    for sentence in _SENTENCE.finditer(text):
        found = list(_LIMIT.finditer(text, *sentence.span()))
        measure, size = _SIZES.get(found[0]["unit"].removesuffix("s"), ("", 1)) if len(found) == 1 else ("", 1)
        value = exact(found[0]["number"]) if measure else None
        if value is not None:
            match = found[0]
            words = senses(f"{text[sentence.start() : match.start()]} {text[match.end() : sentence.end()]}")
            above = (match["above"] is not None) != (match["not"] is not None)
            said = " ".join(sentence.group().strip("- \n").split())
            orders = words & VERBS
            yield Limit(above, value * size, measure, words - orders, orders, match.start(), said)

"""Amounts, strengths and ceilings as the educator writes them, as exact numbers.

Per cent is weight in volume: 1 % is 1 g in 100 mL, so 10 mg/mL (the definition used on ampoules of local anaesthetic).
"""

from __future__ import annotations

import re
from fractions import Fraction
from functools import lru_cache
from typing import NamedTuple

from builder.facts.quantities import MASSES, UNITS, VOLUMES, exact, plain_number

MASS, VOLUME, ACTIVITY, MOLES = "mass", "volume", "units", "mmol"
_AMOUNT = re.compile(
    r"(?P<number>[0-9.][0-9.,\u00a0\u2009\u202f ]*?)\s*(?P<unit>[A-Za-zµμ]+)"
    r"(?:\s*(?:/|per)\s*(?P<of>[0-9.]+)?\s*(?P<per>[A-Za-z]+))?(?:\s*(?:/|per)\s*(?P<time>[A-Za-z]+))?"
)
_PERCENT = re.compile(r"(?P<number>[0-9.]+)\s*(?:%|per ?cent)")
_RATIO = re.compile(r"1\s*(?::|in)\s*(?P<number>[0-9][0-9, \u00a0\u2009]*)")
_LONGEST = 60
"""Characters: whatever is longer is not an amount."""

_KILOGRAMS = frozenset({"kg", "kilogram", "kilograms"})


class Amount(NamedTuple):
    """So much of something: ``value`` in mg, mL, units or mmol, by ``kind``; ``unit`` as it was written."""

    value: Fraction
    kind: str
    unit: str

    def __str__(self) -> str:
        return f"{plain_number(self.value / scale(self.unit))} {self.unit}"

    def times(self, factor: Fraction) -> Amount:
        """Return ``factor`` times as much."""
        return Amount(self.value * factor, self.kind, self.unit)


class Strength(NamedTuple):
    """So many milligrams (or units, millimoles, by ``kind``) in each millilitre; ``unit`` as it is to be shown."""

    per_ml: Fraction
    kind: str
    unit: str

    def __str__(self) -> str:
        return f"{plain_number(self.per_ml / scale(self.unit))} {self.unit}/mL"


def scale(unit: str) -> Fraction:
    """Return how many milligrams, millilitres, units or millimoles ``unit`` is."""
    return MASSES.get(unit) or VOLUMES.get(unit) or Fraction(1)


def kind_of(unit: str) -> str | None:
    """Return what ``unit`` measures, or None where it is not a unit of dose."""
    if unit in MASSES:
        return MASS
    if unit in VOLUMES:
        return VOLUME
    if unit in UNITS:
        return ACTIVITY
    return MOLES if unit == "mmol" else None


@lru_cache(maxsize=4096)
def amount_of(words: str) -> Amount | None:
    """Return the amount that ``words`` state, such as ``1 g`` or ``5000 units``; None where they state none."""
    match = _match(words)
    return None if match is None or match["per"] else _amount(match)


def _match(words: str) -> re.Match[str] | None:
    return _AMOUNT.fullmatch(words.strip()) if len(words) <= _LONGEST else None


def _amount(match: re.Match[str]) -> Amount | None:
    value, kind = exact(match["number"]), kind_of(match["unit"])
    if value is None or kind is None:
        return None
    return Amount(value * scale(match["unit"]), kind, _shown(match["unit"]))


def _shown(unit: str) -> str:
    if unit in UNITS:
        return "units"
    return "micrograms" if MASSES.get(unit) == MASSES["microgram"] else unit


@lru_cache(maxsize=4096)
def strength_of(words: str) -> Strength | None:
    """Return the strength that ``words`` state: ``1 %``, ``10 mg/mL``, ``50 mg in 10 mL`` or ``1 in 200,000``.

    None where they state none, or one that is nothing, or has no exact decimal form in a millilitre.
    """
    text = words.partition(" with ")[0].strip()
    found = _strength(text) if len(text) <= _LONGEST else None
    return found if found is not None and found.per_ml > 0 and is_short(found.per_ml) else None


def _strength(text: str) -> Strength | None:
    if (match := _PERCENT.fullmatch(text)) and (value := exact(match["number"])) is not None:
        return Strength(value * 10, MASS, "mg")
    if (match := _RATIO.fullmatch(text)) and (value := exact(match["number"])):
        per_ml = Fraction(1000) / value
        return Strength(per_ml, MASS, "mg" if per_ml >= 1 else "micrograms")
    match = _match(re.sub(r"\s+in\s+", "/", text))
    if match is None or match["per"] is None or kind_of(match["per"]) != VOLUME:
        return None
    amount = _amount(match)
    volume = (exact(match["of"]) if match["of"] else Fraction(1)) or Fraction(0)
    if amount is None or not volume:
        return None
    return Strength(amount.value / (volume * scale(match["per"])), amount.kind, amount.unit)


def is_short(value: Fraction) -> bool:
    """Tell whether ``value`` has a decimal form of few places."""
    return (value * 1_000_000).denominator == 1


@lru_cache(maxsize=4096)
def ceiling_of(words: str) -> Amount | None:
    """Return the most for each kilogram of body weight that ``words`` state, such as ``3 mg/kg``."""
    match = _match(words)
    if match is None or match["per"] not in _KILOGRAMS or match["of"] or match["time"]:
        return None
    return _amount(match)

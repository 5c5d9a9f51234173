"""Numbers with their units as they stand in the texts of a department."""

import re
from fractions import Fraction
from functools import lru_cache
from math import floor, log10
from typing import NamedTuple

from builder.facts.remembered import once_per_library
from builder.facts.texts import corpus
from builder.model.library import Library

# A digit, or a point with a digit after it, starts a number; the set in front lets the search skip everything else.
_NUMBER = re.compile(
    r"[0-9.](?:(?<=[0-9])|(?=[0-9]))[0-9]*(?:[.,][0-9]+)*(?P<gap>[ \u00a0\u2009\u202f]?)"
    r"(?P<unit>(?:[A-Za-zµμ]\.){2,}|[A-Za-zµμ%]+(?:/[A-Za-z]+)*)?"
)
MASSES = {
    "g": Fraction(1000), "mg": Fraction(1), "kg": Fraction(1_000_000),
    "microgram": Fraction(1, 1000), "micrograms": Fraction(1, 1000), "mcg": Fraction(1, 1000),
    "µg": Fraction(1, 1000), "μg": Fraction(1, 1000), "ug": Fraction(1, 1000),
    "nanogram": Fraction(1, 1_000_000), "nanograms": Fraction(1, 1_000_000), "ng": Fraction(1, 1_000_000),
    "gram": Fraction(1000), "grams": Fraction(1000), "milligram": Fraction(1), "milligrams": Fraction(1),
    "gm": Fraction(1000),
}  # fmt: skip
"""Units of mass, in milligrams."""

VOLUMES = {
    "mL": Fraction(1), "ml": Fraction(1), "mls": Fraction(1), "mLs": Fraction(1), "cc": Fraction(1),
    "L": Fraction(1000), "l": Fraction(1000), "litre": Fraction(1000), "litres": Fraction(1000),
    "millilitre": Fraction(1), "millilitres": Fraction(1), "milliliter": Fraction(1), "milliliters": Fraction(1),
}  # fmt: skip
"""Units of volume, in millilitres."""

UNITS = frozenset({"unit", "units", "U", "u", "IU", "iu", "I.U."})
"""Writings of units of activity."""

LONGEST = 24
"""Characters: a longer number is not a dose, and would only cost time."""

OTHER_DOSES = frozenset({"mmol", "%", "tablet", "tablets", "ccs", "MCG", "gms", "Gm"})
LENGTHS = frozenset({"mm", "cm", "m", "Fr", "Ch", "Fg", "French", "inch", "inches"})
DOSE_UNITS = frozenset(MASSES) | frozenset(VOLUMES) | UNITS | OTHER_DOSES


class WrittenNumber(NamedTuple):
    """A number where it stands: ``number`` as written, ``unit`` as written, ``gap`` between them, ``end`` after them.

    ``glued`` is the sign right in front of it where it belongs to a longer token, such as ``-`` in 2-0.
    """

    start: int
    end: int
    number: str
    gap: str
    unit: str
    glued: str

    @property
    def first(self) -> str:
        """The unit before any slash."""
        return self.unit.partition("/")[0]

    @property
    def per(self) -> tuple[str, ...]:
        """The units after slashes."""
        return tuple(self.unit.split("/")[1:])

    @property
    def value(self) -> Fraction | None:
        """The number, exactly; None where a comma leaves it open what was meant."""
        return exact(self.number)


@lru_cache(maxsize=4096)
def exact(number: str) -> Fraction | None:
    """Return the exact value of a number as written; a comma or space separates groups of three digits."""
    if len(number) > LONGEST:
        return None
    plain = number.replace(" ", "").replace("\u00a0", "").replace("\u2009", "").replace("\u202f", "")
    if "," in plain:
        if not re.fullmatch(r"[0-9]{1,3}(?:,[0-9]{3})+(?:\.[0-9]+)?", plain):
            return None
        plain = plain.replace(",", "")
    try:
        return Fraction(f"0{plain}" if plain.startswith(".") else plain)
    except ValueError:
        return None


@once_per_library
def quantities(library: Library) -> tuple[WrittenNumber, ...]:
    """Return every number in the texts that starts a token, or comes after a sign that may be a range."""
    whole = corpus(library).whole
    found = []
    for match in _NUMBER.finditer(whole):
        start = match.start()
        glued = whole[start - 1] if start else ""
        if glued.isalnum() or glued in "/_.:~":
            continue
        gap, unit = match["gap"], match["unit"] or ""
        end = match.end() if unit else match.end() - len(gap)
        number = whole[start : match.start("gap")]
        found.append(WrittenNumber(start, end, number, gap if unit else "", unit, glued if glued in "-–<>@=" else ""))
    return tuple(found)


_MOST_PLACES = 12


def plain_number(value: Fraction) -> str:
    """Return an exact number as people write it: no trailing zero, a zero before a point, commas from 10,000.

    A number without a short decimal form (a third) is told as ``about`` its first three figures, never rounded up.
    """
    whole, rest = divmod(abs(value), 1)
    digits = f"{whole:,}" if whole >= 10_000 else str(whole)
    fraction = ""
    while rest:
        rest *= 10
        digit, rest = divmod(rest, 1)
        fraction += str(digit)
        if len(fraction) > _MOST_PLACES:
            step = Fraction(10) ** (floor(log10(abs(value))) - 2)
            return f"about {plain_number(value // step * step)}"
    return f"{'-' if value < 0 else ''}{digits}{'.' if fraction else ''}{fraction}"

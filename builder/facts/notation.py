"""How a dose is written: the forms that the wording packs name, each with its innocent look-alikes."""

import re
from collections.abc import Callable

from builder.facts.quantities import DOSE_UNITS, LENGTHS, LONGEST, MASSES, WrittenNumber, exact, plain_number
from builder.load.packs import Pack

KNOWN = DOSE_UNITS | LENGTHS
"""Units that the forms are about."""

_LABORATORY_PER = frozenset({"L", "l", "dL", "mol"})
_NEVER_RUN_IN = frozenset({"%", "tablet", "tablets", "L", "l", "kg", "m", "u", "U"})
"""Units that are commonly printed close to the number, or that a number is part of a name with."""

# The Joint Commission lets a zero show how exact a value is: results, and sizes of lesions, catheters and tubes.
_SIZES = re.compile(
    r"lesion|nodule|tumou?r|mass of|cyst|stone|catheter|tube|cannula|stent|wire|scan|ultrasound|imaging|"
    r"diameter|margin|haemoglobin|hemoglobin|creatinine|lactate|potassium|sodium|albumin|urea|level|"
    r"FEV|FVC|INR|count of|specimen",
    re.IGNORECASE,
)
_GAUGE = re.compile(r"\s*(?:\w+\s)?(?:needle|cannula|catheter|gauge|wire|venflon)", re.IGNORECASE)
_BEFORE, _AFTER = 45, 25
_TIME_FRACTION = re.compile(r"[0-9]{1,2}/(?:7|12|52)(?![0-9/])")
_HALF = re.compile(r"1/[24](?= ?(?:tab|a tab|cap|dose|ampoule|amp))")
_SPACES = " \u00a0\u2009\u202f"


class Notation:
    """One number in its text. ``whole`` is the string it stands in."""

    __slots__ = ("whole", "written")

    def __init__(self, whole: str, written: WrittenNumber) -> None:
        self.whole = whole
        self.written = written

    @property
    def shown(self) -> str:
        """The number with its unit, as written."""
        return self.whole[self.written.start : self.written.end]

    @property
    def is_dose(self) -> bool:
        """Whether its unit is one that drugs and fluids are given in."""
        return self.written.first in DOSE_UNITS

    def is_laboratory(self, per: frozenset[str] = _LABORATORY_PER) -> bool:
        """Tell whether it is a concentration as a laboratory reports it."""
        return not per.isdisjoint(self.written.per)

    def is_size(self) -> bool:
        """Tell whether the words around it say that it is a size or a result, where a zero may show precision."""
        start, end = self.written.start, self.written.end
        if self.written.first in LENGTHS or self.is_laboratory():
            return True
        before = self.whole[max(0, start - _BEFORE) : start].rpartition("\x1f")[2]
        after = self.whole[end : end + _AFTER].partition("\x1f")[0].partition(". ")[0]
        return bool(_SIZES.search(before) or _SIZES.search(after)) and self.written.first not in MASSES

    def end_of(self, form: str) -> int:
        """Return where the writing ends that ``form`` is about."""
        pattern = {"time-fraction": _TIME_FRACTION, "half": _HALF}.get(form)
        match = pattern.match(self.whole, self.written.start) if pattern else None
        return match.end() if match else self.written.end


def _trailing_zero(notation: Notation) -> str | None:
    number = notation.written.number
    if "." not in number or not number.endswith("0") or not notation.is_dose or notation.is_size():
        return None
    return f"{_without_zeros(number)} {notation.written.unit}"


def _without_zeros(number: str) -> str:
    return number.rstrip("0").rstrip(".") if "." in number else number


def _naked_decimal(notation: Notation) -> str | None:
    written = notation.written
    if not written.number.startswith(".") or written.first not in KNOWN or written.glued in ("=", "<", ">"):
        return None
    return f"0{written.number} {written.unit}"


def _run_in(notation: Notation) -> str | None:
    written = notation.written
    unit = written.first
    if not unit or written.gap or unit not in DOSE_UNITS or unit in _NEVER_RUN_IN:
        return None
    if unit in ("g", "G") and _GAUGE.match(notation.whole, written.end):
        return None
    return f"{written.number} {written.unit}"


def _no_separator(notation: Notation) -> str | None:
    written = notation.written
    if not 5 <= len(written.number) <= LONGEST or not written.number.isdigit() or not notation.is_dose:
        return None
    return f"{int(written.number):,} {written.unit}"


def _small_fraction(notation: Notation) -> str | None:
    written = notation.written
    smaller = {"g": "mg", "mg": "micrograms"}.get(written.unit)
    value = written.value
    if smaller is None or value is None or not 0 < value < 1 or "." not in written.number:
        return None
    if notation.whole.startswith(("/", " per ", " in ", " for each "), written.end):
        return None
    return f"{plain_number(value * 1000)} {smaller}"


def _time_fraction(notation: Notation) -> str | None:
    match = _TIME_FRACTION.match(notation.whole, notation.written.start)
    if match is None or match.group() == "24/7":
        return None
    number, _, unit = match.group().partition("/")
    name = {"7": "day", "52": "week", "12": "month"}[unit]
    return f"{number} {name}" if number == "1" else f"{number} {name}s"


def _half(notation: Notation) -> str | None:
    match = _HALF.match(notation.whole, notation.written.start)
    return None if match is None else ("half a" if match.group() == "1/2" else "a quarter of a")


def _comparison(notation: Notation) -> str | None:
    start = notation.written.start
    sign = notation.whole[start - 1].strip() or notation.whole[start - 2] if start > 1 else ""
    if sign not in "<>@" or not sign or not notation.is_dose or notation.whole[start - 2] == "\n":
        return None
    words = {"<": "less than", ">": "more than", "@": "at"}[sign]
    return f"{words} {notation.shown}"


FORMS: dict[str, Callable[[Notation], str | None]] = {
    "trailing-zero": _trailing_zero,
    "naked-decimal": _naked_decimal,
    "run-in": _run_in,
    "no-separator": _no_separator,
    "small-fraction": _small_fraction,
    "time-fraction": _time_fraction,
    "half": _half,
    "comparison": _comparison,
}
"""By the name a pack gives it: returns what to write instead, or None where the form is not there."""


def mended(notation: Notation, pack: Pack) -> str | None:
    """Return the number and unit as ``pack`` wants them, the value unchanged; None where it could change."""
    written = notation.written
    number = f"0{written.number}" if written.number.startswith(".") else written.number
    if _trailing_zero(notation) is not None:
        number = _without_zeros(number)
    if exact(number) is None or exact(number) != written.value:
        return None
    parts: list[str] = []
    for unit in (written.first, *written.per):
        rule = pack.units.get(unit)
        wanted = rule.write if rule is not None and rule.mend and not notation.is_laboratory(rule.unless_per) else unit
        if rule is not None and rule.one and wanted == rule.write and (parts or written.value == 1):
            wanted = rule.one
        parts.append(wanted)
    gap = written.gap or (" " if _run_in(notation) is not None or parts[0] != written.first else "")
    return f"{number}{gap}{'/'.join(parts)}"

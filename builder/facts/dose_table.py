"""The table of a dose, worked out from strength, ceiling by weight, cap, bands, and what can be drawn up.

Everything is exact until the last step, which rounds down to what can be drawn up. Nothing is computed at reading time.
"""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction

from builder.facts.dose_amounts import VOLUME, Amount, Strength, amount_of, ceiling_of, is_short, strength_of
from builder.facts.quantities import plain_number
from builder.load.program_words import gettext, noted
from builder.model.dose import Dose

MOST_KILOGRAMS = Decimal(700)
"""Heavier than anybody was; a number beyond it is a slip."""

FINEST = Fraction(1, 10)
"""In mL: what a 10 mL syringe shows; used where nobody says what can be drawn up. Common practice."""

SHARED = noted(
    "Two local anaesthetics share one limit: work out each as a part of its own ceiling, add the parts, "
    "and stay at or below one. Sources differ on this; some allow no second drug once one ceiling is reached."
)
LOCAL = noted("Check your local formulary.")
NOT_COVERED = noted("Kidney or liver disease, pregnancy, children, old age or frailty, and other medicines.")


@dataclass(frozen=True, slots=True)
class DoseRow:
    """One line: the ``weight`` in words, the ``dose`` (None where only a volume is known), its ``volume`` in mL."""

    weight: str
    lightest: Fraction
    dose: Amount | None
    volume: Amount | None

    def __str__(self) -> str:
        parts = [str(amount) for amount in (self.dose, self.volume) if amount is not None]
        return " = ".join(parts)


@dataclass(frozen=True, slots=True)
class Stated:
    """A dose as exact numbers; None where it is not stated or cannot be read."""

    strength: Strength | None
    amount: Amount | None
    per_kg: Amount | None
    cap: Amount | None
    draw_up: Amount | None


def stated(dose: Dose) -> Stated:
    """Return what ``dose`` states, as exact numbers."""
    return Stated(
        strength_of(dose.strength) if dose.strength else None,
        amount_of(dose.amount) if dose.amount else None,
        ceiling_of(dose.per_weight) if dose.per_weight else None,
        amount_of(dose.cap) if dose.cap else None,
        amount_of(dose.draw_up) if dose.draw_up else None,
    )


def rows(dose: Dose) -> tuple[DoseRow, ...]:
    """Return the table of ``dose``: one row a weight or a band. Empty where there is nothing to work out."""
    numbers = stated(dose)
    if dose.bands:
        return tuple(_band_rows(dose, numbers))
    if numbers.per_kg is None:
        return ()
    weights = [Fraction(kg) for kg in dose.weights if is_weight(kg)]
    return tuple(_row(f"{plain_number(kg)} kg", kg, numbers) for kg in weights)


def is_weight(kilograms: Decimal) -> bool:
    """Tell whether a body can weigh so much: from 100 g to 700 kg, in steps of 100 g at the finest."""
    return Decimal("0.1") <= kilograms <= MOST_KILOGRAMS and kilograms == round(kilograms, 1)


def ceiling(numbers: Stated, kilograms: Fraction) -> Amount | None:
    """Return the most that may be given at this weight, not rounded; None without ceiling or where kinds differ."""
    if numbers.per_kg is None:
        return numbers.cap
    most = numbers.per_kg.times(kilograms)
    if numbers.cap is None:
        return most
    if numbers.cap.kind != most.kind:
        return None
    return most if most.value <= numbers.cap.value else Amount(numbers.cap.value, most.kind, most.unit)


def _row(weight: str, kilograms: Fraction, numbers: Stated) -> DoseRow:
    most = ceiling(numbers, kilograms)
    if most is None:
        return DoseRow(weight, kilograms, None, None)
    if most.kind == VOLUME:
        return DoseRow(weight, kilograms, None, _down(most, numbers.draw_up))
    if numbers.strength is None or numbers.strength.kind != most.kind:
        return DoseRow(weight, kilograms, _down(most, numbers.draw_up), None)
    volume = _down(Amount(most.value / numbers.strength.per_ml, VOLUME, "mL"), numbers.draw_up, FINEST)
    return DoseRow(weight, kilograms, Amount(volume.value * numbers.strength.per_ml, most.kind, most.unit), volume)


def _down(amount: Amount, step: Amount | None, otherwise: Fraction | None = None) -> Amount:
    """Round down to whole steps; a step of another kind does not apply."""
    size = step.value if step is not None and step.kind == amount.kind and step.value > 0 else otherwise
    return amount if size is None else Amount(amount.value // size * size, amount.kind, amount.unit)


def _band_rows(dose: Dose, numbers: Stated) -> Iterator[DoseRow]:
    for band in dose.bands:
        if not (is_weight(band.start) and is_weight(band.end)):
            continue
        given = amount_of(band.amount)
        words = gettext(
            "%(start)s to %(end)s kg", start=plain_number(Fraction(band.start)), end=plain_number(Fraction(band.end))
        )
        if given is None:
            yield DoseRow(words, Fraction(band.start), None, None)
        elif given.kind == VOLUME:
            yield DoseRow(words, Fraction(band.start), in_volume(given, numbers.strength), given)
        else:
            yield DoseRow(words, Fraction(band.start), given, as_volume(given, numbers.strength))


def in_volume(volume: Amount, strength: Strength | None) -> Amount | None:
    """Return how much of the drug is in ``volume``."""
    if strength is None or volume.kind != VOLUME:
        return None
    return Amount(volume.value * strength.per_ml, strength.kind, strength.unit)


def as_volume(given: Amount, strength: Strength | None) -> Amount | None:
    """Return the exact volume that holds ``given``; None where it has no short decimal form or kinds differ."""
    if strength is None or strength.kind != given.kind:
        return None
    volume = Amount(given.value / strength.per_ml, VOLUME, "mL")
    return volume if is_short(volume.value) else None


def sum_of_fractions(given: Iterable[tuple[Amount, Amount]]) -> Fraction:
    """Return the sum of each (amount given, its ceiling) as a part of one; together they should stay at or below 1.

    Common teaching for local anaesthetics given together; sources differ on it.
    """
    return sum((amount.value / most.value for amount, most in given), Fraction(0))


def is_local_anaesthetic(name: str) -> bool:
    """Tell whether ``name`` is a local anaesthetic: the stem -caine of the International Nonproprietary Names (WHO)."""
    return any(word.casefold().endswith("caine") for word in name.replace("-", " ").split())


def limits(dose: Dose) -> str:
    """Return the lines every table carries: what it does not cover, and that the local formulary decides."""
    own = str(dose.not_covered).rstrip() if dose.not_covered else gettext(NOT_COVERED)
    ending = "" if own.endswith((".", "!", "?")) else "."
    local = gettext(LOCAL)
    return own + ending if local.casefold() in own.casefold() else f"{own}{ending} {local}"


def extra_lines(dose: Dose) -> tuple[tuple[str, str], ...]:
    """Return what follows from a dose as stated: per cent as mg/mL, a volume as milligrams, milligrams as a volume.

    A local anaesthetic with a ceiling also says how two of them share one limit.
    """
    numbers = stated(dose)
    found = []
    if numbers.strength is not None and dose.strength and "%" in dose.strength:
        found.append((gettext("That is"), str(numbers.strength)))
    if numbers.amount is not None:
        drug, volume = in_volume(numbers.amount, numbers.strength), as_volume(numbers.amount, numbers.strength)
        if drug is not None:
            found.append((gettext("The dose holds"), str(drug)))
        if volume is not None:
            found.append((gettext("The dose is"), str(volume)))
    if is_local_anaesthetic(dose.drug) and (dose.per_weight or dose.cap or dose.bands):
        found.append((gettext("Two together"), gettext(SHARED)))
    return tuple(found)

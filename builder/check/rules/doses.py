"""Doses hold together: they can be read, bands meet, ceilings are kept, and no point or unit has slipped."""

from collections import defaultdict
from collections.abc import Iterator
from fractions import Fraction
from itertools import pairwise
from typing import NamedTuple

from builder.check.hit import Hit, finds
from builder.facts.dose_amounts import Amount, amount_of, ceiling_of, strength_of
from builder.facts.dose_table import DoseRow, Stated, ceiling, in_volume, is_local_anaesthetic, is_weight, rows, stated
from builder.facts.dose_table import sum_of_fractions as parts_of_limit
from builder.facts.quantities import plain_number
from builder.facts.remembered import once_per_library
from builder.facts.walk import doses, pages
from builder.findings.finding import SecondPlace
from builder.findings.message_words import quoted
from builder.model.dose import Band, Dose
from builder.model.fields import Page
from builder.model.library import Library
from builder.model.pages import Procedure
from builder.place import Place

MOST_JUMP = 3
"""How many times its neighbour's dose the dose of a row may be before it is asked about."""


class Given(NamedTuple):
    """A dose where it stands, its exact numbers, and the names of its drug in small letters."""

    dose: Dose
    page: Page
    home: Procedure | None
    numbers: Stated
    rows: tuple[DoseRow, ...]
    names: frozenset[str]


@once_per_library
def every_dose(library: Library) -> tuple[Given, ...]:
    """Return every dose of the department; the numbers are worked out once for all checks."""
    return tuple(
        Given(dose, page, home, stated(dose), rows(dose), _names(library, dose))
        for home, page in pages(library)
        if doses(page)
        for dose in doses(page)
    )


def _names(library: Library, dose: Dose) -> frozenset[str]:
    item = library.items.find(dose.drug)
    names = (dose.drug, *((item.name, *item.also) if item is not None else ()))
    return frozenset(str(name).casefold() for name in names)


_FORMS = (
    ("strength", strength_of, "`1 %`, `10 mg/mL` or `5000 units/mL`"),
    ("amount", amount_of, "`1 g`, `500 micrograms` or `10 mL`"),
    ("per_weight", ceiling_of, "`3 mg/kg`"),
    ("cap", amount_of, "`200 mg`"),
    ("draw_up", amount_of, "`0.5 mL`"),
)


@finds("dose-unreadable", piecewise=True)
def unreadable(library: Library) -> Iterator[Hit]:
    """Yield each number of a dose that cannot be read: no table can be worked out from it."""
    for given in every_dose(library):
        dose = given.dose
        for key, reads, example in _FORMS:
            words = getattr(dose, key)
            if words is not None and reads(words) is None and not (key == "amount" and range_of(words)):
                yield Hit(
                    words.at, f"{quoted(words)} cannot be read as the `{key}` of a dose", f"Write it as {example}."
                )
        for band in dose.bands:
            if amount_of(band.amount) is None:
                message = f"{quoted(band.amount)} cannot be read as an amount"
                yield Hit(band.amount.at, message, "Write it as `10 mL` or `40 mg`.")
        yield from _no_weights(dose)


def _no_weights(dose: Dose) -> Iterator[Hit]:
    found = [(value, dose.where.value("weights", place)) for place, value in enumerate(dose.weights)]
    for band in dose.bands:
        found += [(band.start, band.where.value("from")), (band.end, band.where.value("to"))]
    for value, at in found:
        if not is_weight(value):
            shown = str(value)[:12]
            message = f"{quoted(shown)} is not a body weight in kilograms"
            yield Hit(at, message, "Write a weight up to 700, such as `70`.")


def range_of(words: str) -> tuple[Amount, Amount] | None:
    """Return the least and the most that ``words`` allow: 500 mg to 1 g, 5-10 mg, or one amount twice."""
    alone = amount_of(words)
    if alone is not None:
        return alone, alone
    for sign in (" to ", "–", "-"):
        low, found, high = words.partition(sign)
        most = amount_of(high) if found else None
        if most is not None:
            least = amount_of(low) or amount_of(f"{low.strip()} {most.unit}")
            return None if least is None else (least, most)
    return None


@finds("dose-bands-gap", piecewise=True)
def band_gaps(library: Library) -> Iterator[Hit]:
    """Yield each weight between two bands that is in neither, and each band that is not in whole kilograms."""
    for given in every_dose(library):
        for band in given.dose.bands:
            for key, value in (("from", band.start), ("to", band.end)):
                if is_weight(value) and value != int(value):
                    message = f"{quoted(str(value))} is not a whole number of kilograms"
                    yield Hit(band.where.value(key), message, "Write bands in whole kilograms, `to` 49 and `from` 50.")
            if band.start > band.end:
                message = f"{quoted(str(band.start))} is where the band starts, but it ends at {band.end}"
                yield Hit(band.where.value("from"), message, "Write the lighter weight in `from:`.")
        for lower, upper in _neighbours(given.dose):
            if upper.start > lower.end + 1:
                message = f"{lower.end} to {upper.start} kg: a patient between these weights is in no band"
                also = (SecondPlace(lower.where.value("to"), "the band below ends here"),)
                yield Hit(upper.where.value("from"), message, f"Write `from: {lower.end + 1}`, or add a band.", also)


@finds("dose-bands-overlap", piecewise=True)
def band_overlaps(library: Library) -> Iterator[Hit]:
    """Yield each weight that is in two bands."""
    for given in every_dose(library):
        for lower, upper in _neighbours(given.dose):
            if upper.start <= lower.end:
                message = f"{upper.start} kg is in two bands: the band below ends at {lower.end} kg"
                also = (SecondPlace(lower.where.value("to"), "the other band"),)
                yield Hit(upper.where.value("from"), message, f"Write `from: {lower.end + 1}`.", also)


def _neighbours(dose: Dose) -> Iterator[tuple[Band, Band]]:
    known = [band for band in dose.bands if is_weight(band.start) and is_weight(band.end)]
    ordered = sorted(known, key=lambda band: (band.start, band.end))
    return pairwise(ordered)


@finds("dose-without-cap", piecewise=True)
def missing_caps(library: Library) -> Iterator[Hit]:
    """Yield each ceiling by weight that has no cap: a heavy patient would be given more than anybody meant."""
    for given in every_dose(library):
        dose = given.dose
        if dose.per_weight is not None and dose.cap is None:
            message = f"{quoted(dose.per_weight)} has no cap, so a heavy patient has no limit"
            yield Hit(dose.per_weight.at, message, "Add `cap:` with the most for any weight, from the same source.")


@finds("dose-jump", piecewise=True)
def jumps(library: Library) -> Iterator[Hit]:
    """Yield each row of a table whose dose is more than three times its neighbour's, or less than a third."""
    for step in _table_steps(library):
        times = step.large.value / step.small.value
        if times > MOST_JUMP or times < Fraction(1, MOST_JUMP):
            message = f"{step.words}: that is {'more than three times as much' if times > 1 else 'less than a third'}"
            yield Hit(step.at, message, "Look for a slip of the decimal point, of the unit or of a weight.")


@finds("dose-falls-with-weight", piecewise=True)
def falls_with_weight(library: Library) -> Iterator[Hit]:
    """Yield each row of a table whose dose is less than that of the lighter patient above it."""
    for step in _table_steps(library):
        if Fraction(1, MOST_JUMP) <= step.large.value / step.small.value < 1:
            message = f"{step.words}: the heavier patient is given less"
            yield Hit(step.at, message, "Correct the amounts or the weights, so that no heavier patient is given less.")


class _TableStep(NamedTuple):
    """Two neighbouring rows of a table, the lighter patient's first, with the words for both."""

    small: Amount
    large: Amount
    at: Place
    words: str


@once_per_library
def _table_steps(library: Library) -> tuple[_TableStep, ...]:
    found = []
    for given in every_dose(library):
        if len(given.rows) != len(given.dose.bands or given.dose.weights):
            continue  # a weight that is none has its own finding
        ordered = sorted(enumerate(given.rows), key=lambda row: row[1].lightest)
        for (_, lower), (place, upper) in pairwise(ordered):
            small, large = _main(lower), _main(upper)
            if small is not None and large is not None and small.kind == large.kind and small.value:
                bands = given.dose.bands
                at = bands[place].amount.at if bands else given.dose.where.value("weights", place)
                words = f"{quoted(str(large))} at {upper.weight} follows {small} at {lower.weight}"
                found.append(_TableStep(small, large, at, words))
    return tuple(found)


def _main(row: DoseRow) -> Amount | None:
    return row.dose or row.volume


@finds("dose-above-ceiling", piecewise=True)
def above_ceiling(library: Library) -> Iterator[Hit]:
    """Yield each amount that is more than the cap or the ceiling by weight of the same dose allows."""
    for given in every_dose(library):
        numbers, dose = given.numbers, given.dose
        if dose.amount is not None and numbers.amount is not None:
            most = numbers.cap
            yield from _above(given, numbers.amount, most, dose.amount.at, "the cap")
        for band in dose.bands:
            found = amount_of(band.amount) if is_weight(band.start) else None
            most = None if found is None else ceiling(numbers, Fraction(band.start))
            if found is not None:
                yield from _above(given, found, most, band.amount.at, f"the ceiling at {band.start} kg")


def _above(given: Given, found: Amount, most: Amount | None, at: Place, what: str) -> Iterator[Hit]:
    drug = found
    if most is not None and found.kind != most.kind:
        drug = in_volume(found, given.numbers.strength) or found
    if most is not None and drug.kind == most.kind and drug.value > most.value:
        shown = str(found) if drug is found else f"{found} ({drug})"
        message = f"{quoted(shown)} of {given.dose.drug} is more than {what}, {most}"
        yield Hit(
            at, message, "Look for a slip of the decimal point or of the unit, then correct the one that is wrong."
        )


@finds("dose-kinds-differ", piecewise=True)
def kinds_differ(library: Library) -> Iterator[Hit]:
    """Yield each dose whose parts measure different things, such as units against milligrams."""
    for given in every_dose(library):
        numbers, dose = given.numbers, given.dose
        kinds = {
            key: value.kind
            for key, value in (("strength", numbers.strength), ("per_weight", numbers.per_kg), ("cap", numbers.cap))
            if value is not None
        }
        drug_kinds = {kind for kind in kinds.values() if kind != "volume"}
        if len(drug_kinds) > 1 or (numbers.per_kg and numbers.cap and numbers.per_kg.kind != numbers.cap.kind):
            shown = ", ".join(f"`{key}: {getattr(dose, key)}`" for key in kinds)
            message = f"{quoted(dose.drug)} is stated in units that cannot be compared: {shown}"
            yield Hit(dose.at, message, "State strength, ceiling and cap in the same kind of unit.")


@finds("dose-ceilings-differ", piecewise=True)
def ceilings_differ(library: Library) -> Iterator[Hit]:
    """Yield each drug whose ceiling or cap differs from that in another procedure."""
    by_drug: dict[str, list[Given]] = defaultdict(list)
    for given in every_dose(library):
        if given.numbers.per_kg is not None or given.numbers.cap is not None:
            by_drug[_drug(library, given.dose)].append(given)
    for same in by_drug.values():
        first = same[0]
        for other in same[1:]:
            if other.page.file == first.page.file:
                continue
            for key, one, two in (
                ("per_weight", first.numbers.per_kg, other.numbers.per_kg),
                ("cap", first.numbers.cap, other.numbers.cap),
            ):
                if one is not None and two is not None and (one.kind, one.value) != (two.kind, two.value):
                    written = getattr(other.dose, key)
                    message = (
                        f"{quoted(written)} for {other.dose.drug}, but {getattr(first.dose, key)} in another procedure"
                    )
                    also = (SecondPlace(getattr(first.dose, key).at, "the other ceiling"),)
                    yield Hit(written.at, message, "Use one ceiling, or say in `not_covered:` why they differ.", also)


def _drug(library: Library, dose: Dose) -> str:
    item = library.items.find(dose.drug)
    return str(item.id) if item else str(dose.drug).casefold()


@finds("anaesthetics-over-limit", piecewise=True)
def anaesthetics_together(library: Library) -> Iterator[Hit]:
    """Yield each procedure whose fixed doses of local anaesthetic add up to more than one whole ceiling.

    Each fixed amount is a part of its own ceiling at the lightest weight of its table; common practice, sources differ.
    """
    by_home: dict[str, list[Given]] = defaultdict(list)
    for given in every_dose(library):
        if given.home is not None and is_local_anaesthetic(given.dose.drug):
            by_home[given.home.id].append(given)
    for together in by_home.values():
        known = [(given, *pair) for given in together if (pair := _part(given)) is not None]
        if len({_drug(library, given.dose) for given, _, _ in known}) < 2:
            continue
        total = parts_of_limit((amount, most) for _, amount, most in known)
        if total > 1:
            last = known[-1][0]
            parts = " + ".join(f"{amount} of {most} {given.dose.drug}" for given, amount, most in known)
            times = plain_number(Fraction(round(total * 100), 100))
            message = f"{times} times what may be given of local anaesthetics together: {parts}"
            hint = "Lower the amounts until their parts add up to one or less, or say that only one of them is given."
            yield Hit(last.dose.where.value("amount"), message, hint)


def _part(given: Given) -> tuple[Amount, Amount] | None:
    numbers = given.numbers
    lightest = min((Fraction(kg) for kg in given.dose.weights if is_weight(kg)), default=None)
    most = ceiling(numbers, lightest) if lightest is not None else numbers.cap
    if numbers.amount is None or most is None or not most.value:
        return None
    amount = numbers.amount if numbers.amount.kind == most.kind else in_volume(numbers.amount, numbers.strength)
    return None if amount is None or amount.kind != most.kind else (amount, most)

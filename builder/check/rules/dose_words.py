"""Doses in running text: no slip of point or unit, and the same as the doses that are stated as numbers."""

import re
from collections import defaultdict
from collections.abc import Iterator
from fractions import Fraction

from builder.check.hit import Hit, finds
from builder.check.rules.doses import Given, every_dose
from builder.facts.dose_amounts import ACTIVITY, MASS, VOLUME, Amount, amount_of, kind_of, strength_of
from builder.facts.dose_table import in_volume
from builder.facts.quantities import MASSES, WrittenNumber, plain_number, quantities
from builder.facts.remembered import once_per_library
from builder.facts.texts import Corpus, corpus
from builder.findings.message_words import quoted
from builder.load.packs import Fence, fences
from builder.model.library import Library
from builder.model.pages import ItemKind
from builder.place import Place

_SLIPS = (Fraction(10), Fraction(1, 10), Fraction(100), Fraction(1, 100), Fraction(1000), Fraction(1, 1000))
_A_DAY = re.compile(r"\b(?:a|per|each|every|in one|in a|in any) day\b|\bdaily\b|24 ?h|24 hours|total", re.IGNORECASE)
_DOSES_A_DAY = 6
_NOT_A_DOSE = re.compile(
    r"\btablets? of\b|\bvial|\bbag\b|\bstock\b|\bstudy\b|\bweigh|\bswab|\btrial\b|\bcontains\b", re.IGNORECASE
)
_EQUALS = re.compile(r"[\s\w]{0,30}?(?:\(|=|, that is|, so|: ?)\s*(?:that is |is )?$")
_LIMIT = re.compile(r"\b(?:most|more|max|maximum|limit|up|least|ceiling|never|over|under|below)\b", re.IGNORECASE)
_HINT = "Look for a slip of the decimal point or of the unit; compare it with your local formulary."


@once_per_library
def _drug_names(library: Library) -> re.Pattern[str]:
    known = set(fences())
    for item in library.items:
        if item.kind is ItemKind.DRUG:
            known.update(str(name).casefold() for name in (item.name, *item.also))
    words = sorted(known, key=len, reverse=True)
    return re.compile(rf"\b(?:{'|'.join(map(re.escape, words))})\b", re.IGNORECASE)


@finds("dose-implausible")
def implausible(library: Library) -> Iterator[Hit]:
    """Yield each dose that nobody can have meant: ten times too much or too little, or in the wrong unit."""
    for given in every_dose(library):
        numbers = given.numbers
        if given.dose.amount is None or numbers.amount is None:
            continue
        amount = numbers.amount if numbers.amount.kind != VOLUME else in_volume(numbers.amount, numbers.strength)
        name = "" if amount is None else _known_drug(library, given)
        if amount is not None and name:
            yield from _outside(name, amount, given.dose.amount, given.dose.amount.at)
    texts = corpus(library)
    for written, drug, amount in _in_prose(library):
        start, end = texts.sentence_span(written.start)
        sentence = texts.whole[start:end]
        times = _DOSES_A_DAY if _A_DAY.search(sentence) else 1
        if not _NOT_A_DOSE.search(sentence) and written not in _slips(library):
            shown = texts.whole[written.start : written.end]
            yield from _outside(drug, amount, shown, texts.place(written.start), times)


def _known_drug(library: Library, given: Given) -> str:
    words = _names(library, given).casefold()
    return next((name for name in fences() if name in words), "")


def _names(library: Library, given: Given) -> str:
    item = library.items.find(given.dose.drug)
    return " ".join([str(given.dose.drug), *([str(item.name), *map(str, item.also)] if item else [])])


def _outside(drug: str, amount: Amount, shown: str, at: Place, times: int = 1) -> Iterator[Hit]:
    fence = fences().get(drug.casefold())
    if fence is None or kind_of(fence.unit) != amount.kind:
        wrong = fence is not None and {kind_of(fence.unit), amount.kind} == {MASS, ACTIVITY}
        if not wrong:
            return
        message = f"{quoted(shown)} is not the kind of unit {drug} is given in"
    elif _low(fence) <= amount.value <= Fraction(fence.high) * times:
        return
    else:
        word = "more" if amount.value > Fraction(fence.high) else "less"
        message = f"{quoted(shown)} is far {word} than anybody gives of {drug} at once"
    yield Hit(at, message, _HINT)


def _low(fence: Fence) -> Fraction:
    return Fraction(fence.low)


@once_per_library
def _in_prose(library: Library) -> tuple[tuple[WrittenNumber, str, Amount], ...]:
    """Return each amount of a drug in running text, with the drug it is of: the nearest one named in its sentence."""
    texts, names = corpus(library), _drug_names(library)
    found = []
    for written in quantities(library):
        if (written.first in MASSES and written.first != "kg") or kind_of(written.first) == ACTIVITY:
            if written.per or texts.piece(written.start).role.startswith("dose"):
                continue
            amount = amount_of(f"{written.number} {written.unit}")
            drug = _nearest(texts, names, written)
            if amount is not None and drug:
                found.append((written, drug, amount))
    return tuple(found)


def _nearest(texts: Corpus, names: re.Pattern[str], written: WrittenNumber) -> str:
    start, end = texts.sentence_span(written.start)
    best, drug = end - start + 1, ""
    for match in names.finditer(texts.whole, start, end):
        # A drug behind its amount ("1 g of paracetamol") must stand close; one before it rules up to the next drug.
        away = written.start - match.end() if match.end() <= written.start else (match.start() - written.end) * 2
        if 0 <= away < best:
            best, drug = away, match.group()
    return drug


@finds("dose-differs-from-stated")
def differ_from_stated(library: Library) -> Iterator[Hit]:
    """Yield each amount in the text that is a slip of the point away from the dose that the same procedure states."""
    texts = corpus(library)
    for written, (drug, slipped) in _slips(library).items():
        shown = texts.whole[written.start : written.end]
        message = f"{quoted(shown)} of {drug} in the text, but {slipped} is the dose that is stated"
        yield Hit(texts.place(written.start), message, "Correct the one that is wrong.")


@once_per_library
def _slips(library: Library) -> dict[WrittenNumber, tuple[str, Amount]]:
    """Return each amount in the text that is a slip away, with its drug and the amount that is stated."""
    by_drug: dict[tuple[str, str], list[Given]] = defaultdict(list)
    for given in every_dose(library):
        for name in _names(library, given).casefold().split():
            by_drug[given.home.id if given.home else "", name].append(given)
    found = {}
    texts = corpus(library)
    for written, drug, amount in _in_prose(library) if by_drug else ():
        if _NOT_A_DOSE.search(texts.sentence(written.start)):
            continue
        here = texts.piece(written.start).home
        same = [one for word in drug.casefold().split() for one in by_drug.get((here.id if here else "", word), ())]
        known = [one for given in same for one in _stated_amounts(given) if one.kind == amount.kind]
        if not any(one.value == amount.value for one in known):
            slipped = next((one for one in known if one.value and amount.value / one.value in _SLIPS), None)
            if slipped is not None:
                found[written] = (drug, slipped)
    return found


def _stated_amounts(given: Given) -> Iterator[Amount]:
    numbers = given.numbers
    for one in (numbers.amount, numbers.cap):
        if one is not None:
            yield one
            drug = in_volume(one, numbers.strength)
            if drug is not None:
                yield drug
    for row in given.rows:
        if row.dose is not None:
            yield row.dose


@finds("dose-arithmetic-wrong")
def arithmetic_wrong(library: Library) -> Iterator[Hit]:
    """Yield each per cent that is not the mg/mL beside it, and each volume that does not hold the mass beside it."""
    texts = corpus(library)
    numbers = quantities(library)
    for place, written in enumerate(numbers):
        if written.unit != "%":
            continue
        strength = strength_of(f"{written.number} %")
        after = next((one for one in numbers[place + 1 : place + 3] if one.first in MASSES and one.first != "kg"), None)
        if strength is None or after is None or after.value is None:
            continue
        between = texts.whole[written.end : after.start]
        if not _EQUALS.match(between) or _LIMIT.search(between):
            continue
        stated = after.value * MASSES[after.first]
        before = numbers[place - 1] if place else None
        if after.per and after.per[0] in ("mL", "ml"):
            expected = strength.per_ml
        elif before is not None and before.value is not None and _is_volume_of(texts, before, written):
            expected = before.value * strength.per_ml
        else:
            continue
        if stated != expected:
            shown = texts.whole[after.start : after.end]
            right = f"{plain_number(expected)} mg{'/mL' if after.per else ''}"
            message = f"{quoted(shown)} does not fit {texts.whole[written.start : written.end]}: that is {right}"
            yield Hit(texts.place(after.start), message, "Correct the one that is wrong: 1 % is 10 mg/mL.")


def _is_volume_of(texts: Corpus, volume: WrittenNumber, strength: WrittenNumber) -> bool:
    between = texts.whole[volume.end : strength.start]
    return volume.first in ("mL", "ml") and not volume.per and len(between) < 40 and "\x1f" not in between

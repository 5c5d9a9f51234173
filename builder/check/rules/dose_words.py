"""Doses in running text: no slip of point or unit, and the same as the doses that are stated as numbers."""

import re
from collections import defaultdict
from collections.abc import Iterator
from fractions import Fraction
from itertools import islice
from typing import NamedTuple

from builder.check.hit import Hit, finds
from builder.check.rules.dose_sums import sums
from builder.check.rules.doses import Given, every_dose
from builder.check.rules.doses_agree import volumes_beyond_belief
from builder.facts.dose_amounts import ACTIVITY, MASS, Amount, amount_of, kind_of, strength_of
from builder.facts.dose_mentions import fence_of, mentions
from builder.facts.dose_table import in_volume
from builder.facts.quantities import MASSES, WrittenNumber, plain_number, quantities
from builder.facts.remembered import once_per_library
from builder.facts.texts import Corpus, corpus
from builder.findings.message_words import quoted
from builder.load.packs import Fence, fences
from builder.model.library import Library
from builder.place import Place

_SLIPS = (Fraction(10), Fraction(1, 10), Fraction(100), Fraction(1, 100), Fraction(1000), Fraction(1, 1000))
_A_DAY = re.compile(r"\b(?:a|per|each|every|in one|in a|in any) day\b|\bdaily\b|24 ?h|24 hours|total", re.IGNORECASE)
_DOSES_A_DAY = 6
_CAP_FOR_A_DAY = 2
"""A cap is the most at one time; where somebody wrote that of a day, it is still not taken for a slip."""

_LIGHT, _HEAVY = 40, 150
"""The body weights, in kilograms, between which a fence for one dose is taken to one for each kilogram."""

_NOT_A_DOSE = re.compile(
    r"\btablets? of\b|\bvial|\bbag\b|\bstock\b|\bstudy\b|\bweigh|\bswab|\btrial\b|\bcontains\b", re.IGNORECASE
)
_EQUALS = re.compile(r"[\s\w]{0,30}?(?:\(|=|, that is|, so|: ?)\s*(?:that is |is )?$")
_LIMIT = re.compile(r"\b(?:most|more|max|maximum|limit|up|least|ceiling|never|over|under|below)\b", re.IGNORECASE)
_HINT = "Look for a slip of the decimal point or of the unit; compare it with your local formulary."


@finds("dose-implausible", piecewise=True)
def implausible(library: Library) -> Iterator[Hit]:
    """Yield each dose that nobody can have meant: ten times too much or too little, or in the wrong unit."""
    for given in every_dose(library):
        fenced = next((found for name in sorted(given.names) if (found := fence_of(name))), None)
        if fenced is not None:
            yield from _dose_outside(given, *fenced)
    for at, words in volumes_beyond_belief(library):
        yield Hit(at, f"{quoted(words)} is more than anybody can have meant", _HINT)
    texts = corpus(library)
    for mention in mentions(library):
        start, end = texts.sentence_span(mention.written.start)
        sentence = texts.whole[start:end]
        fence = fences().get(mention.drug.casefold())
        if fence is not None and not _NOT_A_DOSE.search(sentence) and mention.written not in _slips(library):
            shown = texts.whole[mention.written.start : mention.written.end]
            times = _DOSES_A_DAY if _A_DAY.search(sentence) else 1
            around = _Around(mention.drug, fence, mention.per_kg, times)
            yield from _outside(mention.amount, shown, texts.place(mention.written.start), around)


class _Around(NamedTuple):
    """What anybody can have meant of ``drug``: at once, ``times`` the most of its fence, or for each kilogram."""

    drug: str
    fence: Fence
    per_kg: bool = False
    times: int = 1

    @property
    def least(self) -> Fraction:
        return Fraction(self.fence.low) / (_HEAVY if self.per_kg else 1)

    @property
    def most(self) -> Fraction:
        return Fraction(self.fence.high) * self.times / (_LIGHT if self.per_kg else 1)


def _dose_outside(given: Given, drug: str, fence: Fence) -> Iterator[Hit]:
    """Ask about the amount, the cap, the ceiling by weight, and the first band that is outside the fence."""
    dose, numbers = given.dose, given.numbers
    once, of_day = _Around(drug, fence), _Around(drug, fence, times=_CAP_FOR_A_DAY)
    for words, amount, around in (
        (dose.amount, numbers.amount, once),
        (dose.per_weight, numbers.per_kg, _Around(drug, fence, per_kg=True)),
        (dose.cap, numbers.cap, of_day),
    ):
        if words is not None and amount is not None:
            yield from _outside(in_volume(amount, numbers.strength) or amount, words, words.at, around)
    bands = ((band.amount, amount_of(band.amount)) for band in dose.bands)
    held = ((words, in_volume(amount, numbers.strength) or amount) for words, amount in bands if amount is not None)
    yield from islice((hit for words, amount in held for hit in _outside(amount, words, words.at, once)), 1)


def _outside(amount: Amount, shown: str, at: Place, around: _Around) -> Iterator[Hit]:
    unit = kind_of(around.fence.unit)
    if unit != amount.kind:
        if {unit, amount.kind} == {MASS, ACTIVITY}:
            yield Hit(at, f"{quoted(shown)} is not the kind of unit in which {around.drug} is given", _HINT)
    elif not around.least <= amount.value <= around.most:
        word = "more" if amount.value > around.most else "less"
        when = "for each kilogram" if around.per_kg else "at once"
        yield Hit(at, f"{quoted(shown)} is far {word} {around.drug} than anybody gives {when}", _HINT)


@finds("dose-differs-from-stated", piecewise=True)
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
        for name in " ".join(given.names).split():
            by_drug[given.home.id if given.home else "", name].append(given)
    found = {}
    texts = corpus(library)
    for written, drug, amount, per_kg in mentions(library) if by_drug else ():
        if per_kg or _NOT_A_DOSE.search(texts.sentence(written.start)):
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


@finds("dose-arithmetic-wrong", piecewise=True)
def arithmetic_wrong(library: Library) -> Iterator[Hit]:
    """Yield each sum that does not come out: per cent and mg/mL, volume and mass, a day, tablets, a body weight."""
    yield from sums(library)
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


_VOLUME = re.compile(
    r"[0-9]+(?:\.[0-9]+)?\s?(?:mL|ml|millilit(?:re|er)s?)\s+(?:of\s+)?(?:the\s+|your\s+)?local(?:\s+ana?esthetic)?"
    r"(?=\s*(?:[.,;:)]|$)|\s+(?:along|around|at|before|between|for|in|into|near|on|over|round|through|to|under|with|and)\b)"
)
_STRENGTH = re.compile(r"[0-9]\s?(?:%|per cent\b|(?:mg|micrograms?)\s?(?:/|per|in each)\s?(?:mL|ml|millilit))")
_BEFORE_LOCAL = 30
"""Characters in which a volume stands before its ``local``."""


@finds("volume-without-strength", piecewise=True)
def volume_without_strength(library: Library) -> Iterator[Hit]:
    """Yield each volume of a local anaesthetic where nothing in the procedure gives a strength."""
    texts = corpus(library)
    for at in texts.where(("local",)):
        piece = texts.piece(at)
        match = _VOLUME.search(texts.whole, max(piece.start, at - _BEFORE_LOCAL), texts.end(at))
        if match is None or not match.start() < at < match.end():
            continue
        if id(piece.home or piece.page) not in _with_strength(library):
            message = f"{quoted(' '.join(match.group().split()))} gives neither the drug nor its strength"
            yield Hit(texts.place(match.start()), message, "Write both, for instance `10 mL of lidocaine 1 %`.")


@once_per_library
def _with_strength(library: Library) -> frozenset[int]:
    """Return the identities of the procedures, and of the shared pages, that give a strength."""
    texts = corpus(library)
    pieces = (texts.piece(match.start()) for match in _STRENGTH.finditer(texts.whole))
    return frozenset(id(piece.home or piece.page) for piece in pieces)

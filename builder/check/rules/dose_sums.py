"""Sums in running text: what a day makes, what tablets make, what a body weight makes, and whether a limit is kept."""

import re
from collections import defaultdict
from collections.abc import Iterator, Mapping
from fractions import Fraction
from typing import NamedTuple

from builder.check.hit import Hit, finds
from builder.check.rules.doses import Given, every_dose
from builder.check.rules.doses_agree import A_DAY
from builder.facts.dose_amounts import VOLUME, Amount, Strength, amount_of, strength_of
from builder.facts.dose_mentions import (
    EACH_KG,
    DoseMention,
    HowOften,
    drug_of,
    how_often,
    is_limit,
    is_of_drug,
    mentions,
    numbers_between,
)
from builder.facts.dose_mentions import sentences as dosed_sentences
from builder.facts.dose_table import in_volume
from builder.facts.quantities import MASSES, VOLUMES, WrittenNumber, exact, quantities
from builder.facts.remembered import once_per_library
from builder.facts.texts import Corpus, corpus
from builder.facts.times import hours_of
from builder.findings.finding import SecondPlace
from builder.findings.message_words import quoted
from builder.model.library import Library

_LINK = re.compile(
    r"(?:\(|=|\bso|\bthus|\btherefore|\bthat is|\bwhich is|\bis|\bmakes?|\bin all|\bwould be)\s*$", re.IGNORECASE
)
_HOW_MANY = {"one": 1, "two": 2, "three": 3, "four": 4, "five": 5, "six": 6, "eight": 8, "ten": 10, "twelve": 12}
_TABLETS = re.compile(
    rf"\b(?P<number>[1-9][0-9]?|{'|'.join(_HOW_MANY)}) (?:(?P<before>[0-9.,]+ ?(?:mg|g|micrograms?)) )?"
    r"(?:[a-z-]+ ){0,2}?(?:tablets?|capsules?)\b"
    r"(?: (?:of |at |containing )?(?:[a-z-]+ )?(?P<after>[0-9.,]+ ?(?:mg|g|micrograms?))\b)?",
    re.IGNORECASE,
)
_WARNED = re.compile(
    r"\b(?:never|not|toxic|poison\w*|overdose|too much|before|beyond|above|over|fatal|seiz\w+|instead of)\b",
    re.IGNORECASE,
)
_HINT = "Correct the one that is wrong."


class Tablets(NamedTuple):
    """So many tablets of a stated strength: where their words stand, the words, and what they make together."""

    start: int
    end: int
    words: str
    made: Amount


def tablets_in(texts: Corpus, start: int, end: int) -> Iterator[Tablets]:
    """Yield the tablets that stand between ``start`` and ``end``; all of one text have the one strength it states."""
    said: set[Amount | None] = set()
    for match in _TABLETS.finditer(texts.whole, start, end):
        if not said and _strength(match) is None:
            begins, ends = texts.piece(start).start, texts.end(start)
            said = {_strength(other) for other in _TABLETS.finditer(texts.whole, begins, ends)}
        usual = next(iter(said - {None})) if len(said - {None}) == 1 else None
        strength = _strength(match) or usual
        if strength is not None:
            number = Fraction(_HOW_MANY.get(match["number"].casefold()) or int(match["number"]))
            yield Tablets(
                match.start(), match.end(), f"{match['number'].lower()} of {strength}", strength.times(number)
            )


def together(texts: Corpus, mention: DoseMention, start: int, end: int) -> tuple[Amount, str]:
    """Return what is taken at once, and its words: two tablets of 500 mg are 1 g."""
    for tablets in tablets_in(texts, start, end):
        if tablets.start <= mention.written.start < tablets.end:
            return tablets.made, f"{tablets.words}, together {tablets.made}"
    return mention.amount, ""


def _strength(tablets: re.Match[str]) -> Amount | None:
    return amount_of(tablets["before"] or tablets["after"] or "")


def sums(library: Library) -> Iterator[Hit]:
    """Yield each sum in running text that does not come out."""
    texts = corpus(library)
    for of_day in _days(library):
        least, most = of_day.made
        if _follows(texts, of_day.stated) and not least.value <= _milligrams(of_day.stated) <= most.value:
            yield _wrong(texts, of_day.stated, f"{of_day.at_once} {of_day.often.words}", least)
    for start, end, _ in dosed_sentences(library):
        for tablets in tablets_in(texts, start, end):
            after = (one for one in numbers_between(library, tablets.end, end) if is_of_drug(one.first))
            stated = next(after, None)
            at_once = stated is not None and not A_DAY.match(texts.whole, stated.end)
            if stated is not None and at_once and _follows(texts, stated) and _milligrams(stated) != tablets.made.value:
                yield _wrong(texts, stated, tablets.words, tablets.made)
    yield from _by_weight(library)
    yield from _by_volume(library)


def _wrong(texts: Corpus, stated: WrittenNumber, of: str, right: Amount) -> Hit:
    shown = texts.whole[stated.start : stated.end]
    return Hit(texts.place(stated.start), f"{quoted(shown)} does not follow from {of}: that is {right}", _HINT)


def _by_volume(library: Library) -> Iterator[Hit]:
    """Compare a mass with the volume that is said to hold it, at the strength said here, else that of the dose."""
    texts = corpus(library)
    at_page = {id(given.page): given for given in reversed(every_dose(library)) if given.numbers.strength}
    said_here = {texts.sentence_span(written.start): strength for written, strength in strengths(library)}
    for mention in mentions(library):
        start, end = texts.sentence_span(mention.written.start)
        given = at_page.get(id(texts.piece(start).page))
        own = given.numbers.strength if given is not None and mention.drug.casefold() in given.names else None
        strength = said_here.get((start, end)) or own
        around = numbers_between(library, start, end)
        place = around.index(mention.written) if mention.written in around and not mention.per_kg else -1
        beside = around[place - 1 : place] + around[place + 1 : place + 2] if place > 0 else around[1:2]
        for volume in beside if strength is not None and place >= 0 else ():
            second = max(volume, mention.written)
            if volume.unit in ("mL", "ml") and strength is not None and volume.value and _follows(texts, second):
                held = in_volume(Amount(volume.value, VOLUME, "mL"), strength)
                if held is not None and held.kind == mention.amount.kind and held.value != mention.amount.value:
                    of = f"{_shown(texts, volume)} of {strength}"
                    message = f"{quoted(_shown(texts, mention.written))} is not what {of} holds: that is {held}"
                    yield Hit(texts.place(second.start), message, _HINT)


def _by_weight(library: Library) -> Iterator[Hit]:
    texts = corpus(library)
    for per_kg in quantities(library):
        if not is_of_drug(per_kg.first) or not (
            per_kg.per == ("kg",) or (not per_kg.per and EACH_KG.match(texts.whole, per_kg.end))
        ):
            continue
        start, end = texts.sentence_span(per_kg.start)
        around = numbers_between(library, start, end)
        weights = [one for one in around if one.unit == "kg" and one.value]
        stated = next((one for one in around if one.start > per_kg.end and is_of_drug(one.unit)), None)
        most = amount_of(f"{per_kg.number} {per_kg.first}")
        if most is not None and len(weights) == 1 and stated is not None and _follows(texts, stated):
            made = most.times(weights[0].value or Fraction(0))
            if made.value != _milligrams(stated):
                yield _wrong(texts, stated, f"{per_kg.number} {per_kg.unit} at {weights[0].number} kg", made)


def _milligrams(written: WrittenNumber) -> Fraction:
    return (written.value or Fraction(0)) * MASSES.get(written.first, Fraction(1))


def _follows(texts: Corpus, stated: WrittenNumber) -> bool:
    """Tell whether the words just before an amount say that it is what the others make."""
    return _LINK.search(texts.whole, max(0, stated.start - 20), stated.start) is not None


class _OfDay(NamedTuple):
    mention: DoseMention
    at_once: Amount
    often: HowOften
    stated: WrittenNumber

    @property
    def made(self) -> tuple[Amount, Amount]:
        """The least and the most that is given in a day."""
        return self.at_once.times(24 / self.often.longest), self.at_once.times(24 / self.often.hours)


@once_per_library
def _days(library: Library) -> tuple[_OfDay, ...]:
    """Return each dose with how often it is given and an amount of a day after it, all in one sentence."""
    texts, found = corpus(library), []
    for start, end, amounts in dosed_sentences(library):
        often = next(how_often(texts.whole, start, end), None)
        given = next((one for one in amounts if not one.per_kg), None)
        if often is not None and given is not None:
            after = numbers_between(library, given.written.end, end)
            of_day = (one for one in after if is_of_drug(one.unit) and A_DAY.match(texts.whole, one.end))
            stated = next(of_day, None)
            if stated is not None:
                found.append(_OfDay(given, together(texts, given, start, end)[0], often, stated))
    return tuple(found)


@finds("dose-over-stated-limit", piecewise=True)
def over_stated_limit(library: Library) -> Iterator[Hit]:
    """Yield each dose beyond the limit that its own text or its own ``cap`` states."""
    texts = corpus(library)
    for of_day in _days(library):
        limit, least = of_day.stated, of_day.made[0]
        if is_limit(texts, limit) and least.value > _milligrams(limit):
            shown, most = _shown(texts, of_day.mention.written), _shown(texts, limit)
            message = f"{quoted(shown)} {of_day.often.words} makes {least} a day, and the limit is {most}"
            hint = "Lower the dose, lengthen the interval, or correct the limit."
            yield Hit(texts.place(of_day.mention.written.start), message, hint)
    by_page: dict[str, list[Given]] = defaultdict(list)
    by_home: dict[str, list[Given]] = defaultdict(list)
    for given in every_dose(library):
        by_page[given.page.file].append(given)
        by_home[given.home.id if given.home else ""].append(given)
    for mention in mentions(library):
        for given in by_page.get(texts.piece(mention.written.start).page.file, ()):
            if mention.drug.casefold() in given.names and _limits(texts, mention):
                yield from _beyond(texts, given, mention)
    yield from _over_caps(library, by_home)


def _shown(texts: Corpus, written: WrittenNumber) -> str:
    return texts.whole[written.start : written.end]


def _limits(texts: Corpus, mention: DoseMention) -> bool:
    """Tell whether it is the most for any patient; with a body weight beside it, it is the most at that weight."""
    start, end = texts.sentence_span(mention.written.start)
    limits = is_limit(texts, mention.written) or " allows " in texts.whole[start : mention.written.start]
    return limits and not _AT_WEIGHT.search(texts.whole, start, end)


_AT_WEIGHT = re.compile(r"[0-9] ?kg\b")


def _beyond(texts: Corpus, given: Given, limit: DoseMention) -> Iterator[Hit]:
    """Compare a dose with a limit that its own page states in words."""
    dose, own = given.dose, given.numbers
    every = hours_of(str(dose.every)) if dose.every else None
    if limit.per_kg:
        known = [(own.per_kg, dose.per_weight, "")]
    elif A_DAY.match(texts.whole, limit.written.end):
        known = [(own.amount.times(24 / every), dose.amount, f" every {dose.every}")] if own.amount and every else []
    else:
        known = [(own.amount, dose.amount, ""), (own.cap, dose.cap, "")]
    for amount, written, often in known:
        drug = None if amount is None else in_volume(amount, own.strength) or amount
        if (
            drug is not None
            and written is not None
            and drug.kind == limit.amount.kind
            and drug.value > limit.amount.value
        ):
            most = _shown(texts, limit.written)
            makes = f" makes {drug} a day," if often else " is"
            message = f"{quoted(written)} of {dose.drug}{often}{makes} more than the limit stated on this page, {most}"
            also = (SecondPlace(texts.place(limit.written.start), "the limit"),)
            yield Hit(written.at, message, "Lower the dose, or correct the limit from the source that is cited.", also)


def _over_caps(library: Library, by_home: Mapping[str, list[Given]]) -> Iterator[Hit]:
    """What the text orders stays under the cap that the same procedure states for the drug."""
    texts = corpus(library)
    for written, drug, amount in _ordered(library) if by_home else ():
        home = texts.piece(written.start).home
        same = (one for one in by_home.get(home.id if home else "", ()) if drug.casefold() in one.names)
        caps = [(one.numbers.cap, one.dose.cap) for one in same if one.numbers.cap and one.dose.cap]
        if caps and all(cap.kind == amount.kind and cap.value < amount.value for cap, _ in caps):
            held = f" ({amount})" if written.first in VOLUMES else ""
            message = f"{quoted(_shown(texts, written))} of {drug}{held} is more than its cap, {caps[0][0]}"
            hint = "Lower the amount, or correct the cap from its source."
            yield Hit(texts.place(written.start), message, hint, (SecondPlace(caps[0][1].at, "the cap"),))


def _ordered(library: Library) -> Iterator[tuple[WrittenNumber, str, Amount]]:
    """Yield each amount that running text orders; a volume of a stated strength is as much drug as it holds."""
    texts = corpus(library)
    at_once = [(one.written, one.drug, one.amount) for one in mentions(library) if not one.per_kg]
    for written, drug, amount in (*at_once, *((one.volume, one.drug, one.held) for one in volumes(library))):
        start, _ = texts.sentence_span(written.start)
        warned = _WARNED.search(texts.whole, start, written.start) or is_limit(texts, written)
        if not warned and not A_DAY.match(texts.whole, written.end):
            yield written, drug, amount


class VolumeMention(NamedTuple):
    """A volume of a drug of a strength stated beside it in running text, and how much of the drug it holds."""

    volume: WrittenNumber
    strength: WrittenNumber
    drug: str
    held: Amount


@once_per_library
def volumes(library: Library) -> tuple[VolumeMention, ...]:
    """Return each volume of a drug whose strength is given beside it."""
    texts, found = corpus(library), []
    for written, strength in strengths(library):
        start, _ = texts.sentence_span(written.start)
        before = numbers_between(library, max(start, written.start - 50), written.start)
        volume = next((one for one in reversed(before) if one.unit in ("mL", "ml")), None)
        size = exact(volume.number) if volume is not None else None
        drug = drug_of(library, written) if size is not None else ""
        held = in_volume(Amount(size, VOLUME, "mL"), strength) if size is not None else None
        if volume is not None and drug and held is not None:
            found.append(VolumeMention(volume, written, drug, held))
    return tuple(found)


@once_per_library
def strengths(library: Library) -> tuple[tuple[WrittenNumber, Strength], ...]:
    """Return each strength in running text, in per cent or so much in a millilitre."""
    texts = corpus(library)
    return tuple(
        (written, strength)
        for written in quantities(library)
        if (written.unit == "%" or (written.per in (("mL",), ("ml",)) and is_of_drug(written.first)))
        and (strength := strength_of(f"{written.number} {written.unit}")) is not None
        and not texts.piece(written.start).role.startswith("dose")
    )

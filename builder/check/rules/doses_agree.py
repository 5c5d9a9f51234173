"""The numbers of one drug on its page fit each other: limit and cap, strength and volume, bands, route, interval."""

import re
from collections.abc import Iterator
from fractions import Fraction

from builder.check.hit import Hit
from builder.check.rules.doses import Given, every_dose
from builder.facts.dose_amounts import VOLUME, Amount, Strength, amount_of, strength_of
from builder.facts.dose_mentions import DoseMention, drug_of, mentions, numbers_between
from builder.facts.dose_table import in_volume
from builder.facts.quantities import VOLUMES, exact, quantities
from builder.facts.texts import Corpus, TextPiece, corpus
from builder.facts.times import hours_of
from builder.findings.finding import SecondPlace
from builder.findings.message_words import quoted
from builder.grouping import grouped
from builder.model.library import Library
from builder.place import Place, Text

A_DAY = re.compile(r"\)?(?: of [a-z-]+)?\s*(?:in 24 h|(?:a|per|each|in a|in one|in any) day|daily)", re.IGNORECASE)
"""What follows an amount of a day."""


def not_as_stated(at: Place, shown: str, says: str, stated: Text) -> Hit:
    """Return the finding of ``shown`` in a text, where the dose says another thing at ``stated``."""
    message = f"{quoted(shown)} in the text, but the dose says {says}"
    hint = "Make the text and the dose say the same, or say for whom the other one is."
    return Hit(at, message, hint, (SecondPlace(stated.at, "the dose"),))


def numbers_apart(library: Library, dosed: tuple[TextPiece, ...]) -> Iterator[Hit]:
    """Yield each number in the ``dosed`` texts that does not fit the others of its drug."""
    texts = corpus(library)
    told = grouped((id(texts.piece(one.written.start).page), one) for one in mentions(library) if not one.per_kg)
    given_on = grouped((id(given.page), given) for given in every_dose(library))
    for given in every_dose(library):
        same = [one for one in told.get(id(given.page), ()) if one.drug.casefold() in given.names]
        yield from _outside_bands(library, given, same)
    for piece in dosed:
        if not piece.role.startswith("dose"):
            yield from _in_other_strengths(library, piece, given_on[id(piece.page)])
            yield from _other_volume(texts, piece, given_on[id(piece.page)])
            yield from _too_many_tablets(texts, piece, given_on[id(piece.page)])


_WEIGHTS = re.compile(r"\b(?:from )?(?P<low>[0-9]+)(?: kg)? (?:to|and|up to|-|–) (?P<high>[0-9]+) kg\b")
_NOT_OF_ONE_TIME = re.compile(
    r"\b(?:more than|at most|total|in all|altogether|never|not|instead|half)\b", re.IGNORECASE
)


def _outside_bands(library: Library, given: Given, told: list[DoseMention]) -> Iterator[Hit]:
    """Yield an amount, or a range of weights, that is in no band of the dose."""
    bands, texts = given.dose.bands, corpus(library)
    amounts = {amount.value for band in bands if (amount := amount_of(band.amount)) is not None}
    for one in told if bands else ():
        start, end = texts.sentence_span(one.written.start)
        said, shown = texts.whole[start:end], texts.whole[one.written.start : one.written.end]
        if _NOT_OF_ONE_TIME.search(said) or A_DAY.match(texts.whole, one.written.end):
            continue
        of_kind = (amount_of(bands[0].amount) or one.amount).kind == one.amount.kind
        if of_kind and one.amount.value not in amounts:
            yield not_as_stated(texts.place(one.written.start), shown, str(bands[0].amount), bands[0].amount)
            return
        for match in _WEIGHTS.finditer(said):
            low, high = Fraction(match["low"]), Fraction(match["high"])
            ends = {band.start for band in bands}, {band.end for band in bands}
            if low not in ends[0] or (high not in ends[1] and high not in ends[0]):
                says = f"from {bands[0].start} to {bands[0].end} kg first"
                yield not_as_stated(texts.place(start + match.start()), match.group(), says, bands[0].amount)
                return


_MASS = r"(?P<mass>[0-9.,]+ ?(?:mg|g|micrograms?|units))"
_HELD = (
    re.compile(rf"{_MASS} in (?:each|every|one|a|(?P<volume>[0-9.]+)) ?mL\b"),
    re.compile(rf"\b(?:each|every|one|1) mL (?:holds|contains|has|is|gives) {_MASS}"),
)
_THINNED = re.compile(r"\b(?:dilut\w*|ma[dk]e\w* up|thinn\w*|add(?:ed)?|top(?:ped)? up)\b", re.IGNORECASE)
_ANOTHER = re.compile(r"\b(?:not|never|no|other|another|instead|also|or)\b", re.IGNORECASE)
_IN_SO_MUCH = re.compile(
    r"\b(?:dissolved|diluted|made up|mixed|drawn up) (?:in|to|with) (?P<volume>[0-9.]+) ?mL\b", re.IGNORECASE
)


def _in_other_strengths(library: Library, piece: TextPiece, here: list[Given]) -> Iterator[Hit]:
    """Yield a strength that is told in words and not the one of the dose, or that the volume told beside it belies."""
    texts = corpus(library)
    whole, end = texts.whole, texts.end(piece.start)
    for match in (match for way in _HELD for match in way.finditer(whole, piece.start, end)):
        volume = match["volume"] if "volume" in match.re.groupindex else None
        strength = strength_of(f"{match['mass']} in {volume or 1} mL")
        number = next(iter(numbers_between(library, match.start("mass"), match.end("mass"))), None)
        drug = drug_of(library, number) if number is not None else ""
        given = next((one for one in here if drug.casefold() in one.names), None)
        if strength is None or given is None:
            continue
        start, stop = texts.sentence_span(match.start())
        own, paragraph = given.numbers.strength, whole[max(piece.start, whole.rfind("\n\n", 0, start)) : stop]
        dissolved = _IN_SO_MUCH.search(whole, start, stop)
        amount, size = given.numbers.amount, exact(dissolved["volume"]) if dissolved is not None else None
        held = in_volume(Amount(size, VOLUME, "mL"), strength) if size else None
        if dissolved is not None and amount is not None and held is not None and held.kind == amount.kind:
            if held.value != amount.value and given.dose.amount is not None:
                shown = f"{dissolved.group()} of {strength}, which is {held},"
                yield not_as_stated(texts.place(dissolved.start()), shown, given.dose.amount, given.dose.amount)
        elif (
            _differ(own, strength)
            and given.dose.strength is not None
            and not _THINNED.search(paragraph)
            and not _ANOTHER.search(whole, start, stop)
        ):
            yield not_as_stated(texts.place(match.start()), match.group(), given.dose.strength, given.dose.strength)


def _differ(own: Strength | None, told: Strength) -> bool:
    return own is not None and own.kind == told.kind and own.per_ml != told.per_ml


_GIVES = re.compile(r"\b(?:[Gg]ive|[Tt]ake|[Ss]wallow|[Dd]rink) (?P<number>[0-9.]+) ?(?P<unit>mL|ml|mg|g|micrograms)\b")


def _other_volume(texts: Corpus, piece: TextPiece, own: list[Given]) -> Iterator[Hit]:
    """Yield an amount that is given by volume and told as another volume, or as a mass and never as a volume."""
    amount = own[0].numbers.amount if len(own) == 1 else None
    told = _GIVES.search(texts.whole, piece.start, texts.end(piece.start))
    size = amount_of(f"{told['number']} {told['unit']}") if told is not None else None
    if told is None or amount is None or size is None or amount.kind != VOLUME or own[0].dose.amount is None:
        return
    by_mass = size.kind != VOLUME and own[0].numbers.strength is None and "mL" not in str(piece.text)
    if by_mass or (size.kind == VOLUME and size.value != amount.value):
        yield not_as_stated(texts.place(told.start()), told.group(), own[0].dose.amount, own[0].dose.amount)


_NUMBERS = (
    "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten", "eleven", "twelve", "thirteen", "fourteen",
    "fifteen", "sixteen",
)  # fmt: skip
_MOST_TABLETS = re.compile(
    rf"\b(?:at most|more than) (?P<number>[0-9]+|{'|'.join(_NUMBERS)}) (?:tablets? |capsules? |of them )?"
    r"(?:in a|a|per) day\b"
)
_TABLET = re.compile(r"\b(?P<number>one|two|1|2) (?:tablets?|capsules?) of [a-z-]+ \((?P<held>[0-9.]+ ?m?g)\b")


def _too_many_tablets(texts: Corpus, piece: TextPiece, own: list[Given]) -> Iterator[Hit]:
    """Yield a number of tablets for a day that is more than the dose and its interval make."""
    end = texts.end(piece.start)
    most, each = (pattern.search(texts.whole, piece.start, end) for pattern in (_MOST_TABLETS, _TABLET))
    amount, every = own[0].numbers.amount, hours_of(str(own[0].dose.every or ""))
    held = amount_of(each["held"]) if each is not None else None
    if most is None or each is None or held is None or amount is None or not every or len(own) > 1:
        return
    number = int(most["number"]) if most["number"].isdigit() else _NUMBERS.index(most["number"]) + 2
    at_once = 2 if each["number"] in ("two", "2") else 1
    if held.kind == amount.kind and held.value * number > amount.value * 24 / every * at_once and own[0].dose.every:
        says = f"{own[0].dose.amount} every {own[0].dose.every}"
        yield not_as_stated(texts.place(most.start()), most.group(), says, own[0].dose.every)


_MOST_LITRES = 20
"""Nobody fills, washes or gives so much at once; gas is told by the minute."""


def volumes_beyond_belief(library: Library) -> Iterator[tuple[Place, str]]:
    """Yield each volume in running text that nobody can have meant, with its words."""
    texts = corpus(library)
    for written in quantities(library):
        volume = VOLUMES.get(written.unit)
        if volume is not None and written.value is not None and written.value * volume >= _MOST_LITRES * 1000:
            yield texts.place(written.start), texts.whole[written.start : written.end]

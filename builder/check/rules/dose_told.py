"""A dose is told alike wherever its page tells it: as numbers, to staff in prose, and to the patient."""

import re
from collections import defaultdict
from collections.abc import Iterator
from fractions import Fraction

from builder.check.hit import Hit, finds
from builder.check.rules.dose_sums import strengths, tablets_in, together, volumes
from builder.check.rules.doses import Given, every_dose, range_of
from builder.check.rules.doses_agree import A_DAY, not_as_stated, numbers_apart
from builder.facts.dose_amounts import VOLUME, Amount, amount_of, strength_of
from builder.facts.dose_mentions import (
    EACH_KG,
    DoseMention,
    by_the_clock,
    drug_of,
    how_often,
    is_limit,
    mentions,
    numbers_between,
)
from builder.facts.dose_table import ceiling, in_volume
from builder.facts.names_in_prose import names_in_prose
from builder.facts.quantities import VOLUMES, WrittenNumber, exact, plain_number
from builder.facts.remembered import once_per_library
from builder.facts.texts import Corpus, TextPiece, corpus
from builder.facts.times import hours_of
from builder.facts.walk import pages
from builder.findings.finding import SecondPlace
from builder.findings.message_words import quoted
from builder.model.action import Verb
from builder.model.library import Library
from builder.model.pages import Item, ItemKind, Step, Structure, StructureKind
from builder.place import Place, Text

_ANOTHER_PATIENT = re.compile(
    r"\b(?:below|under|above|over|from|between|frail|old|elderly|child\w*|half|reduce\w*|lower|less|instead|kidneys?|liver|"
    r"renal|light\w*|smaller|weigh\w*|pregnan\w*)\b",
    re.IGNORECASE,
)
_ANOTHER_MOMENT = re.compile(
    r"\b(?:or|and|then|after|more|total|first|if|when|until|stop|never|not|in all|a day|24 hours|each|per|ampoule|vial|"
    r"bag|stock|contains?|bottle)\b",
    re.IGNORECASE,
)
"""Words that give a reason for another amount in the same sentence: another moment, a sum; or another patient."""


@once_per_library
def _doses_by_page(library: Library) -> dict[str, list[Given]]:
    by_page: dict[str, list[Given]] = defaultdict(list)
    for given in every_dose(library):
        by_page[given.page.file].append(given)
    return by_page


@once_per_library
def _pieces_with_dose(library: Library) -> tuple[TextPiece, ...]:
    """Return the texts of the pages that state a dose."""
    files = _doses_by_page(library)
    dosed = {id(page) for _, page in pages(library) if page.file in files}
    return tuple(piece for piece in corpus(library).pieces if id(piece.page) in dosed)


@finds("dose-told-otherwise", piecewise=True)
def told_otherwise(library: Library) -> Iterator[Hit]:
    """Yield each amount, strength, ceiling or interval in the text of a page that is not that of its own dose."""
    by_page = _doses_by_page(library)
    if by_page:
        yield from _amounts(library, by_page)
        yield from _intervals(library)
        yield from _volumes(library, by_page)
        yield from _strengths(library, by_page)
        yield from _volumes_per_kg(library, by_page)
        yield from _of_a_day(library, by_page)
        yield from _at_weights(library, by_page)
        yield from _routes(library, by_page)
        yield from _other_drugs(library, by_page)
        yield from _into_no_vein(library)
        yield from numbers_apart(library, _pieces_with_dose(library))


_INTO_VEIN = re.compile(r"\b(?:veins?|intravenous(?:ly)?|IV)\b", re.IGNORECASE)


def _into_no_vein(library: Library) -> Iterator[Hit]:
    """Yield each route into a vein of a drug that the action of the same step injects into something else."""
    names = names_in_prose(library)
    for procedure in library.procedures:
        for step in procedure.steps.values():
            for dose in step.dose:
                into = [one.inside for one in step.actions if one.verb is Verb.INJECT and dose.drug in one.objects]
                if dose.route is None or not into or into[0] is None or not _INTO_VEIN.search(dose.route):
                    continue
                place = names.find(into[0])
                if isinstance(place, Structure) and place.kind is not StructureKind.VESSEL:
                    message = f"{quoted(dose.route)} is the route, but the action injects into the {into[0]}"
                    also = (SecondPlace(into[0].at, "the action"),)
                    yield Hit(dose.route.at, message, "Make the route and the action say the same.", also)


def _of(library: Library, by_page: dict[str, list[Given]], start: int, drug: str) -> Given | None:
    """Return the one dose of the drug on the page of the text at ``start``; with several, any may be meant."""
    same = [one for one in by_page.get(corpus(library).piece(start).page.file, ()) if drug.casefold() in one.names]
    return same[0] if len(same) == 1 else None


def _differs(library: Library, told: WrittenNumber, stated: Text, words: str = "") -> Hit:
    texts = corpus(library)
    shown = words or texts.whole[told.start : told.end]
    return not_as_stated(texts.place(told.start), shown, stated, stated)


def _amounts(library: Library, by_page: dict[str, list[Given]]) -> Iterator[Hit]:
    texts = corpus(library)
    for mention in mentions(library):
        given = _of(library, by_page, mention.written.start, mention.drug)
        if given is None or (is_limit(texts, mention.written) and not _exceeds_cap(library, given, mention)):
            continue
        start, end = texts.sentence_span(mention.written.start)
        if mention.per_kg:
            own, stated = given.numbers.per_kg, given.dose.per_weight
            if own is not None and stated is not None and own._replace(unit="") != mention.amount._replace(unit=""):
                yield _differs(library, mention.written, stated)
        elif _exceeds_cap(library, given, mention) and given.dose.cap is not None:
            yield _differs(library, mention.written, given.dose.cap)
        elif given.dose.amount is not None and not _is_for_another(library, given, mention, start, end):
            amount, words = together(texts, mention, start, end)
            if _outside(given, amount):
                yield _differs(library, mention.written, given.dose.amount, words)


def _exceeds_cap(library: Library, given: Given, mention: DoseMention) -> bool:
    """Tell whether the text states a limit, for any weight and at once, above the ``cap`` of the dose."""
    texts, cap = corpus(library), given.numbers.cap
    if cap is None or mention.per_kg or not is_limit(texts, mention.written):
        return False
    of_day = A_DAY.match(texts.whole, mention.written.end)
    return cap.kind == mention.amount.kind and mention.amount.value > cap.value and not of_day


def _is_for_another(library: Library, given: Given, mention: DoseMention, start: int, end: int) -> bool:
    """Tell whether the sentence says for whom or when another amount is; one at the dose's own times is the dose."""
    texts = corpus(library)
    if _ANOTHER_PATIENT.search(texts.whole, start, end) or A_DAY.match(texts.whole, mention.written.end):
        return True
    every = hours_of(str(given.dose.every)) if given.dose.every else None
    regular = every is not None and any(often.hours == every for often in how_often(texts.whole, start, end))
    amounts = sum(one.written.start in range(start, end) and one.drug == mention.drug for one in mentions(library))
    return not (regular and amounts == 1) and _ANOTHER_MOMENT.search(texts.whole, start, end) is not None


def _outside(given: Given, amount: Amount) -> bool:
    """Tell whether ``amount`` is none of those that the dose allows for one time."""
    assert given.dose.amount is not None
    span = range_of(given.dose.amount)
    if span is None:
        return False
    low, high = (in_volume(one, given.numbers.strength) or one for one in span)
    return low.kind == high.kind == amount.kind and not low.value <= amount.value <= high.value


def _intervals(library: Library) -> Iterator[Hit]:
    for at, role, words, every in _other_intervals(library):
        if role != "patient_text":
            yield not_as_stated(at, words, f"every {every}", every)


@finds("patient-told-other-dose", piecewise=True)
def patient_told_other_dose(library: Library) -> Iterator[Hit]:
    """Yield each patient's text that says how often a drug is taken, otherwise than its dose."""
    for at, role, words, every in _other_intervals(library):
        if role == "patient_text":
            message = f"{quoted(words)} is what the patient is told, but the dose is every {every}"
            yield Hit(at, message, "Make the patient's text and `every:` say the same.")


@once_per_library
def _other_intervals(library: Library) -> tuple[tuple[Place, str, str, Text], ...]:
    """Return place, role, words, and the interval of the dose, where a text tells of another interval."""
    return tuple(_of_intervals(library))


def _of_intervals(library: Library) -> Iterator[tuple[Place, str, str, Text]]:
    texts, by_page = corpus(library), _doses_by_page(library)
    for piece in _pieces_with_dose(library):
        if piece.role.startswith("dose"):
            continue
        given, end = by_page[piece.page.file], texts.end(piece.start)
        for often in how_often(texts.whole, piece.start, end):
            start, stop = texts.sentence_span(often.start)
            every, hours = _every(given, texts.whole[start:stop].casefold())
            ruled = (other.hours <= hours <= other.longest for other in how_often(texts.whole, start, stop))
            if every is not None and not any(ruled):
                yield texts.place(often.start), piece.role, often.words, every
        text = texts.whole[piece.start : end]
        clock = by_the_clock(text)
        every, hours = _every(given, text.casefold()) if clock is not None else (None, Fraction(0))
        if clock is not None and every is not None and clock[0] < hours:
            apart = f"{clock[1]} leaves {plain_number(clock[0])} h between two doses"
            yield piece.place(piece.start), piece.role, apart, every


_TAKEN = re.compile(
    r"\b(?:tablets?|capsules?|inject\w*|doses?|repeat\w*|puffs?|drops|giv\w+|tak\w+|have|prescrib\w+|chart|swallow)\b"
)


def _every(given: list[Given], words: str) -> tuple[Text | None, Fraction]:
    """Return the interval of the dose that ``words`` are about: it is named, or the only one and something is taken."""
    named = [one for one in given if any(name in words for name in one.names)]
    if not named and len(given) == 1 and _TAKEN.search(words):
        named = given
    every = named[0].dose.every if len(named) == 1 else None
    hours = hours_of(str(every)) if every is not None else None
    return (None, Fraction(0)) if hours is None else (every, hours)


def _volumes(library: Library, by_page: dict[str, list[Given]]) -> Iterator[Hit]:
    """A part of a volume may go in here and the rest there, so only more than the whole is another dose."""
    texts = corpus(library)
    for told in volumes(library):
        given = _of(library, by_page, told.volume.start, told.drug)
        own, size = (given.numbers.amount, exact(told.volume.number)) if given is not None else (None, None)
        if given is None or given.dose.amount is None or own is None or size is None:
            continue
        if own.kind == VOLUME:
            if size > own.value and not is_limit(texts, told.volume):
                yield _differs(library, told.volume, given.dose.amount)
        elif told.held.kind == own.kind and told.held.value < own.value and _is_whole(library, told.volume, given):
            shown = f"{texts.whole[told.volume.start : told.strength.end]}, which is {told.held}"
            yield _differs(library, told.volume, given.dose.amount, shown)


def _is_whole(library: Library, volume: WrittenNumber, given: Given) -> bool:
    """Tell whether ``volume`` is the whole dose: as it is supplied, or given in one place, as into a vein."""
    start, end = corpus(library).sentence_span(volume.start)
    sentence = corpus(library).whole[start:end]
    at_once = bool(given.dose.route) and not _AT_ONCE.isdisjoint(_routes_in(given.dose.route or ""))
    is_told = _SUPPLIED.search(sentence) or (at_once and _GIVEN.search(sentence))
    return is_told is not None and bool(is_told) and not _ONE_OF_SEVERAL.search(sentence)


_AT_ONCE = frozenset({"by mouth", "into a vein", "into a muscle", "into an artery"})
_GIVEN = re.compile(r"\b(?:draw up|give|inject|push|take|run in)\b", re.IGNORECASE)


_SUPPLIED = re.compile(
    r"\b(?:comes?|supplied|made up|runs?|given|diluted|drawn up)\b.{0,20}\b(?:as|in|to)\b", re.IGNORECASE
)
_ONE_OF_SEVERAL = re.compile(r"\b(?:ampoules?|vials?|bags?|each|syringes?|bottles?|boluse?s?)\b", re.IGNORECASE)


def _strengths(library: Library, by_page: dict[str, list[Given]]) -> Iterator[Hit]:
    texts = corpus(library)
    for written, told in strengths(library):
        given = _of(library, by_page, written.start, drug_of(library, written))
        own = given.numbers.strength if given is not None else None
        if given is None or given.dose.strength is None or own is None or own.kind != told.kind:
            continue
        if own.per_ml != told.per_ml and not _another(texts, written):
            yield _differs(library, written, given.dose.strength)


def _volumes_per_kg(library: Library, by_page: dict[str, list[Given]]) -> Iterator[Hit]:
    """Compare millilitres for each kilogram in the text with the volume of what the dose gives for each."""
    texts = corpus(library)
    for piece in _pieces_with_dose(library):
        for written in numbers_between(library, piece.start, texts.end(piece.start)):
            each = written.per == ("kg",) or EACH_KG.match(texts.whole, written.end) is not None
            if written.first not in VOLUMES or not each or piece.role.startswith("dose"):
                continue
            given = _of(library, by_page, written.start, drug_of(library, written))
            told = amount_of(f"{written.number} {written.first}")
            own = given.numbers.per_kg if given is not None else None
            if given is not None and given.dose.per_weight is not None and own is not None and told is not None:
                held = in_volume(told, given.numbers.strength)
                if held is not None and held.kind == own.kind and held.value != own.value:
                    yield _differs(library, written, given.dose.per_weight)


def _another(texts: Corpus, written: WrittenNumber) -> bool:
    """Tell whether the words around a strength, between two commas, say that another one is meant."""
    start, end = texts.sentence_span(written.start)
    start = max(start, texts.whole.rfind(",", start, written.start))
    comma = texts.whole.find(",", written.end, end)
    return bool(_OTHER_STRENGTH.search(texts.whole, start, comma if comma >= 0 else end))


_OTHER_STRENGTH = re.compile(
    r"\b(?:or|below|under|above|over|child\w*|half|dilut\w+|if|instead|never|not|ampoule|vial|stock|contains?|bottle|stronger|"
    r"weaker|other|another|also)\b",
    re.IGNORECASE,
)


def _of_a_day(library: Library, by_page: dict[str, list[Given]]) -> Iterator[Hit]:
    """Compare what the text allows in a day with what the dose makes in a day; less is beyond its limit elsewhere."""
    texts = corpus(library)
    told = [(one.written.start, one.written.end, one.drug, one.amount) for one in mentions(library) if not one.per_kg]
    for piece in _pieces_with_dose(library):
        for tablets in tablets_in(texts, piece.start, texts.end(piece.start)):
            if not any(tablets.start <= other[0] < tablets.end for other in told):
                told.append((tablets.start, tablets.end, "", tablets.made))
    for start, end, drug, amount in told:
        same = by_page.get(texts.piece(start).page.file, ())
        given = same[0] if len(same) == 1 and (not drug or drug.casefold() in same[0].names) else None
        every = hours_of(str(given.dose.every)) if given is not None and given.dose.every else None
        if given is None or not every or given.numbers.amount is None or given.dose.amount is None:
            continue
        made = given.numbers.amount.times(24 / every)
        if A_DAY.match(texts.whole, end) and made.kind == amount.kind and amount.value > made.value:
            shown = texts.whole[start:end] if drug else f"{texts.whole[start:end]}, which is {amount},"
            says = f"{given.dose.amount} every {given.dose.every}, {made} a day"
            yield not_as_stated(texts.place(start), f"{shown} a day", says, given.dose.amount)


def _at_weights(library: Library, by_page: dict[str, list[Given]]) -> Iterator[Hit]:
    """Compare an amount for one body weight with what the ceiling or the band of the dose gives at that weight."""
    texts = corpus(library)
    for mention in mentions(library):
        given = _of(library, by_page, mention.written.start, mention.drug)
        if given is None or mention.per_kg or not (given.dose.per_weight or given.dose.bands):
            continue
        start, end = texts.sentence_span(mention.written.start)
        weights = [one.value for one in numbers_between(library, start, end) if one.unit == "kg" and one.value]
        if len(weights) != 1 or _ANOTHER_PATIENT.search(texts.whole, start, end):
            continue
        most, words = _at_weight(given, weights[0])
        if most is None or words is None or most.kind != mention.amount.kind:
            continue
        is_exact = bool(given.dose.bands) or _GETS.search(texts.whole, start, end) is not None
        if mention.amount.value > most.value or (is_exact and mention.amount.value != most.value):
            yield not_as_stated(
                texts.place(mention.written.start),
                f"{texts.whole[mention.written.start : mention.written.end]} at {plain_number(weights[0])} kg",
                str(words) if given.dose.bands else f"{words}, which is {most}",
                words,
            )


_GETS = re.compile(r"\bgets?\b", re.IGNORECASE)


def _at_weight(given: Given, weight: Fraction) -> tuple[Amount | None, Text | None]:
    for band in given.dose.bands:
        if band.start <= weight <= band.end:
            return amount_of(band.amount), band.amount
    return (ceiling(given.numbers, weight), given.dose.per_weight) if given.dose.per_weight else (None, None)


_ROUTES = {
    "by mouth": r"by mouth|orally|swallow\w*|tablets?|capsules?",
    "into a vein": r"into (?:a|the) vein|by vein|intravenous(?:ly)?|IV|through the cannula",
    "under the skin": r"under the skin|subcutaneous(?:ly)?",
    "into a muscle": r"into (?:a|the) (?:\w+ )?muscle|intramuscular(?:ly)?",
    "into an artery": r"into (?:a|the) artery|intra-?arterial(?:ly)?",
}
_ROUTE = re.compile("|".join(rf"\b(?P<r{number}>{words})\b" for number, words in enumerate(_ROUTES.values())))


def _routes(library: Library, by_page: dict[str, list[Given]]) -> Iterator[Hit]:
    """Compare the way in which the text gives an amount with the route of the dose."""
    texts = corpus(library)
    for mention in mentions(library):
        given = _of(library, by_page, mention.written.start, mention.drug)
        own = _routes_in(given.dose.route) if given is not None and given.dose.route else set()
        start, end = texts.sentence_span(mention.written.start)
        if given is None or given.dose.route is None or not own:
            continue
        told = _routes_in(texts.whole[start:end])
        several = len({one.drug for one in mentions(library) if start <= one.written.start < end}) > 1
        if told and not told & own and not several and not _OTHER_ROUTE.search(texts.whole, start, end):
            yield not_as_stated(texts.place(mention.written.start), min(told), given.dose.route, given.dose.route)


_OTHER_ROUTE = re.compile(
    r"\b(?:or|if|instead|then|not|never|no longer|until|when|once|change\w*|switch\w*)\b", re.IGNORECASE
)


def _routes_in(words: str) -> set[str]:
    kinds = list(_ROUTES)
    return {kinds[int(match.lastgroup[1:])] for match in _ROUTE.finditer(words) if match.lastgroup}


def _says(text: str, name: str) -> bool:
    return name in text and re.search(rf"(?<![\w-]){re.escape(name)}(?![\w-])", text) is not None


def _is_its_number(given: Given, written: WrittenNumber) -> bool:
    """Tell whether ``written`` is the amount or the strength of the dose: what is said of it is said of the drug."""
    told, own = amount_of(f"{written.number} {written.first}"), given.numbers.amount
    is_amount = (
        not written.per and told is not None and own is not None and told._replace(unit="") == own._replace(unit="")
    )
    strength = strength_of(f"{written.number} {written.unit}") if written.per or written.unit == "%" else None
    return is_amount or (strength is not None and strength == given.numbers.strength)


def _drug_in(library: Library, sentence: str) -> str | None:
    """Return the one drug of any catalogue that ``sentence`` names in one word."""
    items = {word: library.items.find(word) for word in _DRUG_WORD.findall(sentence)}
    drugs = [word for word, item in items.items() if item is not None and item.kind is ItemKind.DRUG]
    return drugs[0] if len(drugs) == 1 else None


_DRUG_WORD = re.compile(r"[A-Za-z]{5,}(?:-[a-z]+)?")


def _other_drugs(library: Library, by_page: dict[str, list[Given]]) -> Iterator[Hit]:
    """Yield each dose of a drug that its step does not give, where the step gives another that has no dose."""
    names, texts = names_in_prose(library), corpus(library)
    for piece in _pieces_with_dose(library):
        here, end = by_page[piece.page.file], texts.end(piece.start)
        said = texts.whole[piece.start : end].casefold()
        if (
            len(here) == 1
            and not piece.role.startswith("dose")
            and not any(_says(said, name) for name in here[0].names)
        ):
            for written in numbers_between(library, piece.start, end):
                start, stop = texts.sentence_span(written.start)
                named = _drug_in(library, texts.whole[start:stop]) if _is_its_number(here[0], written) else None
                if named is not None and named.casefold() not in here[0].names:
                    yield not_as_stated(texts.place(written.start), named, here[0].dose.drug, here[0].dose.drug)
                    break
    for given in every_dose(library):
        if not isinstance(given.page, Step):
            continue
        injected = {name for action in given.page.actions if action.verb is Verb.INJECT for name in action.objects}
        entries = [(name, names.find(name)) for name in injected]
        drugs = [(name, entry) for name, entry in entries if isinstance(entry, Item) and entry.kind is ItemKind.DRUG]
        drug = names.find(given.dose.drug)
        dosed = [names.find(other.dose.drug) for other in by_page[given.page.file]]
        other = next((name for name, entry in drugs if entry not in dosed), None)
        if other is not None and drug not in [entry for _, entry in drugs]:
            message = f"{quoted(given.dose.drug)} is the drug of the dose, but what the step injects is {other}"
            also = (SecondPlace(other.at, "the action"),)
            yield Hit(given.dose.drug.at, message, "Write the dose of the drug that is given.", also)

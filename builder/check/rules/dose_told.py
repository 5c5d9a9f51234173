"""A dose is told alike wherever its page tells it: as numbers, to staff in prose, and to the patient."""

import re
from collections import defaultdict
from collections.abc import Iterator

from builder.check.hit import Hit, finds
from builder.check.rules.dose_sums import tablets_in, volumes
from builder.check.rules.doses import Given, every_dose, range_of
from builder.facts.dose_amounts import VOLUME, Amount, strength_of
from builder.facts.dose_mentions import DoseMention, drug_of, how_often, is_limit, mentions
from builder.facts.dose_table import in_volume
from builder.facts.quantities import WrittenNumber, exact, quantities
from builder.facts.texts import corpus
from builder.facts.times import hours_of
from builder.findings.finding import SecondPlace
from builder.findings.message_words import quoted
from builder.model.library import Library
from builder.place import Place, Text

_FOR_ANOTHER = re.compile(
    r"\b(?:or|and|below|under|above|over|from|between|frail|old|elderly|child\w*|half|reduce\w*|lower|less|then|after|more|"
    r"total|first|if|when|until|instead|stop|never|not|in all|a day|24 hours|each|per|ampoule|vial|bag|stock|contains?|"
    r"bottle)\b",
    re.IGNORECASE,
)
"""Words that give a reason for another amount in the same sentence: another patient, another moment, a sum."""


@finds("dose-told-otherwise")
def told_otherwise(library: Library) -> Iterator[Hit]:
    """Yield each amount, strength, ceiling or interval in the text of a page that is not that of its own dose."""
    by_page: dict[str, list[Given]] = defaultdict(list)
    for given in every_dose(library):
        by_page[given.page.file].append(given)
    if by_page:
        yield from _amounts(library, by_page)
        yield from _intervals(library, by_page)
        yield from _volumes(library, by_page)
        yield from _strengths(library, by_page)


def _of(library: Library, by_page: dict[str, list[Given]], start: int, drug: str) -> Given | None:
    """Return the one dose of the drug on the page of the text at ``start``; with several, any may be meant."""
    same = [one for one in by_page.get(corpus(library).piece(start).page.file, ()) if drug.casefold() in one.names]
    return same[0] if len(same) == 1 else None


def _differs(library: Library, told: WrittenNumber, stated: Text, words: str = "") -> Hit:
    texts = corpus(library)
    shown = words or texts.whole[told.start : told.end]
    return _other(texts.place(told.start), shown, stated, stated)


def _other(at: Place, shown: str, says: str, stated: Text) -> Hit:
    message = f"{quoted(shown)} in the text, but the dose says {says}"
    hint = "Make the text and the dose say the same, or say for whom the other one is."
    return Hit(at, message, hint, (SecondPlace(stated.at, "the dose"),))


def _amounts(library: Library, by_page: dict[str, list[Given]]) -> Iterator[Hit]:
    texts = corpus(library)
    for mention in mentions(library):
        given = _of(library, by_page, mention.written.start, mention.drug)
        if given is None or is_limit(texts, mention.written):
            continue
        start, end = texts.sentence_span(mention.written.start)
        if mention.per_kg:
            own, stated = given.numbers.per_kg, given.dose.per_weight
            if own is not None and stated is not None and own._replace(unit="") != mention.amount._replace(unit=""):
                yield _differs(library, mention.written, stated)
        elif given.dose.amount is not None and not _FOR_ANOTHER.search(texts.whole, start, end):
            amount, words = _together(library, mention, start, end)
            if _outside(given, amount):
                yield _differs(library, mention.written, given.dose.amount, words)


def _together(library: Library, mention: DoseMention, start: int, end: int) -> tuple[Amount, str]:
    """Return what is taken at once, and its words: two tablets of 500 mg are 1 g."""
    texts = corpus(library)
    for tablets in tablets_in(texts, start, end):
        if tablets.start <= mention.written.start < tablets.end:
            return tablets.made, f"{tablets.words}, together {tablets.made}"
    return mention.amount, ""


def _outside(given: Given, amount: Amount) -> bool:
    """Tell whether ``amount`` is none of those that the dose allows for one time."""
    assert given.dose.amount is not None
    span = range_of(given.dose.amount)
    if span is None:
        return False
    low, high = (in_volume(one, given.numbers.strength) or one for one in span)
    return low.kind == high.kind == amount.kind and not low.value <= amount.value <= high.value


def _intervals(library: Library, by_page: dict[str, list[Given]]) -> Iterator[Hit]:
    """What the patient is told of times has a finding of its own (``patient-told-other-dose``)."""
    texts = corpus(library)
    for piece in texts.pieces:
        if piece.page.file not in by_page or piece.role.startswith("dose") or piece.role == "patient_text":
            continue
        for often in how_often(texts.whole, piece.start, texts.end(piece.start)):
            sentence = texts.sentence(often.start).casefold()
            same = [one for one in by_page[piece.page.file] if any(name in sentence for name in one.names)]
            every = same[0].dose.every if len(same) == 1 else None
            hours = hours_of(str(every)) if every is not None else None
            if every is not None and hours is not None and not often.hours <= hours <= often.longest:
                yield _other(texts.place(often.start), often.words, f"every {every}", every)


def _volumes(library: Library, by_page: dict[str, list[Given]]) -> Iterator[Hit]:
    """A part of a volume may go in here and the rest there, so only more than the whole is another dose."""
    texts = corpus(library)
    for told in volumes(library):
        given = _of(library, by_page, told.volume.start, told.drug)
        own = given.numbers.amount if given is not None else None
        size = exact(told.volume.number)
        if given is None or given.dose.amount is None or own is None or size is None or own.kind != VOLUME:
            continue
        if size > own.value and not is_limit(texts, told.volume):
            yield _differs(library, told.volume, given.dose.amount)


def _strengths(library: Library, by_page: dict[str, list[Given]]) -> Iterator[Hit]:
    texts = corpus(library)
    for written in quantities(library):
        told = strength_of(f"{written.number} %") if written.unit == "%" else None
        if told is None or texts.piece(written.start).role.startswith("dose"):
            continue
        given = _of(library, by_page, written.start, drug_of(library, written))
        own = given.numbers.strength if given is not None else None
        if given is None or given.dose.strength is None or own is None or own.kind != told.kind:
            continue
        if own.per_ml != told.per_ml and not _FOR_ANOTHER.search(texts.whole, *texts.sentence_span(written.start)):
            yield _differs(library, written, given.dose.strength)

"""What running text says of doses: how much of which drug, for each kilogram or not, and how often."""

import re
from bisect import bisect_left
from collections.abc import Iterator
from fractions import Fraction
from functools import cache
from itertools import groupby, pairwise
from typing import NamedTuple

from builder.facts.catalogue_names import items_named
from builder.facts.dose_amounts import ACTIVITY, Amount, amount_of, kind_of
from builder.facts.quantities import MASSES, WrittenNumber, quantities
from builder.facts.remembered import once_per_department, once_per_library
from builder.facts.texts import Corpus, corpus
from builder.facts.walk import doses
from builder.load.packs import Fence, fences
from builder.model.library import Library
from builder.model.pages import ItemKind

LIMIT = re.compile(
    r"\b(?:at most|no more than|not more than|never more than|never give more than|"
    r"(?:nobody|no one|none) (?:\w+ ){1,2}more than|not exceed\w*|maximum|the most|max|"
    r"limit|ceiling)\b",
    re.IGNORECASE,
)
"""What makes the amount after it a limit, not a dose that is given."""


EACH_KG = re.compile(r"\s*(?:for |per |a |an )(?:each |every )?(?:kg|kilogram|kilo)\b", re.IGNORECASE)
"""Words after an amount that make it one for each kilogram of body weight."""


def is_of_drug(unit: str) -> bool:
    """Tell whether ``unit`` is one in which drugs are given: of mass, or of activity; nobody gives kilograms."""
    return (unit in MASSES and unit != "kg") or kind_of(unit) == ACTIVITY


class DoseMention(NamedTuple):
    """An amount of a drug where it stands in running text; with ``per_kg`` it is for each kilogram of body weight."""

    written: WrittenNumber
    drug: str
    amount: Amount
    per_kg: bool


def _whole_names(names: frozenset[str]) -> re.Pattern[str]:
    """Return what finds each of ``names`` as a whole word, the longest first: noradrenaline is not adrenaline."""
    words = sorted(names, key=len, reverse=True)
    return re.compile(rf"(?<![\w-])(?:{'|'.join(map(re.escape, words))})(?![\w-])", re.IGNORECASE)


@cache
def _fenced() -> re.Pattern[str]:
    return _whole_names(frozenset(fences()))


def fence_of(words: str) -> tuple[str, Fence] | None:
    """Return the drug named in ``words`` and its fence, or None where no fence is known."""
    found = _fenced().search(words)
    return (found.group(), fences()[found.group().casefold()]) if found else None


@once_per_department
def drug_names(library: Library) -> re.Pattern[str]:
    """Return what finds the name of each drug that the department names or that has a fence."""
    drugs = (item for item in items_named(library) if item.kind is ItemKind.DRUG)
    known = {str(name).casefold() for item in drugs for name in (item.name, *item.also)}
    return _whole_names(frozenset(known | set(fences())))


@once_per_library
def mentions(library: Library) -> tuple[DoseMention, ...]:
    """Return each amount of a drug in running text, with the drug it is of."""
    texts = corpus(library)
    found = []
    for written in quantities(library):
        if is_of_drug(written.first):
            per_kg = written.per == ("kg",) or EACH_KG.match(texts.whole, written.end) is not None
            if (written.per and not per_kg) or texts.piece(written.start).role.startswith("dose"):
                continue
            amount = amount_of(f"{written.number} {written.first}")
            drug = drug_of(library, written)
            if amount is not None and drug:
                found.append(DoseMention(written, drug, amount, per_kg))
    return tuple(found)


def nearest_drug(texts: Corpus, names: re.Pattern[str], written: WrittenNumber) -> str:
    """Return the drug that an amount is of, "" where its sentence names none."""
    start, end = texts.sentence_span(written.start)
    best, drug = end - start + 1, ""
    for match in names.finditer(texts.whole, start, end):
        if texts.whole[written.end : match.start()] == " of ":
            return match.group()
        # A drug behind its amount ("1 g of paracetamol") must stand close; one before it rules up to the next drug.
        away = written.start - match.end() if match.end() <= written.start else (match.start() - written.end) * 2
        if 0 <= away < best:
            best, drug = away, match.group()
    return drug


def drug_of(library: Library, written: WrittenNumber) -> str:
    """Return the drug that a number in running text is of: the nearest in its sentence, else that of the one dose here.

    Of several doses it is the one that the paragraph named last; "" where none is named.
    """
    texts = corpus(library)
    piece, names = texts.piece(written.start), drug_names(library)
    own = [str(dose.drug) for dose in doses(piece.page)]
    named = nearest_drug(texts, names, written)
    if named or len(own) < 2:
        return named or "".join(own)
    begins = max(piece.start, texts.whole.rfind("\n\n", piece.start, written.start))
    before = [match.group() for match in names.finditer(texts.whole, begins, written.start)]
    return before[-1] if before else ""


def is_limit(texts: Corpus, written: WrittenNumber) -> bool:
    """Tell whether the words around an amount make it a limit: at most 4 g, a maximum of 200 mg, 500 mg for anyone."""
    start, _ = texts.sentence_span(written.start)
    return (
        texts.whole.startswith((" for any", " for everybody"), written.end)
        or LIMIT.search(texts.whole, max(start, written.start - 40), written.start) is not None
    )


def sentences(library: Library) -> Iterator[tuple[int, int, tuple[DoseMention, ...]]]:
    """Yield where each sentence that gives an amount of a drug starts and ends, and its amounts in order."""
    texts = corpus(library)
    for (start, end), group in groupby(mentions(library), lambda one: texts.sentence_span(one.written.start)):
        yield start, end, tuple(group)


@once_per_library
def _starts(library: Library) -> tuple[int, ...]:
    return tuple(written.start for written in quantities(library))


def numbers_between(library: Library, start: int, end: int) -> tuple[WrittenNumber, ...]:
    """Return the numbers that start from ``start`` to ``end``."""
    starts = _starts(library)
    return quantities(library)[bisect_left(starts, start) : bisect_left(starts, end)]


_WORDS = {
    "once": 1, "twice": 2, "thrice": 3, "one": 1, "two": 2, "three": 3, "four": 4, "five": 5, "six": 6, "eight": 8,
    "twelve": 12,
}  # fmt: skip
_COUNTED = "|".join(_WORDS)
_PART_OF_DAY = r"(?:mornings?|evenings?|nights?|afternoons?|noon|midday|lunch(?:time)?|breakfast|supper|bedtime)"
_WITH = r"(?:every|each|in the|at|with)"
_OFTEN = re.compile(
    rf"\b(?:every (?:(?P<low>[0-9]+|{_COUNTED}) ?(?:to|or|-|–) ?)?(?P<hours>[0-9]+|{_COUNTED}) ?(?:hours?|h)|"
    rf"(?P<hourly>[0-9]+|{_COUNTED})[ -]hourly|"
    rf"(?P<times>once|twice|thrice|(?:[1-8]|{_COUNTED}) times) (?:a|each|every|per|in a) day|"
    rf"(?P<shots>one|two|three|four|[1-4]) (?:injections?|doses?) (?:a|each|every|per|in a) day|"
    rf"(?P<daily>(?:once|twice|thrice|(?:[1-8]|{_COUNTED}) times) daily)|"
    rf"(?P<parts>{_WITH}(?: the)? {_PART_OF_DAY}"
    rf"(?:(?:,| and|, and)(?: one| another)?(?: {_WITH})?(?: the)? {_PART_OF_DAY})*)|"
    rf"(?P<each>(?:each|every) day|daily)|"
    rf"(?P<other>every (?:other|second) (?:day|{_PART_OF_DAY})|on alternate (?:days|{_PART_OF_DAY})))\b",
    re.IGNORECASE,
)
_CLOCK = re.compile(
    r"\b(?:(?P<hour>[0-9]{1,2})(?:[:.](?P<minute>[0-9]{2}))? ?(?P<half>[ap])\.?m\b|"
    r"(?P<long>[0-2][0-9]):(?P<past>[0-5][0-9])\b|"
    r"(?:12 )?(?P<noon>noon|midday)|(?:12 )?(?P<midnight>midnight))",
    re.IGNORECASE,
)


class HowOften(NamedTuple):
    """How often something is taken: at least ``hours`` apart, at most ``longest``; where it stands and its words."""

    hours: Fraction
    longest: Fraction
    start: int
    words: str


def how_often(text: str, start: int = 0, end: int | None = None) -> Iterator[HowOften]:
    """Yield each statement of how often: every 6 hours, every four to six hours, three times a day."""
    for match in _OFTEN.finditer(text, start, len(text) if end is None else end):
        if match["hours"] or match["hourly"]:
            longest = _number(match["hours"] or match["hourly"])
            hours = _number(match["low"]) if match["low"] else longest
        elif match["each"] or match["other"]:
            hours = longest = Fraction(24 if match["each"] else 48)
        elif match["parts"]:
            hours = longest = Fraction(24, len(re.findall(_PART_OF_DAY, match["parts"], re.IGNORECASE)))
        else:
            hours = longest = Fraction(24, int(_number(match.group().split()[0])))
        limited = match["shots"] and LIMIT.search(text, max(start, match.start() - 30), match.start())
        if hours > 0 and not limited:
            yield HowOften(hours, longest, match.start(), match.group())


def by_the_clock(text: str) -> tuple[Fraction, str] | None:
    """Return the shortest time in hours between the hours of the day that ``text`` names, and its words."""
    matches = list(_CLOCK.finditer(text))
    hours = sorted({_hour(match) for match in matches})
    if len(hours) < 2:
        return None
    apart = [later - earlier for earlier, later in pairwise([*hours, hours[0] + 24])]
    return min(apart), text[matches[0].start() : matches[-1].end()]


def _hour(match: re.Match[str]) -> Fraction:
    if match["noon"] or match["midnight"]:
        return Fraction(12 if match["noon"] else 0)
    if match["long"]:
        return int(match["long"]) + Fraction(int(match["past"]), 60)
    afternoon = 12 if match["half"].casefold() == "p" else 0
    return int(match["hour"]) % 12 + afternoon + Fraction(int(match["minute"] or 0), 60)


def _number(word: str) -> Fraction:
    return Fraction(_WORDS.get(word.casefold()) or int(word))

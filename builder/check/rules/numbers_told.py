"""The texts of a step count the same: two layers here, one there; a limit is one limit."""

import re
from collections.abc import Iterator
from functools import lru_cache
from itertools import combinations
from typing import NamedTuple

from builder.check.hit import Hit, finds
from builder.check.rules.caution_words import cautions_of
from builder.facts.how_many import SoMany, how_many
from builder.facts.imperatives import VERBS
from builder.facts.names_in_prose import names_in_prose
from builder.facts.stems import senses, stem_of
from builder.facts.texts import words_in, words_said
from builder.findings.finding import SecondPlace
from builder.findings.message_words import quoted
from builder.load.prose import Prose
from builder.model.action import Verb
from builder.model.library import Library
from builder.model.pages import Caution, Procedure, Step
from builder.place import Place, Text

_COUNTS = re.compile(r"\b(?:one|two|both|three|four|five|six|[2-9])\s", re.IGNORECASE)
_NUMBERS = words_in("one two both three four five six 2 3 4 5 6 7 8 9")
_Told = tuple[SoMany, Place, Text | Prose]
"""What is counted, where, and in which text."""


@finds("number-told-otherwise", piecewise=True)
def number_told_otherwise(library: Library) -> Iterator[Hit]:
    """Yield each number of things that another text of the step gives otherwise, or that its actions do."""
    for procedure in library.procedures:
        yield from _unlike_note(procedure)
        for step in procedure.steps.values():
            pages: tuple[Step | Caution, ...] = (step, *cautions_of(procedure, step))
            counting = [page for page in pages if not _NUMBERS.isdisjoint(words_said(library, page))]
            told = [one for page in counting for one in _told(page)]
            pair = next((pair for pair in combinations(told, 2) if _differ(*pair)), None)
            if pair is not None:
                (other, at, _), (this, here, _) = pair
                message = f"{quoted(this.said)} is said here, but {quoted(other.said)} is said as well"
                also = (SecondPlace(at, "the other number"),)
                yield Hit(here, message, "Write which number is right, in both places.", also)
            yield from _unlike_actions(library, step) if counting else ()
            yield from _unlike_number(step)
            yield from _unlike_measure(procedure, step)
            yield from _longer_than_step(step)
            yield from _unlike_placed(step) if counting else ()


def _differ(one: _Told, other: _Told) -> bool:
    return one[2] is not other[2] and one[0].differs(other[0])


def _told(page: Step | Caution) -> Iterator[_Told]:
    if isinstance(page, Caution):
        if _COUNTS.search(page.avoid):
            yield from ((told, page.avoid.at, page.avoid) for told in how_many(page.avoid))
        return
    step = page
    shown_in = (figure.caption for figure in step.figure)
    texts = (step.title, step.cue, step.recovery, *(action.what for action in step.actions), *shown_in)
    for text in texts:
        if text is not None and _COUNTS.search(text):
            yield from ((told, text.at, text) for told in how_many(text))
    if _COUNTS.search(step.body.source):
        yield from ((told, step.body.place(told.begin), step.body) for told in how_many(step.body.shown))


_ELSEWHERE = frozenset({Verb.PLACE, Verb.REMOVE, Verb.TIE, Verb.COUNT})
"""Actions whose numbers another rule compares, or that have none."""


def _unlike_number(step: Step) -> Iterator[Hit]:
    """Yield a number of things in title or prose that is not the one that the actions use."""
    numbered = [one for one in step.actions if "number" in one.model_fields_set and one.verb not in _ELSEWHERE]
    texts: list[Text | Prose] = [step.title, step.body] if numbered else []
    for text in texts:
        words = text.shown if isinstance(text, Prose) else str(text)
        for told in how_many(words):
            using = [
                one
                for one in numbered
                if told.noun in {one.verb.value, *(_head(name) for name in (*one.objects, *one.using))}
            ]
            numbers = [one.number or 1 for one in using]
            if using and told.number not in (*numbers, sum(numbers)):
                message = f"{quoted(told.said)} is what the text says, but the number of the action is {numbers[0]}"
                also = (SecondPlace(using[0].at, "the action"),)
                at = text.place(told.begin) if isinstance(text, Prose) else text.at
                yield Hit(at, message, "Write the same number in the text and in the action.", also)
                return


_SIZES = {
    "mm": 1, "cm": 10, "millimetre": 1, "centimetre": 10, "second": 1, "minute": 60, "hour": 3600, "day": 86_400,
    "week": 604_800,
}  # fmt: skip
_WORDS = {
    "one": 1, "two": 2, "three": 3, "four": 4, "five": 5, "six": 6, "seven": 7, "eight": 8, "nine": 9, "ten": 10,
    "fifteen": 15, "twenty": 20, "thirty": 30, "forty": 40, "fifty": 50, "sixty": 60,
}  # fmt: skip
_MEASURE = re.compile(
    rf"\b(?P<number>[0-9]+(?:\.[0-9]+)?|{'|'.join(_WORDS)})\s+(?P<unit>{'|'.join(_SIZES)})s?\b", re.IGNORECASE
)
_PART = re.compile(r"(?:[^.;:!?]++|[.:](?=\w))+")
_NOT_ALWAYS = re.compile(
    r"\b(?:if|or|about|than|in an?|more|each|every|another|first|last|to|until|least|most)\b", re.IGNORECASE
)


_UNITS = ("mm", "cm", "metre", "second", "minute", "hour", "day", "week")


def _may_measure(text: str) -> bool:
    """Tell at little cost whether ``text`` may give a length or a time."""
    return any(unit in text for unit in _UNITS)


class _Measured(NamedTuple):
    """A length or a time: its size in the least unit, of which kind, what its sentence is about, and where it is."""

    size: float
    is_length: bool
    about: frozenset[str]
    begin: int
    said: str
    before: str
    beyond: str

    def is_told_in(self, note: "_Measured") -> bool:
        """Tell whether ``note`` says another number of the same thing."""
        if self.is_length is not note.is_length or self.size == note.size or self.before != note.before:
            return False
        shared = len(self.about & note.about)
        return shared >= _MOST_SHARED or (shared > 0 and self.beyond == note.beyond != "")

    def other_unit(self, other: "_Measured") -> bool:
        """Tell whether both have one number and not one unit, in words that mean the same: 5 mm and 5 cm from it."""
        (one, unit), (two, its) = (words.said.casefold().split() for words in (self, other))
        is_slip = one == two and unit[:1] + unit[-2:] != its[:1] + its[-2:] and self.is_length is other.is_length
        return is_slip and self.size != other.size and (not self.is_length or bool(self.beyond == other.beyond != ""))


@lru_cache(maxsize=2048)
def _measures(text: str) -> tuple[_Measured, ...]:
    return tuple(
        _Measured(
            _size(match),
            match["unit"].casefold().endswith(("mm", "cm", "metre")),
            frozenset("wait" if word == "dry" else word for word in senses(part.group()) - senses(match.group())),
            match.start(),
            match.group(),
            " ".join(text[part.start() : match.start()].casefold().split()[-1:]),
            " ".join(text[match.end() : part.end()].casefold().replace("the ", "").split()[:2]),
        )
        for part in _PART.finditer(text)
        if not _NOT_ALWAYS.search(part.group())
        for match in _MEASURE.finditer(text, *part.span())
    )


def _size(match: re.Match[str]) -> float:
    number = _WORDS.get(match["number"].casefold())
    return (number or float(match["number"])) * _SIZES[match["unit"].casefold()]


def _same_thing(one: _Measured, other: _Measured, of_step: bool) -> bool:
    """Tell whether both are of one thing: two words in common, or in the texts of a step a noun, told alike."""
    shared = one.about & other.about
    return len(shared) > 1 or (of_step and bool(shared - VERBS) and one.before == other.before)


def _unlike_measure(procedure: Procedure, step: Step) -> Iterator[Hit]:
    """Yield a length or a time of the prose that title, cue, an action or a caution gives otherwise."""
    every = [_size(match) for match in _MEASURE.finditer(step.body.shown)]
    told = _measures(step.body.shown) if _may_measure(step.body.source) else ()
    own = [text for text in (step.title, step.cue, *(action.what for action in step.actions)) if text is not None]
    advice = [caution.avoid for caution in cautions_of(procedure, step)]
    for text in (*own, *advice) if told else ():
        for one in _measures(text):
            alike = [
                other
                for other in told
                if (other.is_length is one.is_length and _same_thing(one, other, text in own))
                or other.other_unit(one)
                or (text is step.title and len(every) == 1 and other.size in (one.size * 10, one.size / 10))
            ]
            if alike and one.size not in every:
                message = f"{quoted(alike[0].said)} is said here, but {quoted(one.said)} is said as well"
                also = (SecondPlace(text.at, "the other number"),)
                at = step.body.place(alike[0].begin)
                yield Hit(at, message, "Write which number is right, in both places.", also)
                return


_MOST_SHARED = 3
"""Words that a text of the procedure and another have in common where both are about the same."""


def _unlike_note(procedure: Procedure) -> Iterator[Hit]:
    """Yield a length or a time that a text of the procedure gives otherwise, or another page in another unit."""
    notes: list[tuple[_Measured, Place]] = []
    known: dict[str, list[tuple[_Measured, Place]]] = {}
    for is_note, text in _texts_of(procedure):
        said = text.shown if isinstance(text, Prose) else str(text)
        told = _measures(said) if _may_measure(said) else ()
        sizes = {one.size for one in told}
        for one in told:
            at = text.place(one.begin) if isinstance(text, Prose) else text.at
            same = known.setdefault(one.said.split()[0].casefold(), [])
            slipped = (pair for pair in same[:_MOST_ALIKE] if one.other_unit(pair[0]) and _is_slip(one, pair[0]))
            noted = (pair for pair in notes if pair[0].size not in sizes and one.is_told_in(pair[0]))
            other, place = next(noted, None) or next(slipped, None) or (one, at)
            same.append((one, at))
            if other is not one:
                message = f"{quoted(one.said)} is said here, but {quoted(other.said)} is said as well"
                also = (SecondPlace(place, "the other number"),)
                yield Hit(at, message, "Write which number is right, in both places.", also)
            if is_note:
                notes.append((one, at))


_MOST_ALIKE = 8
"""How many places with one and the same number are compared with the next: more say nothing new."""


def _is_slip(one: _Measured, other: _Measured) -> bool:
    return one.is_length or len((one.about & other.about) - VERBS) > 1


def _texts_of(procedure: Procedure) -> Iterator[tuple[bool, Text | Prose]]:
    """Yield the texts of ``procedure`` that give measures, and whether each is of the whole operation."""
    yield from ((True, line) for line in procedure.before_you_start)
    yield True, procedure.body
    yield from ((False, step.body) for step in procedure.steps.values())
    for caution in procedure.cautions.values():
        yield from ((False, text) for text in (caution.avoid, caution.if_it_happens) if text is not None)
    yield from ((False, item.body) for item in procedure.aftercare_items.values())


_WAITS = re.compile(r"\bwait (?:for )?(?:about )?$", re.IGNORECASE)


def _longer_than_step(step: Step) -> Iterator[Hit]:
    """Yield a time to wait that is longer than the step lasts."""
    for match in _MEASURE.finditer(step.body.shown) if step.minutes is not None else ():
        waits = _WAITS.search(step.body.shown, 0, match.start())
        if step.minutes is not None and waits and _size(match) > step.minutes * _SIZES["minute"]:
            message = f"{quoted(match.group())} is waited here, but the step takes {step.minutes} minutes"
            also = (SecondPlace(step.where.value("minutes"), "the minutes of the step"),)
            yield Hit(step.body.place(match.start()), message, "Correct the one that is wrong.", also)


_ARE_IN = re.compile(
    r"[\w -]{0,20}?\b(?:is|are) (?:in|on|round|out)\b(?! (?:the|each|either|one) (?:side|end|half))", re.IGNORECASE
)


def _unlike_placed(step: Step) -> Iterator[Hit]:
    """Yield so many things that are said to be in, on or out, where the actions of the step come to another number."""
    moved = [one for one in step.actions if one.verb in (Verb.PLACE, Verb.REMOVE)]
    texts: list[Text | Prose] = [step.body, *((step.cue,) if step.cue is not None else ())]
    for text in texts if moved else ():
        words = text.shown if isinstance(text, Prose) else str(text)
        for told in how_many(words):
            same = [one for one in moved if told.noun in {_head(name) for name in one.objects}]
            numbers = {sum(one.number or 1 for one in same if one.verb is verb) for verb in (Verb.PLACE, Verb.REMOVE)}
            if same and _ARE_IN.match(words, told.begin + len(told.said)) and told.number not in numbers:
                message = f"{quoted(told.said)} is what the text says, but the number of the actions is {max(numbers)}"
                at = text.place(told.begin) if isinstance(text, Prose) else text.at
                hint = "Write the same number in the text and in the actions."
                yield Hit(at, message, hint, (SecondPlace(same[0].at, "the action"),))
                return


def _head(name: Text) -> str:
    return stem_of(name.casefold().split()[-1])


def _unlike_actions(library: Library, step: Step) -> Iterator[Hit]:
    """Yield a title that counts what its actions are done to, and comes to another number."""
    names = names_in_prose(library)
    for told in how_many(step.title) if _COUNTS.search(step.title) else ():
        done_to = {
            entry.id
            for action in step.actions
            for name in (*action.objects, *filter(None, (action.on,)))
            if (entry := names.find(name)) is not None and entry.name.casefold().split()[-1][:5] == told.noun[:5]
        }
        if len(done_to) > 1 and len(done_to) != told.number:
            message = (
                f"{quoted(told.said)} is what the title says, but the actions of this step are done to {len(done_to)}"
            )
            also = (SecondPlace(step.where.key("actions"), "the actions of this step"),)
            yield Hit(step.title.at, message, "Write the same number in the title and in the actions.", also)

"""Prose that puts what prepares an operation, a count or a question after what it has to come before.

The order is that of the WHO surgical safety checklist, 2009 (from memory): allergies are asked before any drug is
given, the patient is positioned, the skin prepared, draped, and cut, and counts are called while what is missing can
still be found.
"""

import re
from collections.abc import Iterable, Iterator, Sequence
from itertools import takewhile

from builder.check.hit import Hit
from builder.findings.message_words import quoted
from builder.model.action import Verb
from builder.model.pages import Step

CLEANS = r"(?:clean|prepare|prep|paint|disinfect|scrub)"
PATIENT = r"(?:patient|woman|man|child|baby)"
_DONE = r"(?:is|are|has been|have been|was|were)"
_SHUT = r"(?:skin|wound|belly|abdomen|chest|neck|uterus|cavity|layers?)"


_BEGINS = r"(?:^|[.;:,]\s+|\b(?:and|then|now) )(?:now |then )?"
_CLEANS = re.compile(
    rf"{_BEGINS}(?P<what>{CLEANS} (?:the )?(?:\w+ )?(?:skin|field)\b)",
    re.IGNORECASE,
)
_CUTS = re.compile(rf"{_BEGINS}(?P<what>(?:cut|open|incise) (?:the |through the )?(?:\w+ )?skin\b)", re.IGNORECASE)
_LAYS = re.compile(rf"{_BEGINS}(?P<what>(?:lay|position|turn|sit|roll) the {PATIENT}\b)", re.IGNORECASE)
_DRAPES = re.compile(rf"{_BEGINS}(?P<what>drape\b)", re.IGNORECASE)
_AGAIN = re.compile(r"\b(?:again|repeat|once more|close|dress|stitch|suture|wound|drain|edges?)\b", re.IGNORECASE)
_SENTENCE = re.compile(r"(?:[^.;!?]++|\.(?=\d))+")
_NOT_YET = re.compile(
    rf"\b(?:once|after|when|until) (?:the )?(?:{_SHUT}|groin|back|leg|arm|hand|breast)[\s\[]+{_DONE}[\s\[]+"
    r"(?:open|opened|cut|closed|shut)\b",
    re.IGNORECASE,
)
_DENIED = re.compile(r"\b(?:not|never|if|unless|again|second|last|more|and (?:again|once))\b", re.IGNORECASE)
_COUNT = re.compile(r"\bcount\b", re.IGNORECASE)


def told_too_late(steps: Sequence[Step], cut: Step | None) -> Iterator[Hit]:
    """Yield what the prose of ``steps``, of which ``cut`` is the first that cuts skin, puts too late."""
    before = list(_up_to(cut, steps)) if cut is not None else []
    for step in before:
        yield from _waits_for_what_is_later(step)
        if "rape" in step.body.source:
            right = "the patient is positioned before the drapes are on"
            yield from _told_after(_up_to(step, before), step, _LAYS, _DRAPES, right)
    if cut is not None:
        yield from _told_after(before, cut, _CLEANS, _CUTS, "the skin is prepared before it is cut")


def _up_to(step: Step, steps: Iterable[Step]) -> Iterator[Step]:
    return takewhile(lambda one: one is not step, steps)


def _told_after(
    before: Iterable[Step], step: Step, first: re.Pattern[str], then: re.Pattern[str], right: str
) -> Iterator[Hit]:
    """Yield what the prose of ``step`` tells after ``then``, and no prose before it tells at all."""
    text = step.body.shown
    mark = then.search(text)
    late = first.search(text, mark.end()) if mark is not None else None
    if mark is None or late is None or first.search(text, 0, mark.start()):
        return
    rest = _SENTENCE.match(text, late.start("what"))
    told = any(first.search(one.body.shown) or not one.body.source.strip() for one in before)
    if not told and rest is not None and not _AGAIN.search(rest.group()):
        hint = "Write it before that, in the order in which it is done."
        yield Hit(step.body.place(late.start("what")), f"{quoted(late['what'])} comes too late: {right}", hint)


def _waits_for_what_is_later(step: Step) -> Iterator[Hit]:
    """Yield a count or a drug of ``step`` that its prose puts off until a later step has opened or closed something."""
    drugs = [name.casefold() for action in step.actions if action.verb is Verb.INJECT for name in action.objects]
    counts = any(action.verb is Verb.COUNT for action in step.actions)
    for sentence in _SENTENCE.finditer(step.body.shown) if drugs or counts else ():
        words, match = sentence.group(), _NOT_YET.search(sentence.group())
        if match is None or _DENIED.search(words):
            continue
        if (counts and _COUNT.search(words)) or any(drug in words.casefold() for drug in drugs):
            message = f"{quoted(match.group())} is later than this step, and an action does it here"
            hint = "Write in the text when it is done, or move the action to that step."
            yield Hit(step.body.place(sentence.start() + match.start()), message, hint)

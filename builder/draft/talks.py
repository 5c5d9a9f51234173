"""Talks taken apart: their sentences say where a step begins, what is needed, and what comes afterwards."""

import re

from builder.draft.sentences import Sentence, sentences_of
from builder.draft.source_parts import Role, Segment, SourceParts
from builder.draft.speech import StartStrength, begins_aftercare, ends, strength
from builder.load.told.draft_source import Passage, PassageKind


def lay_talk(numbered: list[tuple[int, Passage]], layout: SourceParts) -> None:
    """Put each sentence of a talk where it belongs; what is not speech becomes notes."""
    sentences: list[Sentence] = []
    for _, passage in numbered:
        if passage.kind is PassageKind.SPEECH:
            sentences.extend(sentences_of(passage))
        else:
            layout.notes.extend(sentences_of(passage))
    starts = step_starts([sentence.text for sentence in sentences])
    after, end = _tail([sentence.text for sentence in sentences], starts)
    before = Role.OPEN
    for number, sentence in enumerate(sentences):
        if number in starts:
            layout.steps.append(Segment("", sentence.at, sentence.heard_at))
        if number >= end:
            layout.notes.append(sentence)
        elif number >= after:
            layout.parts[Role.AFTERCARE].append(sentence)
        elif layout.steps:
            layout.steps[-1].sentences.append(sentence)
        else:
            if before is Role.OPEN or not _GOES_ON.match(sentence.text):
                before = _said_before(sentence.text)
            layout.put(before, [sentence])


_MIDDLE = 0.4
_MANY = 5
_FEW = 3
_LONG_STEP = 60


def step_starts(texts: list[str]) -> set[int]:
    """Return the numbers of the sentences at which a step begins.

    Who counts aloud (``the second step``) is taken at the word: then ``now we`` begins no step. Who does not, begins a
    step with ``next`` and ``now we``; ``then`` begins one only where there would be few or long steps otherwise.
    """
    end = _end_of(texts)
    strengths = [strength(text) if number < end else StartStrength.NONE for number, text in enumerate(texts)]
    counted = strengths.count(StartStrength.NUMBERED)
    least = StartStrength.STRONG if counted >= _FEW else StartStrength.MEDIUM
    starts = {number for number, start in enumerate(strengths) if start >= least}
    if counted < _FEW and len(starts) < _MANY:
        starts |= {number for number, start in enumerate(strengths) if start >= StartStrength.WEAK}
    elif counted < _FEW:
        starts |= _within_long(texts, strengths, starts)
    return starts


def _within_long(texts: list[str], strengths: list[StartStrength], starts: set[int]) -> set[int]:
    """Return where ``then`` begins a step inside what would be a very long one."""
    more: set[int] = set()
    words = 0
    for number in range(min(starts, default=0), len(texts)):
        words = 0 if number in starts else words
        if words > _LONG_STEP and strengths[number] is StartStrength.WEAK:
            more.add(number)
            words = 0
        words += len(texts[number].split())
    return more


def _end_of(texts: list[str]) -> int:
    return next(
        (number for number, text in enumerate(texts) if number > _MIDDLE * len(texts) and ends(text)), len(texts)
    )


def _tail(texts: list[str], starts: set[int]) -> tuple[int, int]:
    """Return where aftercare begins and where the talk turns to its end."""
    end = _end_of(texts)
    last = max(starts, default=0)
    after = next((number for number in range(last, end) if begins_aftercare(texts[number])), end)
    return (after if after > last or after not in starts else end), end


_NEEDED = re.compile(
    r"\b(?:you(?:'ll| will)? (?:also )?need|we (?:also )?need|on (?:the|your|my) (?:tray|trolley|table)|equipment|"
    r"the kit)\b",
    re.IGNORECASE,
)
_BEFORE = re.compile(
    r"\b(?:before (?:you|we) (?:start|begin|scrub|do anything)|consent|check(?:ed)? (?:the|that)|marked)\b",
    re.IGNORECASE,
)


_GOES_ON = re.compile(r"(?:and|also|plus|oh and)\b", re.IGNORECASE)


def _said_before(text: str) -> Role:
    """Return what a sentence before the first step is about."""
    return Role.KIT if _NEEDED.search(text) else Role.BEFORE if _BEFORE.search(text) else Role.OPEN

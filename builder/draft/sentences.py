"""Sentences of a passage, each with the time at which it begins; in speech that no one has punctuated, too."""

import re
from bisect import bisect_right
from collections.abc import Iterator
from dataclasses import dataclass
from itertools import pairwise
from statistics import median

from builder.draft.sentence_roles import SaidRole
from builder.draft.speech import STARTS_ANYWHERE, is_step_alone
from builder.load.told.draft_source import Passage, PassageKind
from builder.load.told.talk import clock

_END = re.compile(r"[.!?…]+[\"'”’)\]]*\s+|\n+")
_SHORT = re.compile(r"(?:^|[\s(])(?:e\.g|i\.e|etc|vs|cf|approx|figs?|pp?|dr|mr|mrs|ms|prof|st|vol)\.$", re.IGNORECASE)
_SHORT_WRITTEN = re.compile(r"(?:^|[\s(])(?:no|nos|[A-Z]|\d+)\.$", re.IGNORECASE)
"""In speech these end a sentence: ``he said no.``, ``like a letter H.``"""
_FILLERS = re.compile(r"(?<![\w-])(?:[Uu]m+|[Uu]h+|[Uu]hm+|erm+|er|[Hh]mm+|[Mm]mm+)(?![\w-])[,.…]*(?=\s|$)\s*")
_BETWEEN_COMMAS = re.compile(r",\s+(?:um+|uh+|uhm+|erm|er|hmm+|mm+),\s+", re.IGNORECASE)
_LOOSE_COMMA = re.compile(r"\s+([,.;:!?])|([,;:])\s*(?=[,.;:!?])")
_BARE = 60
_PAUSE = 0.35
"""Seconds of silence that end a sentence in speech without stops."""
_SHOWN_AT_ONCE = 84
"""Characters: a subtitle is shown in at most two lines of 42 (common practice of subtitling)."""


@dataclass(frozen=True, slots=True)
class Sentence:
    """One sentence as it will be written (without ``um`` and ``er``), and where it is in the source."""

    text: str
    at: str
    heard_at: str = ""
    begins: bool = True
    """It is the first of its paragraph."""
    is_listed: bool = False
    """Its paragraph is an item of a list."""
    role: SaidRole | None = None
    """What it does in the telling."""


def sentences_of(passage: Passage) -> list[Sentence]:
    """Return the sentences of ``passage`` in order; together they hold each of its words but sounds of hesitation."""
    sentences: list[Sentence] = []
    is_speech = passage.kind is PassageKind.SPEECH
    cuts = list(_cuts(passage.text, is_speech))
    if is_speech:
        cuts = _finer(passage, cuts)
    for start, end in cuts:
        raw = passage.text[start:end]
        text = without_fillers(raw) if is_speech else " ".join(raw.split())
        if any(map(str.isalnum, text)):
            at = heard(passage, start + len(raw) - len(raw.lstrip()))
            sentences.append(Sentence(text, at or passage.at, at, not sentences, passage.kind is PassageKind.ITEM))
    return sentences


def heard(passage: Passage, offset: int) -> str:
    """Return the time at which the words at ``offset`` are said, "" where the passage has no times."""
    if not passage.marks:
        return ""
    number = bisect_right([mark.offset for mark in passage.marks], offset) - 1
    return clock(passage.marks[max(0, number)].seconds)


def without_fillers(text: str) -> str:
    """Return ``text`` without sounds of hesitation; nothing else is taken away."""
    bare = _FILLERS.sub("", _BETWEEN_COMMAS.sub(" ", text))
    bare = _LOOSE_COMMA.sub(lambda match: match[1] or "", " ".join(bare.split()))
    return bare.lstrip(",;: ")


def _cuts(text: str, is_speech: bool) -> Iterator[tuple[int, int]]:
    start = 0
    for end in _END.finditer(text):
        goes_on = _goes_on_spoken if is_speech else _goes_on_written
        is_line = "\n" in end.group()
        if not is_line and goes_on(text[start : end.end()].rstrip(), text[end.end() : end.end() + 1]):
            continue
        yield start, end.end()
        start = end.end()
    if text[start:].strip():
        yield start, len(text)


def _goes_on_written(before: str, after: str) -> bool:
    return bool(_SHORT.search(before) or _SHORT_WRITTEN.search(before)) or after.islower()


def _goes_on_spoken(before: str, after: str) -> bool:
    """Tell whether what is said so far is no sentence: it ends with a short form, it trails off, or it only counts."""
    trails_off = before.endswith(("...", "…")) and after.islower()
    only_counts = is_step_alone(before) or len(before.strip(" .")) == 1
    return trails_off or only_counts or bool(_SHORT.search(before))


def _finer(passage: Passage, cuts: list[tuple[int, int]]) -> list[tuple[int, int]]:
    """Cut speech that nobody has punctuated before words that begin a step, and at pauses of the speaker."""
    # That is what has no stop in some sixty words; where there are stops, a long sentence stays whole.
    if len(passage.text.split()) <= _BARE * len(cuts):
        return cuts
    heard_whole = _are_utterances(passage)
    ends = [mark.offset for mark in passage.marks if heard_whole or mark.pause >= _PAUSE]
    inner = {match.start() for match in STARTS_ANYWHERE.finditer(passage.text)} | set(ends)
    points = sorted(inner | {point for cut in cuts for point in cut})
    return list(pairwise(points))


def _are_utterances(passage: Passage) -> bool:
    """Tell whether each time stands where the recogniser heard somebody begin, and not at a piece cut to be shown."""
    offsets = [*(mark.offset for mark in passage.marks), len(passage.text)]
    return median([end - start for start, end in pairwise(offsets)] or [0]) > _SHOWN_AT_ONCE

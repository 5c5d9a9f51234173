"""Sentences of a passage, each with the time at which it begins; in speech that no one has punctuated, too."""

import re
from bisect import bisect_right
from collections.abc import Iterator
from dataclasses import dataclass
from itertools import pairwise

from builder.draft.speech import STARTS_ANYWHERE
from builder.load.told.draft_source import Passage, PassageKind
from builder.load.told.talk import clock

_END = re.compile(r"[.!?…]+[\"'”’)\]]*\s+|\n+")
_SHORT = re.compile(
    r"(?:^|[\s(])(?:e\.g|i\.e|etc|vs|cf|approx|no|nos|figs?|pp?|dr|mr|mrs|ms|prof|st|vol|[A-Z]|\d+)\.$", re.IGNORECASE
)
_FILLERS = re.compile(r"(?<![\w-])(?:[Uu]m+|[Uu]h+|[Uu]hm+|erm+|er|[Hh]mm+|[Mm]mm+)(?![\w-])[,.…]*(?=\s|$)\s*")
_BETWEEN_COMMAS = re.compile(r",\s+(?:um+|uh+|uhm+|erm|er|hmm+|mm+),\s+", re.IGNORECASE)
_LOOSE_COMMA = re.compile(r"\s+([,.;:!?])|([,;:])\s*(?=[,.;:!?])")
_LONG = 32
_BARE = 60
_PAUSE, _BREATH = 0.9, 0.35
"""Seconds of silence that end a sentence, in speech with stops and in speech without."""


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
        is_line = "\n" in end.group()
        after = text[end.end() : end.end() + 1]
        if not is_line and (
            _SHORT.search(text[max(start, end.start() - 8) : end.start() + 1]) or not (is_speech or not after.islower())
        ):
            continue
        yield start, end.end()
        start = end.end()
    if text[start:].strip():
        yield start, len(text)


def _finer(passage: Passage, cuts: list[tuple[int, int]]) -> list[tuple[int, int]]:
    """Cut what is too long for a sentence before words that begin a step, and at pauses of the speaker."""
    finer: list[tuple[int, int]] = []
    # Without a stop in some sixty words nobody has punctuated: then every word that begins a step cuts.
    is_bare = len(passage.text.split()) > _BARE * len(cuts)
    pauses = [mark.offset for mark in passage.marks if mark.pause >= (_BREATH if is_bare else _PAUSE)]
    for start, end in cuts:
        text = passage.text[start:end]
        if len(text.split()) <= _LONG and not is_bare:
            finer.append((start, end))
            continue
        inner = {start + match.start() for match in STARTS_ANYWHERE.finditer(text) if match.start()}
        inner |= {offset for offset in pauses if start < offset < end}
        points = [start, *sorted(inner), end]
        finer.extend(pairwise(points))
    return finer

"""Steps are written as instructions, in short sentences, after ASD-STE100 (Simplified Technical English)."""

import re
from collections.abc import Iterator
from functools import lru_cache

from builder.check.hit import Hit, finds
from builder.facts.imperatives import is_instruction, suggestion
from builder.findings.message_words import quoted
from builder.model.library import Library
from builder.model.pages import Step
from builder.place import Place

MOST_WORDS = 20
"""ASD-STE100, section 5 (procedures): a sentence of an instruction has at most 20 words. Figure from memory."""

# Bounded, so that a text full of brackets costs no more than its length.
_LINK_TARGET = re.compile(r"\]\([^)\n]{0,500}\)")
_IN_BRACKETS = re.compile(r"\([^()]*\)")
_MARKER = re.compile(r"(?:[-*+]|\d+[.)]|#{1,6}|>)\s+")
_LONGEST_SHORT = 8
_HEADING = re.compile(r" {0,3}#{1,6}\s")
_NEW_BLOCK = re.compile(r"\s*(?:[-*+]\s|\d+[.)]\s|#{1,6}\s|>|\|)")
_END = re.compile(r"[.!?][\"'”’)\]]*\s+(?=[\"'“‘(\[*_]*[A-Z0-9À-Þ])")
_SHORT = re.compile(
    r"(?:^|[\s(])(?:e\.g|i\.e|etc|vs|cf|approx|no|nos|figs?|pp?|dr|mr|mrs|ms|prof|st|vol|[A-Z])\.$", re.IGNORECASE
)


@finds("title-not-an-instruction", piecewise=True)
def titles_that_are_no_instruction(library: Library) -> Iterator[Hit]:
    """Yield each step whose title does not start with what to do.

    ASD-STE100, section 5 (procedures): instructions are in the imperative. Section from memory.
    """
    for procedure in library.procedures:
        for step in procedure.steps.values():
            if not is_instruction(step.title):
                verb = suggestion(step.title)
                hint = (
                    f"Start with the verb, for instance `{verb} ...`." if verb else "Start with the verb: what to do."
                )
                yield Hit(step.title.at, f"{quoted(step.title)} does not start with an instruction", hint)


@finds("sentence-too-long", piecewise=True)
def long_sentences(library: Library) -> Iterator[Hit]:
    """Yield each sentence of a step that has more than 20 words.

    Counted as ASD-STE100 does: a word with hyphens is one, and what stands in brackets counts for itself.
    """
    for procedure in library.procedures:
        for step in procedure.steps.values():
            yield from _long_in(step)


def _long_in(step: Step) -> Iterator[Hit]:
    for text in filter(None, (step.title, step.cue, step.if_not)):
        for _, sentence, count in _over(text) if len(text) > 2 * MOST_WORDS else ():
            yield _long(sentence, count, text.at)
    source = step.body.source
    for start, block in blocks(source) if len(source) > 2 * MOST_WORDS else ():
        for offset, sentence, count in _over(block):
            yield _long(sentence, count, step.body.place(start + offset))


@lru_cache(maxsize=4096)
def _over(block: str) -> tuple[tuple[int, str, int], ...]:
    """Return where in a block each sentence with too many words starts, the sentence, and how many it has."""
    told = ((offset, sentence, _words_over(sentence)) for offset, sentence in sentences(block))
    return tuple(one for one in told if one[2])


def _words_over(sentence: str) -> int:
    """Return how many words ``sentence`` has where that is too many, else 0."""
    if sentence.count(" ") < MOST_WORDS and "\n" not in sentence:
        return 0
    count = sum(any(map(str.isalnum, word)) for word in _IN_BRACKETS.sub(" ", sentence).split())
    return count if count > MOST_WORDS else 0


def _long(sentence: str, count: int, at: Place) -> Hit:
    start = " ".join(sentence.split()[:4])
    message = f"{quoted(f'{start} ...')} is a sentence of {count} words; more than {MOST_WORDS} are hard to follow"
    return Hit(at, message, "Make two sentences of it, with one action in each.")


def blocks(source: str) -> Iterator[tuple[int, str]]:
    """Yield ``(offset, text)`` of each paragraph, heading and list item of a Markdown text; each ends a sentence."""
    start = offset = 0
    kept: list[str] = []
    for line in source.split("\n"):
        if kept and (not line.strip() or _NEW_BLOCK.match(line) or _HEADING.match(kept[-1])):
            yield start, "\n".join(kept)
            kept = []
        if line.strip() and not line.lstrip().startswith("|"):
            if not kept:
                start = offset
            kept.append(line)
        offset += len(line) + 1
    if kept:
        yield start, "\n".join(kept)


def sentences(text: str) -> Iterator[tuple[int, str]]:
    """Yield ``(offset, sentence)`` of one block, without list markers and link targets, which nobody reads aloud."""
    shown = _LINK_TARGET.sub(lambda target: "]" + " " * (len(target.group()) - 1), text) if "](" in text else text
    start = len(shown) - len(shown.lstrip())
    marker = _MARKER.match(shown, start)
    start = marker.end() if marker else start
    for end in _END.finditer(shown):
        if end.start() >= start and not _SHORT.search(
            shown[max(start, end.start() - _LONGEST_SHORT) : end.start() + 1]
        ):
            yield start, shown[start : end.end()].strip()
            start = end.end()
    if shown[start:].strip():
        yield start, shown[start:].strip()

"""How many of something a text says there are: two layers, one running stitch, all three arteries."""

import re
from collections.abc import Iterator
from functools import lru_cache
from typing import NamedTuple

from builder.facts.stems import senses, stem_of
from builder.grouping import word_set

_NUMBERS = {
    "one": 1, "both": 2, "two": 2, "three": 3, "four": 4, "five": 5, "six": 6, "seven": 7, "eight": 8, "nine": 9,
    "ten": 10,
}  # fmt: skip
_SO_MANY = re.compile(
    rf"\b(?P<number>{'|'.join(_NUMBERS)}|[1-9][0-9]?)\s+(?:of\s+)?(?:the\s+)?(?P<words>[a-z-]+(?:\s+[a-z-]+){{0,2}})",
    re.IGNORECASE,
)
_STOPS = word_set("""
a about above across after all and are as at away back be before behind below beside but by can come comes down each
for from goes has have high hold holds if in inside into is it its join joins last lie lies lift lifts like long lower
may more must near no not of off on once one only or other out outside over per round run runs side so that the then
there they this through times to together toward towards under until up when where which while who wide will with
within without you
""")
_NO_THING = (
    word_set("""
mm cm m kg g mg ml l h hour hours day days week weeks month months minute minutes second seconds per percent year
years time times litre litres way ways thing things
""")
    | _STOPS
)
_PARTLY = re.compile(
    r"\b(?:first|second|another|last|next|each(?! of)|every|either|more|other|further|a time|extra|angle|per|remaining|"
    r"rest|spare)\b",
    re.IGNORECASE,
)
_ABOUT = re.compile(r"\b(?:about|to|or|and|than|at least|at most|up to|side)\s+(?:the\s+)?$", re.IGNORECASE)
"""Before a number: one of two, or no exact number."""
_SENTENCE = re.compile(r"(?:[^.;:!?]++|[.:](?=\w))+")
_CLAUSE = re.compile(r"[^,]+")


class SoMany(NamedTuple):
    """``number`` of ``noun``, with the words before it and what else the sentence is about; it stands at ``begin``."""

    number: int
    noun: str
    before: frozenset[str]
    about: frozenset[str]
    begin: int
    said: str

    def differs(self, other: "SoMany") -> bool:
        """Tell whether both count the same and come to another number."""
        if self.noun != other.noun or self.number == other.number:
            return False
        apart = bool(self.before and other.before) and self.before.isdisjoint(other.before)
        return not apart and bool(self.about & other.about)


@lru_cache(maxsize=2048)
def how_many(text: str) -> tuple[SoMany, ...]:
    """Return what ``text`` counts; what is only one part of it, or about so many, is left out."""
    return tuple(_how_many(text))


def _how_many(text: str) -> Iterator[SoMany]:
    for sentence in _SENTENCE.finditer(text):
        for match in _SO_MANY.finditer(text, *sentence.span()):
            run: list[str] = []
            for word in match["words"].casefold().split():
                if word in _STOPS:
                    break
                run.append(word)
            clause = next(c for c in _CLAUSE.finditer(text, *sentence.span()) if c.end() >= match.start("number"))
            if not run or run[-1] in _NO_THING or run[-1].endswith("ly") or _PARTLY.search(clause.group()):
                continue
            if _ABOUT.search(text, max(0, match.start() - 16), match.start()):
                continue
            noun = stem_of(run[-1])
            about = senses(sentence.group()) - senses(" ".join((match["number"], *run)))
            number = _NUMBERS.get(match["number"].casefold()) or int(match["number"])
            end = match.start("words") + len(" ".join(run))
            said = " ".join(text[match.start() : end].split())
            yield SoMany(number, noun, senses(" ".join(run[:-1])), about, match.start(), said)

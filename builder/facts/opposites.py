"""Words with an opposite (wet and dry, before and after, medial and lateral), and what a text says one of them of.

The pairs are our own (common practice). Nothing is understood beyond them: what is denied, on a condition, or has both
words of a pair says nothing here.
"""

import re
from collections.abc import Iterator
from functools import lru_cache
from typing import NamedTuple

from builder.facts.stems import stems


class OppositePair(NamedTuple):
    """Two poles. ``shared``: so many words two clauses must share to be about the same; ``where``: which ones count.

    ``where`` is "clause" for the words around, "after" for the words that follow.
    """

    poles: tuple[str, str]
    shared: int = 1
    where: str = "clause"


PAIRS = (
    OppositePair((r"wet|soaked|damp", r"dry|dried")),
    OppositePair((r"loose(?:ly)?|slack", r"tight(?:ly)?|taut")),
    OppositePair((r"slow(?:ly)?|gradually", r"fast|quick(?:ly)?|rapid(?:ly)?|in one go")),
    OppositePair((r"warm(?:ed)?|heated", r"cold|cooled|iced?|chilled")),
    OppositePair((r"inflated", r"deflated")),
    OppositePair((r"awake|conscious", r"asleep|unconscious")),
    OppositePair((r"flat|lying", r"upright|sitting up")),
    OppositePair((r"sterile", r"unsterile|non-sterile")),
    OppositePair((r"above|high|higher|raised", r"below|low|lower|lowered"), shared=2),
    OppositePair((r"medial(?:ly)?", r"lateral(?:ly)?"), shared=0),
    OppositePair((r"inner|inwards?", r"outer|outwards?"), shared=2),
    OppositePair((r"proximal(?:ly)?|upstream", r"distal(?:ly)?|downstream"), shared=2),
    OppositePair((r"anterior(?:ly)?", r"posterior(?:ly)?"), shared=2),
    OppositePair((r"superficial(?:ly)?", r"deep(?:ly)?"), shared=2),
    OppositePair((r"longitudinal(?:ly)?|lengthwise|along", r"transverse(?:ly)?|across|crosswise"), where="after"),
    OppositePair((r"before", r"after"), where="after"),
    OppositePair((r"close to|near|next to|right at", r"(?:well |far )?away from|far from|clear of"), where="after"),
    OppositePair((r"(?:with|after) (?:food|meals?)", r"empty stomach|without food|before (?:food|meals)"), shared=0),
)  # fmt: skip
_POLE = re.compile(
    "|".join(
        rf"\b(?P<p{number}{pole}>{words})\b"
        for number, pair in enumerate(PAIRS)
        for pole, words in zip("ab", pair.poles, strict=True)
    ),
    re.IGNORECASE,
)
_FIRST_WORDS_LIST = """
wet soaked damp dry dried loose loosely slack tight tightly taut slow slowly gradually fast quick quickly rapid rapidly
in warm warmed heated cold cooled ice iced chilled inflated deflated awake conscious asleep unconscious flat lying
upright sitting sterile unsterile non above high higher raised below low lower lowered medial medially lateral laterally
inner inward inwards outer outward outwards proximal proximally upstream distal distally downstream anterior anteriorly
posterior posteriorly superficial superficially deep deeply longitudinal longitudinally lengthwise along transverse
transversely across crosswise before after close near next right away far clear with empty without
"""
_FIRST_WORDS = frozenset(_FIRST_WORDS_LIST.split()) - {"in", "with", "without", "right", "close", "next"}
# Nearly every text has one of these, so they are no reason to look; the rare ones beside them are.
_NO_LETTERS = str.maketrans(dict.fromkeys(".,;:!?()[]\"'’/-–", " "))
_CLAUSE = re.compile(r"(?:[^,.;:!?]|[.,](?=\d))+")
_DENIED = re.compile(
    r"\b(?:no|not|never|without|nothing|neither|don['’]t|avoid)\b|\b(?:too|less|than|as)\s+(?:\w+\s+)?$", re.IGNORECASE
)
_CONDITION = re.compile(r"\b(?:if|unless|whether|or|where)\b", re.IGNORECASE)
_PRONOUN = re.compile(r"\b(?:it|them|they)\b", re.IGNORECASE)
_NOUN_AFTER = re.compile(
    r"\s+(?!(?:and|or|for|in|on|at|to|until|while|as|with|the|a|now)\b|\w+ly\b)[a-z]", re.IGNORECASE
)
_FOLLOWING = re.compile(r"(?:\s+[\w-]+){1,5}")


class PoleTold(NamedTuple):
    """One word of a pair: which pair and pole, what it is said of, its words; ``alone``: of a pronoun, not a noun."""

    pair: int
    pole: str
    about: frozenset[str]
    rest: frozenset[str]
    alone: bool | None
    begin: int
    words: str


@lru_cache(maxsize=4096)
def poles(text: str) -> tuple[PoleTold, ...]:
    """Return what ``text`` says with a word that has an opposite, where it uses one of the two only."""
    if _FIRST_WORDS.isdisjoint(text.casefold().translate(_NO_LETTERS).split()):
        return ()
    found = [told for clause in _CLAUSE.finditer(text) for told in _in_clause(clause.group(), clause.start())]
    both = {told.pair for told in found if any(one.pair == told.pair and one.pole != told.pole for one in found)}
    return tuple(told for told in found if told.pair not in both)


def _in_clause(clause: str, begin: int) -> Iterator[PoleTold]:
    for match in _POLE.finditer(clause):
        before = clause[: match.start()]
        if _DENIED.search(before) or _CONDITION.search(before):
            continue
        number, pole = int((match.lastgroup or "p0a")[1:-1]), (match.lastgroup or "a")[-1]
        around = stems(f"{before} {clause[match.end() :]}")
        following = _FOLLOWING.match(clause, match.end())
        after = stems(following.group()) if following else frozenset()
        about = after if PAIRS[number].where == "after" else around
        attributive = _NOUN_AFTER.match(clause, match.end()) is not None
        alone = None if attributive else _PRONOUN.search(clause) is not None
        yield PoleTold(number, pole, about, around - after, alone, begin + match.start(), " ".join(clause.split()))


def oppose(one: PoleTold, other: PoleTold) -> bool:
    """Tell whether both are about the same and say opposites of it."""
    if one.pair != other.pair or one.pole == other.pole:
        return False
    pair = PAIRS[one.pair]
    shared = len(one.about & other.about)
    fewest = max(1, min(pair.shared, len(one.about), len(other.about))) if pair.shared else 0
    if pair.poles[0] == "before":
        return shared > 0 and bool(one.rest & other.rest)
    of_pronoun = pair.shared == 1 and pair.where == "clause" and None not in (one.alone, other.alone)
    return shared >= fewest or (of_pronoun and bool(one.alone or other.alone))

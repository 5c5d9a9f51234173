"""Words with an opposite (wet and dry, before and after, medial and lateral), and what a text says one of them of.

The pairs are our own (common practice). Nothing is understood beyond them: what is denied, on a condition, or has both
words of a pair says nothing here.
"""

import re
from collections.abc import Iterator
from functools import lru_cache
from typing import NamedTuple

from builder.facts.imperatives import VERBS
from builder.facts.stems import senses, stems
from builder.facts.texts import words_in


class OppositePair(NamedTuple):
    """Two poles, each with the ways to write it.

    ``shared``: so many words two texts must share to be about the same; ``where``: which ones count, those of its
    "clause" or "sentence", or those that follow ("after"). ``is_side``: it says where something is in the body.
    """

    one: str
    other: str
    shared: int = 1
    where: str = "clause"
    is_side: bool = False

    @property
    def keys(self) -> tuple[frozenset[str], frozenset[str]]:
        """A word of each way to write each pole: a text without any of them does not use it."""
        one, other = (frozenset(max(reversed(way.split()), key=len) for way in ways(pole)) for pole in self[:2])
        return one, other


def ways(pole: str) -> list[str]:
    """Return the ways to write ``pole``, the longest first."""
    return sorted((way.strip() for way in pole.split(",")), key=len, reverse=True)


PAIRS = (
    OppositePair("wet, soaked, damp", "dry, dried"),
    OppositePair("loose, loosely, slack", "tight, tightly, taut"),
    OppositePair("slow, slowly, gradually", "fast, quick, quickly, rapid, rapidly, in one go"),
    OppositePair("warm, warmed, heated", "cold, cooled, iced, chilled"),
    OppositePair("inflated", "deflated"),
    OppositePair("awake, conscious", "asleep, unconscious"),
    OppositePair("flat, lying", "upright, sitting up"),
    OppositePair("sterile", "unsterile, non-sterile"),
    OppositePair("above, high, higher, raised, upper", "below, low, lower, lowered", shared=2, is_side=True),
    OppositePair("medial, medially", "lateral, laterally", where="sentence"),
    OppositePair(
        "thumb side, radial side", "little-finger side, little finger side, ulnar side", where="sentence", is_side=True
    ),
    OppositePair("inner, inward, inwards", "outer, outward, outwards", where="sentence", is_side=True),
    OppositePair("inside", "outside", shared=2, is_side=True),
    OppositePair("front edge, at the front", "back edge, at the back", shared=2, where="sentence", is_side=True),
    OppositePair("thin", "thick", where="after"),
    OppositePair("inside out, from inside", "outside in, from outside", where="sentence", is_side=True),
    OppositePair("proximal, proximally, upstream", "distal, distally, downstream", shared=2, is_side=True),
    OppositePair("anterior, anteriorly", "posterior, posteriorly", shared=2),
    OppositePair("superficial, superficially", "deep, deeply", shared=2),
    OppositePair(
        "longitudinal, longitudinally, lengthwise, along",
        "transverse, transversely, across, crosswise",
        shared=2,
        where="sentence",
    ),
    OppositePair("single stitches, interrupted, separate stitches", "running, continuous", where="sentence"),
    OppositePair("full, filled", "empty, emptied", where="sentence"),
    OppositePair("short, shorter", "long, longer", shared=2, where="sentence"),
    OppositePair("wait, waits", "at once, straight away, immediately, without waiting", where="sentence"),
    OppositePair("more than", "less than, no more than, at most", shared=2, where="after", is_side=True),
    OppositePair("in view, visible, in sight, uncovered", "wrapped, wrap, hidden, hide, out of sight, opaque"),
    *(OppositePair(f"{part} up", f"{part} down", shared=0) for part in ("head", "face", "palm", "pointing")),
    OppositePair("up and down", "side to side, left and right, one left and one right", shared=2, where="sentence"),
    OppositePair("clear", "cloudy, murky", where="sentence"),
    OppositePair("small, smaller", "large, larger, big, bigger", shared=2, where="sentence"),
    OppositePair("small bites", "large bites, big bites, deep bites", shared=0),
    OppositePair("twice as", "half as", where="after"),
    OppositePair("wide, wider", "narrow, narrower", shared=2, where="sentence"),
    OppositePair("before", "after", where="after"),
    OppositePair("whole, in one piece, intact", "in pieces, in small pieces, piecemeal, in bits"),
    OppositePair("close to, near, next to, towards, toward", "away, clear of", shared=2, where="sentence"),
    OppositePair("pale", "dark", where="sentence"),
    OppositePair(
        "with food, after food, with meals, after meals, with a meal",
        "empty stomach, without food, before food, before meals",
        shared=0,
    ),
)


@lru_cache(maxsize=256)
def _pattern(pairs: frozenset[int]) -> re.Pattern[str]:
    """Return what finds the poles of the pairs of these numbers."""
    return re.compile(
        "|".join(
            rf"\b(?P<p{number}{name}>{'|'.join(map(re.escape, ways(pole)))})\b"
            for number in sorted(pairs)
            for name, pole in (("a", PAIRS[number].one), ("b", PAIRS[number].other))
        ),
        re.IGNORECASE,
    )


_KEYS = [pair.keys for pair in PAIRS]
_POLES_OF: dict[str, list[tuple[int, bool]]] = {}
"""By a word, the poles it may mean: the number of the pair, and whether it is its other pole."""
for _number, _keys in enumerate(_KEYS):
    for _is_other, _pole in enumerate(_keys):
        for _key in _pole:
            _POLES_OF.setdefault(_key, []).append((_number, bool(_is_other)))
_WORDS = frozenset(_POLES_OF)


def may_oppose(*said: frozenset[str]) -> frozenset[int]:
    """Return at little cost the numbers of the pairs of which texts with the words ``said`` may use both words."""
    known = {pole for words in said for key in _WORDS & words for pole in _POLES_OF[key]}
    return frozenset(number for number, is_other in known if is_other and (number, False) in known)


def may_agree(text: str, other: str) -> frozenset[int]:
    """Return the numbers of the pairs of which both texts may use the same word."""
    both = words_in(text) & words_in(other)
    return frozenset(number for number, keys in enumerate(_KEYS) if not all(map(both.isdisjoint, keys)))


_CLAUSE = re.compile(r"(?:[^,.;:!?]++|[.,](?=\d))+")
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
    """One word of a pair: which pair and pole, what it is said of, its words; ``alone``: of a pronoun, not a noun.

    ``contrasted``: the other word stands in the same text.
    """

    pair: int
    pole: str
    about: frozenset[str]
    rest: frozenset[str]
    alone: bool | None
    begin: int
    words: str
    contrasted: bool = False


ALL = frozenset(range(len(PAIRS)))


@lru_cache(maxsize=4096)
def poles(text: str, pairs: frozenset[int] = ALL) -> tuple[PoleTold, ...]:
    """Return what ``text`` says with a word of ``pairs``."""
    pattern = _pattern(pairs)
    if pattern.search(text) is None:
        return ()
    found = [told for clause in _CLAUSE.finditer(text) for told in _in_clause(text, clause, pattern)]
    both = {told.pair for told in found if any(one.pair == told.pair and one.pole != told.pole for one in found)}
    return tuple(told._replace(contrasted=told.pair in both) for told in found)


def _in_clause(text: str, around_it: re.Match[str], pattern: re.Pattern[str]) -> Iterator[PoleTold]:
    clause, begin = around_it.group(), around_it.start()
    for match in pattern.finditer(clause):
        before = clause[: match.start()]
        if _DENIED.search(before) or _CONDITION.search(clause) or _PART.match(clause, match.end()):
            continue
        number, pole = int((match.lastgroup or "p0a")[1:-1]), (match.lastgroup or "a")[-1]
        pair = PAIRS[number]
        around = stems(f"{before} {clause[match.end() :]}")
        following = _FOLLOWING.match(clause, match.end())
        after = stems(following.group()) if following else frozenset()
        about = (after if pair.where == "after" else around) - _SAYS_LITTLE
        if pair.where == "sentence":
            sentence = _sentence(text, begin + match.start())
            other_pole = f"p{number}{'ab'[pole == 'a']}"
            both = any(other.lastgroup == other_pole for other in pattern.finditer(sentence))
            if both or _CONDITION.search(sentence):
                continue
            about = senses(sentence) - senses(match.group().split()[0]) - _SAYS_LITTLE
            if pair.one.startswith("longit"):  # said of what is cut or sewn, not of how fibres run
                about = about | {"cut"} if not _CUTS.isdisjoint(about) else about & _SEWS and about
            about = about - VERBS if pair.one.startswith(("medial", "inner")) else about  # of things, not of deeds
        attributive = _NOUN_AFTER.match(clause, match.end()) is not None
        alone = None if attributive else _PRONOUN.search(clause) is not None
        yield PoleTold(number, pole, about, around - after, alone, begin + match.start(), " ".join(clause.split()))


_CUTS, _SEWS = frozenset({"cut", "open", "incise", "slit", "split"}), frozenset({"stitch", "close", "pull"})
_PART = re.compile(r"(?<=al|er)\s+(?:half|third|part|corners?|tails?)\b|(?<=mpty)\s+(?:the|it|them)\b")
"""What is only named by where it is."""

_SENTENCE_END = re.compile(r"[.;!?](?=\s|$)")
_SAYS_LITTLE_LIST = """
been both can each end have here lay leave let may must one only side then there two whole will you your
"""
_SAYS_LITTLE = frozenset(_SAYS_LITTLE_LIST.split())


def _sentence(text: str, offset: int) -> str:
    start = max((end.end() for end in _SENTENCE_END.finditer(text, 0, offset)), default=0)
    end = _SENTENCE_END.search(text, offset)
    return text[start : end.start() if end else len(text)]


def oppose(one: PoleTold, other: PoleTold) -> bool:
    """Tell whether both are about the same and say opposites of it."""
    return one.pair == other.pair and one.pole != other.pole and _about_the_same(one, other)


def agree(one: PoleTold, other: PoleTold) -> bool:
    """Tell whether both are about the same and say the same of it, ``other`` not in contrast to the opposite."""
    fewest = max(2, PAIRS[one.pair].shared)
    alike = one.pair == other.pair and one.pole == other.pole and not other.contrasted
    return alike and len(one.about & other.about) >= fewest


_MORE_SHARED = 2
"""Words more that two texts must share where one of them has both words of the pair."""


def _about_the_same(one: PoleTold, other: PoleTold) -> bool:
    pair = PAIRS[one.pair]
    shared = len(one.about & other.about)
    if one.contrasted or other.contrasted:
        return pair.where == "sentence" and shared >= max(1, pair.shared) + _MORE_SHARED
    fewest = max(1, min(pair.shared, len(one.about), len(other.about))) if pair.shared else 0
    if pair.one == "before":
        return shared > 0 and bool(one.rest & other.rest)
    of_pronoun = pair.shared == 1 and pair.where == "clause" and None not in (one.alone, other.alone)
    return shared >= fewest or (of_pronoun and bool(one.alone or other.alone))

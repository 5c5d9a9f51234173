"""What a text says comes before what: ``A before B``, ``once B, A``, ``A, then B``, ``not A until B``.

Read are short sentences. What is said on a condition, or of a second time, says nothing of an order.
"""

import re
from collections.abc import Iterator, Mapping
from functools import lru_cache
from typing import NamedTuple

from builder.facts.imperatives import VERBS
from builder.facts.remembered import once_per_library
from builder.facts.stems import senses
from builder.facts.texts import corpus
from builder.grouping import grouped, word_set
from builder.model.library import Library
from builder.place import Place

_ROLES = word_set("title cue order_matters avoid patient_text prose what before_you_start error")
_HINTS = ("before ", "after ", "once ", "until ", "then ", "when ", "as soon as")
_PART = re.compile(r"(?:[^;:]++|[:;](?=\S))+")
_NOT_UNTIL = re.compile(
    r"(?P<then>\b(?:[a-z]+ (?=nothing)|)(?:not|n['’]t|never|no|nobody|nothing)\b[^,]*?)\b(?:until|before)\s+"
    r"(?P<first>[^,]+)",
    re.IGNORECASE,
)
_UNSURE = re.compile(
    r"\b(?:again|if|unless|or|never|not|no|nobody|nothing|otherwise|another|before and after)\b|n['’]t\b",
    re.IGNORECASE,
)
_HAS_BEEN = r"(?=[^,]*\b(?:is|are|has|have|had)\b(?! to\b))"
_LATER = rf"(?:after|once(?! (?:an?|each|every|more|daily|in)\b)|as soon as|only when|when{_HAS_BEEN})"
_OPENING = re.compile(
    rf"\W*(?:now |only )?(?:(?P<later>{_LATER})|before)\s+(?P<one>[^,]+),\s*(?P<other>.+)", re.IGNORECASE | re.DOTALL
)
_MARK = re.compile(rf"\b(?:(?P<later>{_LATER})|before)\s+", re.IGNORECASE)
_THEN = re.compile(r",?\s+(?:and\s+)?(?:only\s+)?then\s+", re.IGNORECASE)
_THING = re.compile(r"(?:the|both|an?|its|one|each)\b", re.IGNORECASE)
_CLAUSE_END = re.compile(r",| (?:and|but|so) ")
_TIME = re.compile(r"(?:that|this|which)\b|(?:about |the )?(?:[\w-]+ ){0,2}(?:minutes?|hours?|days?|weeks?|months?)\b")
_LITTLE = word_set("""
all aloud ask been but come day each first get go had half her him his hour it just last minute month must never no
nobody nothing now off one
only out own patient second she still the them they three two week while who you your
""")
"""Words that do not tell two deeds apart."""


class ToldOrder(NamedTuple):
    """``first`` comes before ``then``: the words of both, and where it is said, in which sentence."""

    first: str
    then: str
    said: str
    at: Place
    sentence: int
    is_slip: bool = False

    @property
    def words(self) -> tuple[frozenset[str], frozenset[str]]:
        """What tells the two from others."""
        return _words(self.first), _words(self.then)

    def is_reversed(self, other: "ToldOrder") -> bool:
        """Tell whether ``other`` puts the same two in the opposite order."""
        (first, then), (other_first, other_then) = self.words, other.words
        if _LOOKS & (first | then | other_first | other_then):
            return False  # who looks before may look again after
        crossed = _alike(first, other_then), _alike(then, other_first)
        straight = _alike(first, other_first) + _alike(then, other_then)
        return self.sentence != other.sentence and min(crossed) >= _MOST and sum(crossed) >= max(_BOTH, straight + 1)


_LOOKS = word_set("see look inspect check feel examine watch read")
_MOST, _BOTH = 0.6, 1.6
"""Parts of the words that are alike where two are taken for the same: of each, and of both together."""


_OUT = re.compile(r"\b(?:out|off)\b", re.IGNORECASE)


def _words(text: str) -> frozenset[str]:
    return senses(_OUT.sub("take", text)) - _LITTLE


def _alike(one: frozenset[str], other: frozenset[str]) -> float:
    if one & VERBS and other & VERBS and not one & other & VERBS:
        return 0
    return _weight(one & other) / max(_OF_A_VERB, min(_weight(one), _weight(other)))


_OF_A_VERB = 0.5


def _weight(words: frozenset[str]) -> float:
    """Return how much ``words`` say of what is meant: less where they are verbs, as many things are looked at."""
    return sum(_OF_A_VERB if word in VERBS else 1 for word in words)


@once_per_library
def orders_told(library: Library) -> Mapping[str, list[ToldOrder]]:
    """Return what the texts of each procedure, by its id, put before what; "" for the pages that all share."""
    return grouped(_orders_told(library))


def _orders_told(library: Library) -> Iterator[tuple[str, ToldOrder]]:
    texts = corpus(library)
    spans = {texts.sentence_span(at) for at in texts.where(_HINTS) if texts.piece(at).role in _ROLES}
    for start, stop in sorted(spans):
        home, slips = texts.piece(start).home, texts.piece(start).role == "error"
        for begin, first, then in orders_in(texts.whole[start:stop]):
            said = " ".join(texts.whole[start:stop].split()).replace("[", "").replace("]", "")
            right = (then, first) if slips else (first, then)
            yield str(home.id) if home else "", ToldOrder(*right, said, texts.place(start + begin), start, slips)


@lru_cache(maxsize=4096)
def orders_in(sentence: str) -> tuple[tuple[int, str, str], ...]:
    """Return each two parts of ``sentence`` of which the one comes before the other, and where the words begin."""
    return tuple(_orders_in(sentence))


def _orders_in(sentence: str) -> Iterator[tuple[int, str, str]]:
    for part in _PART.finditer(sentence):
        text, begin = part.group(), part.start() + len(part.group()) - len(part.group().lstrip())
        denied = _NOT_UNTIL.search(text)
        if denied is not None:
            yield begin, denied["first"], denied["then"]
        if _UNSURE.search(text):
            continue
        opening = _OPENING.match(text)
        if opening is not None:
            pair = opening["one"], opening["other"]
            yield begin, *(pair if opening["later"] else reversed(pair))
            continue
        marks = list(_MARK.finditer(text))
        joint = _THEN.search(text)
        if joint is not None and not marks:
            first, then = text[: joint.start()], text[joint.end() :]
            verb = f"{first.split()[0]} " if _THING.match(then) and first.strip() else ""
            yield begin, first, f"{verb}{then}"  # tie the one, then the other
        main, before = "", 0
        for mark in marks:
            joined = _CLAUSE_END.split(text[before : mark.start()].rstrip(" ,"))
            main, before = joined[-1] if not before or len(joined) > 1 else main, mark.end()
            beside = _CLAUSE_END.split(_MARK.split(text[mark.end() :], maxsplit=1)[0])[0]
            if not _TIME.match(beside):
                yield begin, *((beside, main) if mark["later"] else (main, beside))

"""What shows the role of a sentence in a talk: its words, how it is built, its neighbours, and where it is.

Nothing is decided here: each sentence becomes a set of features, and how much each of them speaks for a role is learned
from the labelled talks (``sentence_roles.py``). A change here, or of the verbs of the trade, needs ``make drafts``.
"""

import re
from collections import Counter
from collections.abc import Iterator, Sequence
from functools import cache
from itertools import pairwise
from typing import NamedTuple

from builder.facts.imperatives import VERBS

_TOKEN = re.compile(r"[a-z]+(?:'[a-z]+)?|\d+(?:[.,]\d+)?|[?!;:,]")
_SMALL_LIST = """
a about after again all an and another any are aren't as at be because been before being both but by can can't could
couldn't did didn't do does doesn't don't down each either every first for from get gets go goes had has hasn't have
haven't he he'll he's her here him his how i i'd i'll i'm i've if in into is isn't it it'll it's its just last let let's
like may me might must my need neither never next no nobody nor not nothing now of off on once only onto or other
otherwise our out over same she she'll she's should shouldn't so some still such than that that'll that's the their them
then there there's these they they'll they're this those through till to too under unless until up us want was wasn't we
we'd we'll we're we've were weren't what when where which while who whose why will with without won't would wouldn't yet
you you'd you'll you're you've your
"""
SMALL = frozenset(_SMALL_LIST.split())
_NUMBERS_LIST = """
one first two second three third four fourth five fifth six sixth seven seventh eight eighth nine ninth ten tenth eleven
eleventh twelve twelfth thirteen thirteenth fourteen fourteenth fifteen fifteenth sixteen sixteenth
"""
_VALUES = {word: number // 2 + 1 for number, word in enumerate(_NUMBERS_LIST.split())}
_SIGNS = {
    sign: frozenset(words.split())
    for sign, words in {
        "if": "if unless",
        "when": "when once until",
        "must": "must",
        "should": "should",
        "will": "will i'll you'll we'll it'll he'll she'll they'll",
        "would": "would i'd you'd we'd",
        "may": "could may might",
        "can": "can",
        "cannot": "can't cannot won't",
        "speaker": "i i'll i'm i've i'd my me",
        "team": "we we'll we're we've our us",
        "hearer": "you you'll you're you've you'd your",
        "patient": "he she his her him patient they their them",
        "past": "was were had did saw went came got told took lost found made said thought learnt used ago years",
        "denied": "never not don't no nobody nothing doesn't won't can't isn't",
        "time": "day days week weeks hour hours month months minute minutes night morning evening tonight tomorrow",
        "reason": "because so reason why otherwise",
        "sense": "see seen look feel hear find",
        "state": "is are it's that's there's",
    }.items()
}
"""Signs of manner: one of these words is in the sentence."""
_FIRST_SIGNS = {
    sign: frozenset(words.split())
    for sign, words in {
        "supposes": "if should were when had unless",
        "forbids": "never don't do",
        "goes on": "then next now so right okay after once",
    }.items()
}
"""Signs of the first word."""
_ENDINGS = ("ingly", "edly", "ing", "ied", "ies", "ed", "es", "ly", "s")


class _Sentence(NamedTuple):
    """A sentence taken apart: ``tokens`` are words and stops, ``names`` the stems that are no small words."""

    tokens: list[str]
    words: list[str]
    stems: list[str]
    signs: list[str]
    names: frozenset[str]


def features(texts: Sequence[str]) -> list[list[str]]:
    """Return the features of each sentence of a talk."""
    talk = [_taken_apart(text) for text in texts]
    early = Counter(name for said in talk for name in set(_early(said)))
    repeated = Counter(tuple(said.words[:2]) for said in talk)
    counting, seen, found = _counting(talk), set[str](), []
    joins = [at for at, said in enumerate(talk) if "goes on" in said.signs]
    for at, said in enumerate(talk):
        own = ["any", *_own(said), *_beside(talk, at), *_thread(talk, at, seen), *_place(at, len(talk))]
        own.append(f"early={min(6, max((early[name] for name in _early(said)), default=0))}")
        own.append(f"repeated={min(4, repeated[tuple(said.words[:2])])}")
        own.append(f"counts={at in counting} {at - 1 in counting} of {min(len(counting), 4)}")
        own.append(f"joins={at in joins} of {min(len(joins) * 10 // len(talk), 3)}")
        seen |= said.names
        found.append(list(dict.fromkeys(own)))
    return found


def _taken_apart(text: str) -> _Sentence:
    tokens = _TOKEN.findall(text.lower().replace("’", "'"))
    words = [token for token in tokens if token[0].isalnum()]
    stems = stems_of(text)
    names = frozenset(_stem(word) for word in words if word not in SMALL and len(word) > 2)
    return _Sentence(tokens, words, stems, list(_signs(tokens, words)), names)


def stems_of(text: str) -> list[str]:
    """Return the words and stops of ``text``, each word without its ending."""
    return [_stem(token) for token in _TOKEN.findall(text.lower().replace("’", "'"))]


@cache
def _stem(word: str) -> str:
    if word[0].isdigit():
        return "#"
    if word in SMALL or not word.isalpha():
        return word
    ending = next((ending for ending in _ENDINGS if word.endswith(ending) and len(word) - len(ending) >= 3), "")
    bare = word.removesuffix(ending)
    if ending in ("ied", "ies"):
        return f"{bare}y"
    if ending and len(bare) > 3 and bare[-1] == bare[-2] and bare[-1] not in "ls":
        bare = bare[:-1]
    return bare.rstrip("e") if ending or len(word) > 3 else word


def _signs(tokens: list[str], words: list[str]) -> Iterator[str]:
    spoken, first = set(words), words[0] if words else ""
    yield from (sign for sign, members in _SIGNS.items() if spoken & members)
    yield from (sign for sign, members in _FIRST_SIGNS.items() if first in members)
    if first in VERBS and first not in SMALL:
        yield "orders"
    for is_there, sign in (
        ("?" in tokens, "asks"), (first.endswith("ing"), "doing"), (any(word.endswith("ed") for word in words), "done"),
        (any(word[0].isdigit() or word in _VALUES for word in words), "number"),
    ):  # fmt: skip
        if is_there:
            yield sign
    yield f"length {sum(len(words) >= least for least in (6, 12, 22))}"


def _own(said: _Sentence) -> Iterator[str]:
    """Yield what a sentence shows by itself."""
    shapes = [_shape(token) for token in said.tokens]
    yield from (f"w={stem}" for stem in said.stems)
    yield from (f"b={first} {second}" for first, second in pairwise(["^", *said.stems, "$"]))
    framed = ["^", *shapes, "$"]
    yield from (f"s={first} {second}" for first, second in pairwise(framed))
    yield from (f"s={' '.join(framed[at : at + 3])}" for at in range(len(framed) - 2))
    yield f"first={' '.join(said.stems[:1])}"
    yield f"firsts={' '.join(said.stems[:2])}"
    yield from (f"shape={' '.join(shapes[:count])}" for count in (3, 4))
    yield f"last={' '.join(said.stems[-1:])}"
    yield f"words={min(len(said.words) // 4, 9)}"
    yield f"commas={min(said.tokens.count(','), 4)}"
    yield from (f"sign={sign}" for sign in said.signs)


@cache
def _shape(token: str) -> str:
    """Return a small word as it is, of any other only its kind: what is built alike becomes alike."""
    if token in _SIGNS["time"]:
        return "TIME"
    if token[0].isdigit() or token in _VALUES:
        return "#"
    if token in SMALL or not token[0].isalpha():
        return token
    if token in VERBS:
        return "VERB"
    return next((ending for ending in ("ing", "ed", "ly", "s") if token.endswith(ending)), "X")


def _beside(talk: list[_Sentence], at: int) -> Iterator[str]:
    """Yield the signs of the two sentences before and after, and the first word of the next ones."""
    for step in (-2, -1, 1, 2):
        if not 0 <= at + step < len(talk):
            yield f"{step} none"
            continue
        yield from (f"{step} {sign}" for sign in talk[at + step].signs)
        if abs(step) == 1:
            yield f"{step} first={' '.join(talk[at + step].words[:1])}"


def _thread(talk: list[_Sentence], at: int, seen: set[str]) -> Iterator[str]:
    """Yield how much of what a sentence names is new, was named just before, and is named again at once."""
    names = talk[at].names
    new = names - seen
    before = frozenset[str]().union(*(said.names for said in talk[max(0, at - 4) : at]))
    after = frozenset[str]().union(*(said.names for said in talk[at + 1 : at + 4]))
    yield f"new={len(new) * 4 // max(1, len(names))}"
    yield f"old={min(3, len(names & before))}"
    yield f"new stays={min(2, len(new & after))}"
    for step in (-1, 1):
        if 0 <= at + step < len(talk):
            yield f"{step} shares={min(2, len(names & talk[at + step].names))}"


def _place(at: int, count: int) -> Iterator[str]:
    yield f"tenth={at * 10 // count}"
    yield f"from start={min(at, 6)}"
    yield f"from end={min(count - 1 - at, 8)}"


def _early(said: _Sentence) -> list[str]:
    """Return the stems at the beginning: who announces steps does it with the same word each time (``chapter two``)."""
    return [_stem(word) for word in said.words[:4] if word not in SMALL]


def _counting(talk: list[_Sentence]) -> set[int]:
    """Return the numbers of the sentences that count on: one, two (or three, where two was forgotten), ..."""
    found, due = set(), 1
    for at, said in enumerate(talk):
        numbers = {
            _VALUES.get(word) or (int(word) if word.isdigit() and len(word) < 3 else 0) for word in said.words[:8]
        }
        skipped = due + 1 if due > 1 and due not in numbers else due
        if skipped in numbers:
            found.add(at)
            due = skipped + 1
    return found

"""A question of the self-test, and the fair choice of its wrong answers.

Wrong answers are texts of the same kind from the same procedure. Who knows no surgery must not find the right one by
its words: it shares no more words with the question than a wrong one does, and whether it is the longest, the one most
like the others, or the first, is settled by a digest of the question's id, so that it is neither always nor never so.
"""

import hashlib
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache
from itertools import combinations

from builder.compose.view.parts_view import FigureView
from builder.facts.stems import stems

MOST_WRONG = 3
_LEAST_WRONG = 2
_AS_MUCH = 2
"""So many wrong answers share at least as many words with the question as the right one does."""
_POOL = 9
"""How many wrong answers are tried together: the choice among them is exact."""
_ALIKE, _IN_COMMON, _DOUBLES = 0.12, 2, 0.4
"""Shared words, of all words of two texts, from which a wrong answer is too near the right one, or two wrong ones are
too near each other."""
_MOST_RATIO = 2.0
_SAID_OF_ALL = frozenset({"stop", "call", "look", "again", "before", "until", "where", "when", "both", "without"})
_SAME = {"bled": "blood", "bleed": "blood", "burn": "fire", "flame": "fire", "hurt": "pain"}
"""Words that tell the same."""


@dataclass(frozen=True, slots=True)
class FigureMark:
    """The one ``number`` of a ``figure`` that a question is about, at ``x`` and ``y`` per cent of it."""

    figure: FigureView
    x: str
    y: str


@dataclass(frozen=True, slots=True)
class Question:
    """A question: ``kind`` is one, many or order; ``answer`` are the right ones of its ``choices``, of an order all of
    them in order. ``told`` says of each choice, in the order of ``choices``, what it is; ``proof`` says why the answer
    is right, and ``anchor`` is the place on the procedure's page that shows it."""

    id: str
    group: str
    kind: str
    asks: str
    choices: tuple[str, ...]
    answer: tuple[str, ...]
    told: tuple[str, ...]
    proof: str
    anchor: str
    mark: FigureMark | None = None


@dataclass(frozen=True, slots=True)
class Reply:
    """A text that may be an answer, and what is ``told`` to one who takes it wrongly."""

    text: str
    told: str


@dataclass(frozen=True, slots=True)
class FairChoice:
    """Wrong answers to one wording of a question, and how far their choice is from what was drawn for its id."""

    id: str
    asks: str
    right: str
    wrong: tuple[Reply, ...]
    cost: float = 0.0


@dataclass(frozen=True, slots=True)
class QuestionPlace:
    """The ``group`` in which a question stands, why its answer is right, and the place on the page that shows it."""

    group: str
    proof: str
    anchor: str


@lru_cache(maxsize=8192)
def words_of(text: str) -> frozenset[str]:
    """Return the words of ``text`` by which it may be recognised."""
    return frozenset(_SAME.get(word, word) for word in stems(text)) - _SAID_OF_ALL


@lru_cache(maxsize=65536)
def likeness(one: str, other: str) -> float:
    """Return how much of the words of two texts is shared, from 0 to 1."""
    first, second = words_of(one), words_of(other)
    return len(first & second) / max(1, len(first | second))


def drawn(seed: str, most: int) -> int:
    """Return a number below ``most`` that looks random and is the same in each build."""
    return int.from_bytes(hashlib.sha256(seed.encode()).digest()[:8], "big") % most


def mixed(texts: Iterable[str], seed: str) -> list[str]:
    """Return ``texts`` in an order that looks random and is the same in each build."""
    return sorted(texts, key=lambda text: hashlib.sha256(f"{seed}\0{text}".encode()).digest())


def fair_choice(id: str, wordings: Sequence[str], right: str, pool: Iterable[Reply]) -> FairChoice | None:
    """Return the fairest choice of wrong answers to one of ``wordings``, the first where they are equally fair.

    None where every choice of at least two would give the right answer away.
    """
    sound = {reply.text: reply for reply in pool if _is_apart(reply.text, right)}
    made = (_fairest(id, asks, right, list(sound.values())) for asks in wordings)
    return min((choice for choice in made if choice), key=lambda choice: choice.cost, default=None)


def _is_apart(text: str, right: str) -> bool:
    """Tell whether ``text`` is so far from the right answer that it cannot be right as well."""
    return likeness(text, right) < _ALIKE and len(words_of(text) & words_of(right)) < _IN_COMMON


def _fairest(id: str, asks: str, right: str, pool: Sequence[Reply]) -> FairChoice | None:
    given = len(_shared(asks, right))
    # Those that share words with the question come first: without them a right answer that does is given away.
    order = mixed((reply.text for reply in pool), f"{id} wrong")
    order.sort(key=lambda text: -min(given, len(_shared(asks, text))))
    by_text = {reply.text: reply for reply in pool}
    most = min(MOST_WRONG, len(pool))
    best: FairChoice | None = None
    for texts in combinations(_spread(order, right), most) if most >= _LEAST_WRONG else ():
        if given and sum(len(_shared(asks, text)) >= given for text in texts) < _AS_MUCH:
            continue
        if any(likeness(one, other) >= _DOUBLES for one, other in combinations(texts, 2)):
            continue
        cost = _cost(id, asks, right, texts)
        if best is None or cost < best.cost:
            best = FairChoice(id, asks, right, tuple(by_text[text] for text in texts), cost)
    return best


def _spread(order: list[str], right: str) -> list[str]:
    """Return the texts to be tried: the first, and those that are nearest to the right one in length."""
    head = order[: _POOL // 2]
    rest = sorted(order[_POOL // 2 :], key=lambda text: abs(len(text) - len(right)))
    return [*head, *rest[: _POOL - len(head)]]


def _shared(asks: str, text: str) -> frozenset[str]:
    return words_of(asks) & words_of(text)


def _cost(id: str, asks: str, right: str, wrong: Sequence[str]) -> float:
    """Return how far the places of the right answer, by three things that can be seen, are from those drawn for it."""
    every = (right, *wrong)
    by_shared = [float(len(_shared(asks, text))) for text in every]
    by_length = [float(len(text)) for text in every]
    by_likeness = [sum(likeness(text, other) for other in every if other is not text) for text in every]
    away = sum(
        _away(values, drawn(f"{id} {name}", len(every)))
        for name, values in (("shared", by_shared), ("length", by_length), ("likeness", by_likeness))
    )
    ratio = max(by_length) / max(1.0, min(by_length))
    return away + 2.0 * max(0.0, ratio - _MOST_RATIO)


def _away(values: Sequence[float], place: int) -> float:
    """Return how far the first of ``values`` is from ``place`` when they are ranked, the least first; ties may be
    ranked either way."""
    below, same = sum(value < values[0] for value in values[1:]), sum(value == values[0] for value in values[1:])
    return max(0.0, below - place, place - below - same)


def one_right(fair: FairChoice, place: QuestionPlace, mark: FigureMark | None = None) -> Question:
    """Return the question with its answers mixed."""
    told = {reply.text: reply.told for reply in fair.wrong}
    return _mixed_question(fair.id, "one", fair.asks, [fair.right], told, place, mark)


def many_right(
    id: str, asks: str, right: Sequence[str], pool: Sequence[Reply], place: QuestionPlace
) -> Question | None:
    """Return a question that may have several right answers, so that the number of boxes tells nothing.

    The first of ``pool`` are taken for wrong answers."""
    told = {reply.text: reply.told for reply in pool if reply.text not in right}
    given = max(len(_shared(asks, text)) for text in right)
    first = [text for text in told if len(_shared(asks, text)) >= given][: MOST_WRONG + 1]
    wrong = mixed(first, f"{id} wrong")[:MOST_WRONG]
    if len(wrong) < _LEAST_WRONG:
        return None
    return _mixed_question(id, "many", asks, right, {text: told[text] for text in wrong}, place, None)


def _mixed_question(  # noqa: PLR0913, PLR0917  # a question is all of these
    id: str, kind: str, asks: str, right: Sequence[str], wrong: Mapping[str, str], place: QuestionPlace,
    mark: FigureMark | None,
) -> Question:  # fmt: skip
    shown = tuple(mixed([*right, *wrong], id))
    told = tuple(wrong.get(text, "") for text in shown)
    return Question(id, place.group, kind, asks, shown, tuple(right), told, place.proof, place.anchor, mark)

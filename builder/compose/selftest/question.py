"""A question of the self-test, and the fair choice of its wrong answers.

All answers of a question are of one kind: structures, numbers of one unit, directions, deeds out of one sentence. Who
knows no surgery must not find the right one by its words: it shares no word with the question that a wrong one does not
share too, and whether it is the longest, the most like the others, or the first, is settled by a digest of the
question's id, so that it is neither always nor never so.
"""

import hashlib
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from functools import lru_cache
from itertools import combinations

from builder.compose.view.parts_view import FigureView
from builder.facts.stems import stems
from builder.load.program_words import gettext

MOST_WRONG, LEAST_WRONG = 3, 2
_POOL = 8
"""How many wrong answers are tried together: the choice among them is exact."""


@dataclass(frozen=True, slots=True)
class FigureMark:
    """The one ``number`` of a ``figure`` that a question is about, at ``x`` and ``y`` per cent of it."""

    figure: FigureView
    x: str
    y: str


MISTAKE = "A mistake"
"""The kind of question whose answer is what must not be done."""


@dataclass(frozen=True, slots=True)
class Question:
    """A question: ``kind`` is one, many or order; ``answer`` are the right ones of its ``choices``, of an order all of
    them in order. ``told`` says of each choice, in the order of ``choices``, what it is; ``proof`` says why the answer
    is right, and ``anchor`` is the place on the procedure's page that shows it. ``about`` are the ids of the steps and
    cautions that it is about."""

    id: str
    group: str
    kind: str
    asks: str
    choices: tuple[str, ...]
    answer: tuple[str, ...]
    told: tuple[str, ...]
    proof: str
    anchor: str
    about: tuple[str, ...] = ()
    mark: FigureMark | None = None

    @property
    def lead(self) -> str:
        """What the answer begins with where, read by itself, it would be taken for advice."""
        return f"{gettext('The mistake:')} " if self.group == MISTAKE else ""

    @property
    def right(self) -> str:
        """The right answer in words, as it stands by itself."""
        return self.lead + (gettext("; then ") if self.kind == "order" else "; ").join(self.answer)


@dataclass(frozen=True, slots=True)
class Reply:
    """A text that may be an answer, and what is ``told`` to one who takes it wrongly."""

    text: str
    told: str


@dataclass(frozen=True, slots=True)
class Draft:
    """A question before its wrong answers are chosen from ``pool``: what it asks, and of which steps and cautions."""

    id: str
    group: str
    asks: str
    right: str
    pool: tuple[Reply, ...]
    proof: str
    anchor: str
    about: tuple[str, ...]
    mark: FigureMark | None = None

    def question(self) -> Question | None:
        """Return the question with the fairest choice of wrong answers; None where each gives the right one away."""
        pool = {reply.text: reply.told for reply in self.pool if reply.text.casefold() != self.right.casefold()}
        texts = list(pool)[:_POOL]
        most = min(MOST_WRONG, len(texts))
        choices = [wrong for wrong in combinations(texts, most) if most >= LEAST_WRONG and self._is_fair(wrong)]
        if not choices:
            return None
        wrong = min(choices, key=self._cost)
        shown = tuple(mixed([self.right, *wrong], self.id))
        told = tuple(pool.get(text, "") for text in shown)
        return Question(
            self.id, self.group, "one", self.asks, shown, (self.right,), told, self.proof, self.anchor, self.about,
            self.mark,
        )  # fmt: skip

    def _is_fair(self, wrong: Sequence[str]) -> bool:
        """Tell whether no word of the question points at the right answer alone."""
        asked = words_of(self.asks)
        given = asked & words_of(self.right)
        return not given or any(len(asked & words_of(text)) >= len(given) for text in wrong)

    def _cost(self, wrong: Sequence[str]) -> float:
        """Return how far the places of the right answer, by length and likeness, are from those drawn for it."""
        every = (self.right, *wrong)
        by_length = [float(len(text)) for text in every]
        by_likeness = [sum(likeness(text, other) for other in every if other is not text) for text in every]
        return sum(
            away(values, drawn(f"{self.id} {name}", len(every)))
            for name, values in (("length", by_length), ("likeness", by_likeness))
        )


@lru_cache(maxsize=8192)
def words_of(text: str) -> frozenset[str]:
    """Return the words of ``text`` by which it may be recognised."""
    return frozenset(stems(text))


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


def away(values: Sequence[float], place: int) -> float:
    """Return how far the first of ``values`` is from ``place`` when they are ranked, the least first; ties may be
    ranked either way."""
    below, same = sum(value < values[0] for value in values[1:]), sum(value == values[0] for value in values[1:])
    return max(0.0, below - place, place - below - same)

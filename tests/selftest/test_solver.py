"""Somebody who knows no surgery, and sees only the words of a question and its answers, must not find the right one.

The solver has the tricks of the exam room: the answer that repeats the question, the longest, the shortest, the one
most like the others, the odd one out, one place. It shares no code with the builder.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence
from itertools import combinations

import pytest
from decks import DEMO, DEMONSTRATION
from department import BASE
from papers import library

from builder.compose.selftest.questions import Question, questions_of

MOST = 0.40
_SMALL = """
a an and are as at be but by do for from has have if in into is it its no not of off on or out so that the their them
then there they this to until up was what when where which who will with you your
"""
SMALL = set(_SMALL.split())
Score = Callable[[str, str, Sequence[str]], float]


def words(text: str) -> set[str]:
    """Words without their endings, made with rules of its own: the first five letters of any that are not small."""
    return {word[:5] for word in re.findall(r"[a-z]{3,}", text.casefold()) if word not in SMALL}


def shared(asks: str, answer: str, others: Sequence[str]) -> float:
    return len(words(asks) & words(answer))


def share(asks: str, answer: str, others: Sequence[str]) -> float:
    return len(words(asks) & words(answer)) / max(1, len(words(answer)))


def like_the_others(asks: str, answer: str, others: Sequence[str]) -> float:
    return sum(len(words(answer) & words(other)) / max(1, len(words(answer) | words(other))) for other in others)


def long(asks: str, answer: str, others: Sequence[str]) -> float:
    return len(answer)


def middling(asks: str, answer: str, others: Sequence[str]) -> float:
    lengths = sorted(len(other) for other in (*others, answer))
    return -abs(lengths.index(len(answer)) - (len(lengths) - 1) / 2)


def sentences(asks: str, answer: str, others: Sequence[str]) -> float:
    return answer.count(".") + answer.count(",") / 2


def many(asks: str, answer: str, others: Sequence[str]) -> float:
    """All the tricks at once: words first, then likeness, then length."""
    return 3 * share(asks, answer, others) + like_the_others(asks, answer, others) + len(answer) / 400


def turned(score: Score) -> Score:
    return lambda asks, answer, others: -score(asks, answer, others)


TRICKS: dict[str, Score] = {
    "repeats the question": shared, "repeats it most for its length": share, "repeats it least": turned(shared),
    "most like the others": like_the_others, "odd one out": turned(like_the_others), "longest": long,
    "shortest": turned(long), "of middle length": middling, "most sentences": sentences, "all tricks": many,
}  # fmt: skip


def value(question: Question, chosen: Sequence[str]) -> float:
    return float(set(chosen) == set(question.answer) and question.kind != "order")


def picks(question: Question, score: Score) -> float:
    """What the trick earns: where several answers are equally good to it, it guesses among them."""
    if question.kind == "order":
        best = sorted(question.choices, key=lambda text: -score(question.asks, text, question.choices))
        return float(tuple(best) == question.answer)
    rated = {
        text: round(score(question.asks, text, [other for other in question.choices if other != text]), 9)
        for text in question.choices
    }
    count = 1 if question.kind == "one" else 2
    ranked = sorted(rated.values(), reverse=True)[count - 1]
    sure = [text for text, rate in rated.items() if rate > ranked]
    tied = [text for text, rate in rated.items() if rate == ranked]
    ways = [[*sure, *more] for more in combinations(tied, count - len(sure))]
    return sum(value(question, way) for way in ways) / len(ways)


def asked() -> list[Question]:
    folders = [(name, DEMONSTRATION) for name in DEMO] + [("example", BASE)]
    return [question for name, root in folders for question in questions_of(library(root), library(root).by_id[name])]


@pytest.mark.parametrize("trick", TRICKS)
def test_no_trick_finds_the_answers(trick: str) -> None:
    questions = asked()
    earned = sum(picks(question, TRICKS[trick]) for question in questions) / len(questions)
    assert earned <= MOST, f"{trick}: {earned:.0%}"


@pytest.mark.parametrize("place", range(4))
def test_no_place_is_right_more_often(place: int) -> None:
    questions = [question for question in asked() if question.kind == "one"]
    right = sum(
        question.choices.index(question.answer[0]) == min(place, len(question.choices) - 1) for question in questions
    )
    assert right / len(questions) <= MOST


def test_the_tricks_find_what_gives_itself_away() -> None:
    """The control: a question that repeats its answer is found, and so is one whose answer is the longest."""
    told = Question(
        "a",
        "",
        "one",
        "The needle bends. What now?",
        ("Call a friend", "Change the needle", "Sit down"),
        ("Change the needle",),
        ("", "", ""),
        "",
        "",
    )
    assert picks(told, shared) == 1
    assert picks(told, long) == 1
    assert picks(told, turned(shared)) == 0
    assert picks(told, like_the_others) < 1

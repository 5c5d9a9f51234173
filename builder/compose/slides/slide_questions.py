"""Questions for the room: one opens a talk and one closes it, each with its answer on the next slide."""

from collections.abc import Sequence
from dataclasses import replace

from builder.compose.selftest.question import Question
from builder.compose.selftest.questions import questions_of
from builder.compose.slides.slide import Slide, SlidePart
from builder.compose.slides.slide_layout import fits
from builder.compose.slides.slide_text import joined, stopped
from builder.load.program_words import gettext
from builder.model.library import Library
from builder.model.pages import Procedure

_THINK = 25.0
_LEAST_IN_ORDER = 3
_LETTERS = "abcdefgh"


def questions(library: Library, procedure: Procedure) -> tuple[tuple[Slide, ...], tuple[Slide, ...]]:
    """Return what opens and what closes the talk: slides of a question and of its answer.

    It opens with what is seen before a cut or with an order, closes with what would be a mistake when it goes wrong.
    A question that fits on no slide loses wrong answers, never the right ones, or is not asked.
    """
    asked = questions_of(library, procedure)
    opening = _first(asked, ("seen-", "order-", "choice-"))
    closing = _first(asked, ("mistake-", "sign-", "loss-", "far-", "way-", "order-"))
    if closing == opening:
        closing = None
    return _pair(opening, 1), _pair(closing, 1 if opening is None else 2)


def _first(asked: Sequence[Question], kinds: Sequence[str]) -> Question | None:
    """Return a question of the first of ``kinds`` that has one which fits: one that loses none of its answers, and of
    these the one with most right answers."""

    def worth(question: Question) -> tuple[bool, int]:
        return all(map(fits, _slides(question, 1))), len(question.answer)

    fitting = ([one for one in asked if one.id.startswith(kind) and _pair(one, 1)] for kind in kinds)
    return next((max(some, key=worth) for some in fitting if some), None)


def _pair(question: Question | None, number: int) -> tuple[Slide, ...]:
    """Return the two slides of ``question``, none where it cannot be made to fit."""
    while question:
        pair = _slides(question, number)
        if all(map(fits, pair)):
            return pair
        question = _shorter(question)
    return ()


def _shorter(question: Question) -> Question | None:
    choices = question.choices
    if question.kind == "order":
        answer = question.answer[:-1]
        kept = tuple(choice for choice in choices if choice in answer)
        return replace(question, answer=answer, choices=kept) if len(answer) >= _LEAST_IN_ORDER else None
    wrong = [choice for choice in choices if choice not in question.answer]
    kept = tuple(choice for choice in choices if choice != wrong[-1]) if len(wrong) > 1 else ()
    return replace(question, choices=kept) if kept else None


def _slides(question: Question, number: int) -> tuple[Slide, Slide]:
    id, right = f"question-{number}", stopped(question.lead + "; ".join(question.answer))
    asked = Slide(
        "question", id, id, question.asks,
        question.asks, gettext("Question for the room"), gettext("Q%(number)s", number=number),
        parts=tuple(SlidePart("option", text, at) for at, text in zip(_LETTERS, question.choices, strict=False)),
        ask=gettext("Let the room answer before you go on."), answer=right, wait=_THINK,
    )  # fmt: skip
    parts = tuple(
        SlidePart("answer", f"{question.lead}{text}", str(at) if question.kind == "order" else "•")
        for at, text in enumerate(question.answer, 1)
    )
    told = Slide(
        "answer", f"answer-{number}", id, gettext("Answer to question %(number)s", number=number),
        joined(right, question.proof), gettext("Answer"), gettext("A%(number)s", number=number), parts=parts,
    )  # fmt: skip
    proved = replace(told, parts=(*parts, SlidePart("because", question.proof)))
    return asked, proved if fits(proved) else told

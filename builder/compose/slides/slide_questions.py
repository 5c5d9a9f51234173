"""Questions for the room: one opens a talk and one closes it, each with its answer on the next slide."""

from collections.abc import Iterator, Sequence
from dataclasses import replace

from builder.compose.selftest.question import Question
from builder.compose.selftest.questions import questions_of
from builder.compose.slides.slide import Sketch, SlidePart, Speech
from builder.compose.slides.slide_layout import fits
from builder.compose.slides.slide_text import joined, stopped
from builder.load.program_words import gettext
from builder.model.library import Library
from builder.model.pages import Procedure

OPENING, CLOSING = 1, 1
_THINK = 25.0
_LEAST_IN_ORDER = 3
_LETTERS = "abcdefgh"
Pair = tuple[Sketch, Sketch]


def questions(library: Library, procedure: Procedure) -> tuple[tuple[Pair, ...], tuple[Pair, ...]]:
    """Return what opens and what closes the talk: slides of a question and of its answer.

    It opens with what is seen before a cut or with an order, closes with what would be a mistake when it goes wrong.
    A question that fits on no slide loses wrong answers, never the right ones, or is not asked.
    """
    asked = questions_of(library, procedure)
    opening = _first(asked, ("seen-", "order-", "choice-"), OPENING)
    closing = _first(asked, ("mistake-", "sign-", "loss-", "far-", "way-", "order-"), CLOSING)
    closing = [question for question in closing if question not in opening]
    pairs = [pair for number, question in enumerate((*opening, *closing), 1) for pair in _pair(question, number)]
    return tuple(pairs[: len(opening)]), tuple(pairs[len(opening) :])


def _first(asked: Sequence[Question], kinds: Sequence[str], most: int) -> list[Question]:
    """Return at most ``most`` questions, one of each kind in turn: first one that loses none of its answers, and of
    these the one with most right answers."""
    taken: list[Question] = []
    for kind in kinds:
        fitting = [one for one in asked if one.id.startswith(kind) and next(_pair(one, 1), None)]
        if fitting and len(taken) < most:
            taken.append(
                max(fitting, key=lambda one: (fits(_asked(one, 1)) and fits(_answered(one, 1)), len(one.answer)))
            )
    return taken


def _pair(question: Question, number: int) -> Iterator[Pair]:
    """Yield the two slides of ``question``, where it can be made to fit."""
    shorter: Question | None = question
    while shorter:
        pair = _asked(shorter, number), _answered(shorter, number)
        if all(map(fits, pair)):
            yield pair
            return
        shorter = _shorter(shorter)


def _shorter(question: Question) -> Question | None:
    choices = question.choices
    if question.kind == "order":
        answer = question.answer[:-1]
        kept = tuple(choice for choice in choices if choice in answer)
        return replace(question, answer=answer, choices=kept) if len(answer) >= _LEAST_IN_ORDER else None
    wrong = [choice for choice in choices if choice not in question.answer]
    kept = tuple(choice for choice in choices if choice != wrong[-1]) if len(wrong) > 1 else ()
    return replace(question, choices=kept) if kept else None


def _asked(question: Question, number: int) -> Sketch:
    lettered = zip(_LETTERS, question.choices, strict=False)
    parts = tuple(SlidePart("option", choice, letter) for letter, choice in lettered)
    return Sketch(
        "question",
        f"question-{number}",
        f"question-{number}",
        question.asks,
        Speech(
            question.asks, prompt=gettext("Let the room answer before you go on."), answer=_right(question), wait=_THINK
        ),
        gettext("Question for the room"),
        gettext("Q%(number)s", number=number),
        parts=parts,
    )


def _answered(question: Question, number: int) -> Sketch:
    order = question.kind == "order"
    parts = tuple(
        SlidePart("answer", f"{question.lead}{text}", str(at) if order else "•")
        for at, text in enumerate(question.answer, 1)
    )
    told = Sketch(
        "answer",
        f"answer-{number}",
        f"question-{number}",
        gettext("Answer to question %(number)s", number=number),
        Speech(joined(_right(question), question.proof)),
        gettext("Answer"),
        gettext("A%(number)s", number=number),
        parts=parts,
    )
    proved = replace(told, parts=(*parts, SlidePart("because", question.proof)))
    return proved if fits(proved) else told


def _right(question: Question) -> str:
    return stopped(question.lead + "; ".join(question.answer))

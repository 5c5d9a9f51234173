"""Questions for the room: at most two to open a talk and three to close it, each with its answer on the next slide."""

from collections.abc import Iterator, Sequence
from dataclasses import replace

from builder.compose.selftest.questions import Question, questions_of
from builder.compose.slides.slide import Sketch, SlidePart, SpeakerNote, Speech
from builder.compose.slides.slide_layout import fits
from builder.compose.slides.slide_text import joined, stopped
from builder.model.library import Library
from builder.model.pages import Procedure

OPENING, CLOSING = 2, 3
_THINK = 25.0
_LEAST_IN_ORDER = 3
_LETTERS = "abcdefgh"
Pair = tuple[Sketch, Sketch]


def questions(library: Library, procedure: Procedure) -> tuple[tuple[Pair, ...], tuple[Pair, ...]]:
    """Return what opens and what closes the talk: slides of a question and of its answer.

    It opens with an order and with what is seen before a cut, closes with cautions of critical steps and with what
    comes out. A question that fits on no slide loses wrong answers, never the right ones, or is not asked.
    """
    asked = [question for question in questions_of(library, procedure) if not question.id.startswith("cue-")]
    critical = {f"guard-{step.id}" for step in procedure.steps.values() if step.critical}
    opening = _first(asked, ("order-", "seen-", "out-"), OPENING, critical)
    rest = [question for question in asked if question not in opening]
    closing = _first(rest, ("guard-", "out-", "guard-", "order-", "seen-"), CLOSING, critical)
    pairs = [pair for number, question in enumerate((*opening, *closing), 1) for pair in _pair(question, number)]
    return tuple(pairs[: len(opening)]), tuple(pairs[len(opening) :])


def _first(asked: Sequence[Question], kinds: Sequence[str], most: int, critical: set[str]) -> list[Question]:
    """Return at most ``most`` questions, one of each kind in turn: of critical steps first, with many answers first."""
    taken: list[Question] = []
    for kind in kinds:
        left = (question for question in asked if question.id.startswith(kind) and question not in taken)
        fitting = [question for question in left if next(_pair(question, 1), None)]
        fitting.sort(key=lambda question: (question.id not in critical, -len(question.answer)))
        if fitting and len(taken) < most:
            taken.append(fitting[0])
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
    answer = _right(question)
    return Sketch(
        "question", f"question-{number}", f"question-{number}", question.asks,
        Speech(question.asks, prompt="Let the room answer before you go on.", answer=answer, wait=_THINK),
        "Question for the room", f"Q{number}", parts=parts, asides=(SpeakerNote("Answer", answer),),
    )  # fmt: skip


def _answered(question: Question, number: int) -> Sketch:
    order = question.kind == "order"
    parts = tuple(SlidePart("answer", text, str(at) if order else "•") for at, text in enumerate(question.answer, 1))
    # Where the answer is a caution, the sentence that proves it speaks of a page.
    proof = "" if question.id.startswith("guard-") else question.proof
    told = Sketch(
        "answer", f"answer-{number}", f"question-{number}", f"Answer to question {number}",
        Speech(joined(_right(question), proof)), "Answer", f"A{number}", parts=parts,
    )  # fmt: skip
    proved = replace(told, parts=(*parts, SlidePart("because", proof)))
    return proved if proof and fits(proved) else told


def _right(question: Question) -> str:
    return stopped("; ".join(question.answer))

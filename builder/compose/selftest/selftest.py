"""The self-test of a procedure: a page that works offline, with the keyboard alone, and on paper."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import groupby

from builder.compose.document import Must
from builder.compose.render import Renderer
from builder.compose.selftest.questions import Question, questions_of
from builder.compose.site.offers import Offer
from builder.compose.site.web import WebPage, page_text
from builder.compose.view.head import page_marks
from builder.model.library import Library
from builder.model.pages import Procedure


@dataclass(frozen=True, slots=True)
class Numbered:
    """A question with its ``number``; ``right`` says for each choice its place in an order, or whether it is right."""

    number: int
    question: Question
    right: tuple[int, ...]


@dataclass(frozen=True, slots=True)
class QuestionGroup:
    """Questions of one kind under one heading."""

    name: str
    anchor: str
    questions: tuple[Numbered, ...]


def compose(library: Library, procedure: Procedure, renderer: Renderer, _: Sequence[Offer] = ()) -> WebPage | None:
    """Return the self-test of ``procedure``, or None where its text holds nothing to ask."""
    asked = enumerate(questions_of(library, procedure), start=1)
    questions = [Numbered(number, question, _right(question)) for number, question in asked]
    if not questions:
        return None
    groups = tuple(
        QuestionGroup(name, f"group-{place}", tuple(members))
        for place, (name, members) in enumerate(groupby(questions, lambda numbered: numbered.question.group), start=1)
    )
    html = renderer.render(
        "selftest/selftest.html.j2",
        procedure=procedure,
        groups=groups,
        total=len(questions),
        marks=page_marks(library, procedure),
        store=f"{procedure.id} {procedure.edition}",
    )
    title = f"Self-test: {procedure.title}"
    return WebPage.about(
        procedure,
        "self-test",
        "self-test.html",
        page_text(library, title, f"{len(questions)} questions with answers", html),
        title=title,
        musts=tuple(Must("question", numbered.question.id, numbered.question.asks) for numbered in questions),
        explained={"questions": len(questions)},
    )


def _right(question: Question) -> tuple[int, ...]:
    if question.kind == "order":
        return tuple(question.answer.index(choice.text) + 1 for choice in question.choices)
    return tuple(int(choice.right) for choice in question.choices)

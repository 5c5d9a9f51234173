"""The self-test of a procedure: a page that works offline, with the keyboard alone, and on paper."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import groupby

from builder.compose.render import Renderer
from builder.compose.selftest.questions import Question, questions_of
from builder.compose.site.offers import Offer
from builder.compose.site.web import WebPage, as_markdown
from builder.compose.view.procedure_view import is_overdue
from builder.compose.view.view import Must
from builder.compose.view.words import STATUS_MARKS, day
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
    questions = [Numbered(number, one, _right(one)) for number, one in enumerate(questions_of(library, procedure), 1)]
    if not questions:
        return None
    groups = tuple(
        QuestionGroup(name, f"group-{place}", tuple(members))
        for place, (name, members) in enumerate(groupby(questions, lambda one: one.question.group), start=1)
    )
    due = (
        f"Review was due by {day(procedure.review_by)}"
        if procedure.review_by and is_overdue(library, procedure)
        else ""
    )
    html = renderer.render(
        "selftest/selftest.html.j2",
        procedure=procedure,
        groups=groups,
        total=len(questions),
        marks=[mark for mark in (STATUS_MARKS[procedure.status], due) if mark],
        store=f"{procedure.id} {procedure.edition}",
    )
    title = f"Self-test: {procedure.title}"
    return WebPage(
        kind="self-test",
        procedure=procedure.id,
        edition=procedure.edition,
        title=title,
        name=f"{procedure.id}/self-test.html",
        text=as_markdown(f"{title} · {library.department.name}", f"{len(questions)} questions with answers", html),
        musts=tuple(Must("question", one.question.id, one.question.asks) for one in questions),
        explained={"questions": len(questions)},
    )


def _right(question: Question) -> tuple[int, ...]:
    if question.kind == "order":
        return tuple(question.answer.index(choice.text) + 1 for choice in question.choices)
    return tuple(int(choice.right) for choice in question.choices)

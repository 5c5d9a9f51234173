"""The interview sheet: the open questions of every step as Markdown that the educator fills in, and its way back.

The sheet is plain text on purpose: it can be sent by mail, filled in on a phone, or read aloud to a colleague. Only the
lines that name a step (``##`` with its ``File:``) and a question (``###``) must be left as they are.
"""

import re
from collections.abc import Iterator
from dataclasses import dataclass
from typing import NamedTuple

from builder.facts.gap_questions import BY_KEY, GapQuestion, open_questions
from builder.findings.finding import Finding
from builder.findings.message_words import counted, quoted
from builder.findings.register import finding
from builder.model.action import CUTS
from builder.model.library import Library
from builder.model.pages import Procedure, Step
from builder.place import Place

_INTRODUCTION = """\
Write the answer below each question. What you leave empty stays open. Please leave the lines that begin with `#`,
`>` or `File:` as they are. Then run `prescrub check --fill` with this file: each answer goes into its step.
"""
_FILE = re.compile(r"File: +`?(?P<file>[^`\s]+)`?\s*")
_QUESTION = re.compile(r"###\s+(?P<key>[a-z_]+):.*")
_COMMENT = re.compile(r"\s*>")


def ask(library: Library) -> str:
    """Return the interview sheet of ``library`` as Markdown: what does most harm first."""
    parts = [part for procedure in library.procedures for part in _asked(procedure)]
    if not parts:
        return "# Questions\n\nNo question is open.\n"
    return "\n".join([f"# Questions\n\n{_INTRODUCTION}", *parts])


_MOST = 25
"""Questions of a new draft on one sheet: more are not answered in an evening."""


def _asked(procedure: Procedure) -> Iterator[str]:
    steps = sorted(procedure.steps.values(), key=_harm, reverse=True)
    in_order = [(step, _gravest_first(step)) for step in steps]
    # The gravest question of each step comes before the second of any: nobody is asked the same of every step.
    rounds = [(turn, at) for at, (_, questions) in enumerate(in_order) for turn in range(len(questions))]
    is_new = any(step.proposed for step in steps)
    chosen = set(sorted(rounds)[: _MOST if is_new else None])
    if rounds:
        gravest = (
            "" if len(rounds) == len(chosen) else f" The {_MOST} gravest are here; ask again once they are answered."
        )
        yield f"# {procedure.title}\n\n{counted(len(rounds), 'open question')}.{gravest}\n"
    for at, (step, questions) in enumerate(in_order):
        asked = [question for turn, question in enumerate(questions) if (turn, at) in chosen]
        shown = [f"### {question.key}: {question.asked}\n> {question.help}\n\n" for question in asked]
        if shown:
            yield "\n".join([_heading(step), *shown])


def _harm(step: Step) -> int:
    """Return how much harm a gap of ``step`` can do: critical steps and cuts first, then whatever else is done."""
    cuts = any(action.verb in CUTS for action in step.actions)
    return 4 * step.critical + (2 if cuts else 1 if step.actions else 0)


def _gravest_first(step: Step) -> list[GapQuestion]:
    """Return the open questions of ``step``: of a cut first what can be hurt, of others first how its end shows."""
    open_here = list(open_questions(step))
    if any(action.verb in CUTS for action in step.actions):
        open_here.sort(key=lambda question: question.key != "at_risk")
    return open_here


def _heading(step: Step) -> str:
    critical = " (critical step)" if step.critical else ""
    return f"## {step.title}{critical}\n\nFile: `{step.file}`\n"


@dataclass(frozen=True, slots=True)
class Answer:
    """One answer: the step's ``file``, the ``key`` it fills, the ``words`` of the educator, and where they stand."""

    file: str
    key: str
    words: str
    at: Place


def read_answers(sheet: str, name: str) -> tuple[list[Answer], list[Finding]]:
    """Return the answers in the text of a filled-in sheet called ``name``, and what is unclear in it."""
    answers, findings = [], []
    for asked in _questions(sheet):
        if not asked.is_clear:
            message, hint = (
                "this question does not belong to any step",
                "Put the line `File: ...` of the step above it.",
            )
            if asked.key not in BY_KEY:
                message = f"{quoted(asked.key)} is not a question on this sheet"
                hint = f"Write one of: {', '.join(BY_KEY)}."
            findings.append(finding("answer-unclear", Place(name, asked.number), message, hint))
        elif asked.lines:
            number, line = asked.lines[0]
            at = Place(name, number, len(line) - len(line.lstrip()) + 1)
            answers.append(Answer(asked.file, asked.key, " ".join(line.strip() for _, line in asked.lines), at))
    return answers, findings


class _SheetQuestion(NamedTuple):
    """A question of a sheet: its line, its key, the file of its step, and the lines below it with their numbers."""

    number: int
    key: str
    file: str
    lines: list[tuple[int, str]]

    @property
    def is_clear(self) -> bool:
        return self.key in BY_KEY and bool(self.file)


def _questions(sheet: str) -> Iterator[_SheetQuestion]:
    file, asked = "", None
    for number, line in enumerate(sheet.replace("\r\n", "\n").split("\n"), start=1):
        question, named = _QUESTION.fullmatch(line.rstrip()), _FILE.fullmatch(line)
        if line.startswith("#"):
            if asked:
                yield asked
            asked = _SheetQuestion(number, question["key"], file, []) if question else None
            file = "" if line.startswith("## ") else file
        elif named and not (asked and asked.is_clear):
            file = named["file"]
        elif asked and line.strip() and not _COMMENT.match(line):
            asked.lines.append((number, line))
    if asked:
        yield asked

"""The interview sheet: the open questions of every step as Markdown that the educator fills in, and its way back.

The sheet is plain text on purpose: it can be sent by mail, filled in on a phone, or read aloud to a colleague. Only the
lines that name a step (``##`` with its ``File:``) and a question (``###``) must be left as they are.
"""

import re
from collections.abc import Iterator
from dataclasses import dataclass
from typing import NamedTuple

from builder.facts.gap_questions import BY_KEY, open_questions
from builder.findings.finding import Finding
from builder.findings.message_words import quoted
from builder.findings.register import finding
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
    """Return the interview sheet of ``library`` as Markdown: critical steps of each procedure first."""
    parts = [part for procedure in library.procedures for part in _asked(procedure)]
    if not parts:
        return "# Questions\n\nNo question is open.\n"
    return "\n".join([f"# Questions\n\n{_INTRODUCTION}", *parts])


def _asked(procedure: Procedure) -> Iterator[str]:
    steps = sorted(procedure.steps.values(), key=lambda step: not step.critical)
    asked = [(step, list(open_questions(step))) for step in steps]
    asked = [(step, questions) for step, questions in asked if questions]
    if asked:
        number = sum(len(questions) for _, questions in asked)
        yield f"# {procedure.title}\n\n{number} open {'question' if number == 1 else 'questions'}.\n"
    for step, questions in asked:
        yield "\n".join([_heading(step), *(f"### {one.key}: {one.asked}\n> {one.help}\n\n" for one in questions)])


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

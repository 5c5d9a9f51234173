"""The interview sheet: the open questions of every step as Markdown that the educator fills in, and its way back.

The sheet is plain text on purpose: it can be sent by mail, filled in on a phone, or read aloud to a colleague. Only the
lines that name a step (``##`` with its ``File:``) and a question (``###``) must be left as they are.
"""

import re
from collections.abc import Iterator
from dataclasses import dataclass

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
    reader = _SheetReader(name)
    for number, line in enumerate(sheet.replace("\r\n", "\n").split("\n"), start=1):
        reader.take(number, line)
    reader.close()
    return reader.answers, reader.findings


class _SheetReader:
    def __init__(self, name: str) -> None:
        self.name = name
        self.file = ""
        self.key = ""
        self.at = Place(name)
        self.lines: list[str] = []
        self.answers: list[Answer] = []
        self.findings: list[Finding] = []

    def take(self, number: int, line: str) -> None:
        question, file = _QUESTION.fullmatch(line.rstrip()), _FILE.fullmatch(line)
        if question:
            self.close()
            self._ask(number, question["key"])
        elif file and not self.key:
            self.file = file["file"]
        elif line.startswith("#"):
            self.close()
            self.file = "" if line.startswith("## ") else self.file
        elif line.strip() and not _COMMENT.match(line):
            self._answer(number, line)

    def _ask(self, number: int, key: str) -> None:
        at = Place(self.name, number)
        if key not in BY_KEY:
            message, hint = f"{quoted(key)} is not a question on this sheet", f"Write one of: {', '.join(BY_KEY)}."
            self.findings.append(finding("answer-unclear", at, message, hint))
        elif not self.file:
            message, hint = (
                "this question does not belong to any step",
                "Put the line `File: ...` of the step above it.",
            )
            self.findings.append(finding("answer-unclear", at, message, hint))
        else:
            self.key = key

    def _answer(self, number: int, line: str) -> None:
        if self.key and not self.lines:
            self.at = Place(self.name, number, len(line) - len(line.lstrip()) + 1)
        self.lines.append(line.strip())

    def close(self) -> None:
        """End the answer that is being read."""
        if self.key and self.lines:
            self.answers.append(Answer(self.file, self.key, " ".join(self.lines), self.at))
        self.key, self.lines = "", []

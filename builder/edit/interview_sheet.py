"""The interview sheet: the open questions of every step as Markdown that the educator fills in, and its way back.

The sheet is plain text on purpose: it can be sent by mail, filled in on a phone, or read aloud to a colleague. Only the
lines that name a step (``##`` with its ``File:``) and a question (``###``) must be left as they are.
"""

import re
from collections.abc import Iterator
from dataclasses import dataclass
from typing import NamedTuple

from builder.check.paths.unsaid_deeds import UnsaidDeed, unsaid_deeds
from builder.check.rules.proposed import unsaid
from builder.facts.coverage import steps_of
from builder.facts.gap_questions import BY_KEY, COUNTS, DEEDS, NOT_SAID_YET, GapQuestion, open_questions
from builder.findings.finding import Finding
from builder.findings.message_words import counted, quoted
from builder.findings.register import finding
from builder.grouping import grouped
from builder.model.action import CUTS
from builder.model.fields import is_not_said
from builder.model.library import Library
from builder.model.pages import Aftercare, Caution, Procedure, Signal, Step
from builder.place import Place

_Page = Step | Caution | Aftercare | Procedure

_INTRODUCTION = """\
Write the answer below each question. What you leave empty stays open. Please leave the lines that begin with `#`,
`>` or `File:` as they are. Then run `prescrub check --fill` with this file: each answer goes into its place.
"""
_FILE = re.compile(r"File: +`?(?P<file>[^`\s]+)`?\s*")
_QUESTION = re.compile(r"###\s+(?P<key>[a-z_]+(?:\.[a-z0-9]+)?):.*")
_DEED = re.compile(rf"(?:{'|'.join(sorted(DEEDS))})\.[1-9][0-9]{{0,3}}")
_COMMENT = re.compile(r"\s*>")


def ask(library: Library) -> str:
    """Return the interview sheet of ``library`` as Markdown: what does most harm first."""
    parts = [part for procedure in library.procedures for part in _asked(library, procedure)]
    if not parts:
        return "# Questions\n\nNo question is open.\n"
    return "\n".join([f"# Questions\n\n{_INTRODUCTION}", *parts])


MOST_ASKED = 25
"""Questions of a new draft on one sheet: more are not answered in an evening."""


class OpenQuestion(NamedTuple):
    """One question; ``turn`` is its place among those of its page, the gravest first, and below 0 before all others.

    ``names`` are what the check knows of the answer.
    """

    turn: int
    key: str
    asked: str
    help: str
    names: tuple[str, ...] = ()


def gravest_questions(library: Library, procedure: Procedure) -> list[tuple[_Page, OpenQuestion]]:
    """Return all that ``procedure`` leaves open, what does most harm first."""
    in_order = [(page, list(_questions_of(page, deeds))) for page, deeds in _pages(library, procedure)]
    return [(in_order[at][0], question) for *_, at, question in _rounds(in_order)]


def _rounds(in_order: list[tuple[_Page, list[OpenQuestion]]]) -> list[tuple[int, int, int, OpenQuestion]]:
    """Return the questions in their turn, with the number of their page.

    The gravest question of each page comes before the second of any: nobody is asked the same of every step.
    """
    rounds = [
        (question.turn, -_harm(page), at, question)
        for at, (page, questions) in enumerate(in_order)
        for question in questions
    ]
    return sorted(rounds, key=lambda row: (*row[:3], row[3].key))


def _asked(library: Library, procedure: Procedure) -> Iterator[str]:
    in_order = [(page, list(_questions_of(page, deeds))) for page, deeds in _pages(library, procedure)]
    rounds = _rounds(in_order)
    is_new = any(step.proposed for step in procedure.steps.values())
    chosen = {(at, question.key) for *_, at, question in rounds[: MOST_ASKED if is_new else None]}
    if rounds:
        gravest = (
            ""
            if len(rounds) == len(chosen)
            else f" The {MOST_ASKED} gravest are here; ask again once they are answered."
        )
        yield f"# {procedure.title}\n\n{counted(len(rounds), 'open question')}.{gravest}\n"
    for at, (page, questions) in enumerate(in_order):
        asked = [question for question in questions if (at, question.key) in chosen]
        shown = [f"### {question.key}: {question.asked}\n> {question.help}\n\n" for question in asked]
        if shown:
            yield "\n".join([_heading(page), *shown])


def _pages(library: Library, procedure: Procedure) -> Iterator[tuple[_Page, list[UnsaidDeed]]]:
    """Yield what is asked about: the steps in the order of the operation, cautions, aftercare, the procedure itself."""
    deeds = grouped((str(deed.step.file), deed) for deed in unsaid_deeds(library, procedure))
    steps = {step.file: step for step in (*steps_of(procedure), *procedure.steps.values())}
    others: tuple[_Page, ...] = (*procedure.cautions.values(), *procedure.aftercare_items.values(), procedure)
    for page in (*steps.values(), *others):
        yield page, deeds.get(str(page.file), [])


def _questions_of(page: _Page, deeds: list[UnsaidDeed]) -> Iterator[OpenQuestion]:
    for deed in deeds:
        turn = -2 if deed.key == COUNTS else -1  # what is left in a patient is worse than what is not seen
        yield OpenQuestion(turn, f"{deed.key}.{deed.number}", deed.asked, deed.help, deed.names)
    keys = (key.replace(": ", ".") for key, _ in unsaid(page))
    blank = [(key, *NOT_SAID_YET[key]) for key in keys if key in NOT_SAID_YET]
    gaps = [(gap.key, gap.asked, gap.help) for gap in (_gravest_first(page) if isinstance(page, Step) else ())]
    if isinstance(page, Caution):
        gaps = [(key, *NOT_SAID_YET[key]) for key in ("sign", "if_it_happens") if getattr(page, key) is None]
    yield from (OpenQuestion(turn, *question) for turn, question in enumerate([*blank, *gaps]))


def _harm(page: _Page) -> int:
    """Return how much harm a gap can do: critical steps and cuts first, then grave cautions, then what else is done."""
    if isinstance(page, Caution):
        return 3 if page.signal in (Signal.DANGER, Signal.WARNING) else 1
    if not isinstance(page, Step):
        return -1
    cuts = any(action.verb in CUTS for action in page.actions)
    return 4 * page.critical + (2 if cuts else 1 if page.actions else 0)


def _gravest_first(step: Step) -> list[GapQuestion]:
    """Return the open questions of ``step``: of a cut first what can be hurt, of others first how its end shows."""
    open_here = list(open_questions(step))
    if any(action.verb in CUTS for action in step.actions):
        open_here.sort(key=lambda question: question.key != "at_risk")
    return open_here


def _heading(page: _Page) -> str:
    if isinstance(page, Caution):
        title = f"{page.signal.value.capitalize()}: {page.avoid if is_not_said(page.hazard) else page.hazard}"
    else:
        kind = {Aftercare: " (aftercare)", Procedure: " (the procedure)"}.get(type(page), "")
        title = f"{page.title}{' (critical step)' if isinstance(page, Step) and page.critical else kind}"
    return f"## {' '.join(title.split())}\n\nFile: `{page.file}`\n"


def is_question(key: str) -> bool:
    """Tell whether ``key`` is one that a sheet asks about."""
    return key in BY_KEY or key in NOT_SAID_YET or bool(_DEED.fullmatch(key))


@dataclass(frozen=True, slots=True)
class Answer:
    """One answer: the ``file`` of the page, the ``key`` it fills, the ``words`` of the educator, where they stand."""

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
            if not is_question(asked.key):
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
        return is_question(self.key) and bool(self.file)


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

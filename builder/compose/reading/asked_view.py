"""What the talk left unsaid, gravest first: a question a screen, with what was told there and likely answers."""

import re
from dataclasses import dataclass

from builder.draft.told_file import Told
from builder.edit.interview_sheet import MOST_ASKED, OpenQuestion, gravest_questions
from builder.facts.coverage import steps_of
from builder.facts.gap_questions import COMES_OUT, COUNTS, SEES
from builder.model.fields import is_not_said
from builder.model.library import Library
from builder.model.pages import Caution, Procedure, Step

_MOST_PICKS = 8
_WORD = re.compile(r"\w+")


@dataclass(frozen=True, slots=True)
class AskedNow:
    """One question: its page (``file``, ``title``), its ``key``, what was told there, and answers to be clicked."""

    file: str
    title: str
    key: str
    asked: str
    help: str
    told: tuple[tuple[str, str], ...]
    picks: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class AskedView:
    """The screen: the question that is asked ``now``, if any is, which it is, and how many there are."""

    now: AskedNow | None
    number: int
    open: int
    more: int = 0
    """How many there are in all, where only the gravest are asked."""

    @property
    def progress(self) -> str:
        """How much is open, in words."""
        return (
            f"Question {self.number + 1} of the {self.open} gravest"
            if self.more
            else (f"Question {self.number + 1} of {self.open}")
        )


def asked_of(library: Library, procedure: Procedure, told: Told, number: int) -> AskedView:
    """Return question ``number`` of those that ``procedure`` leaves open and nobody has set aside."""
    open_now = [
        (page, question)
        for page, question in gravest_questions(library, procedure)
        if f"{page.file} {question.key}" not in told.set_aside
    ]
    if not open_now:
        return AskedView(None, 0, 0)
    more = len(open_now) if len(open_now) > MOST_ASKED else 0
    open_now = open_now[:MOST_ASKED]
    number = min(max(number, 0), len(open_now) - 1)
    page, question = open_now[number]
    below = str(page.file).removeprefix(f"content/procedures/{procedure.id}/")
    said = tuple((told.sentences[at].at, told.sentences[at].text) for at in told.on(below))
    picks = tuple(dict.fromkeys(_picks(library, procedure, page, question)))[:_MOST_PICKS]
    help_words = question.help.replace(" `", " “").replace("`", "”")
    now = AskedNow(str(page.file), _title(page), question.key, question.asked, help_words, said, picks)
    return AskedView(now, number, len(open_now), more)


def _title(page: object) -> str:
    if isinstance(page, Caution):
        return str(page.avoid if is_not_said(page.hazard) else page.hazard)
    return str(getattr(page, "title", ""))


def _picks(library: Library, procedure: Procedure, page: object, question: OpenQuestion) -> list[str]:
    key = question.key.partition(".")[0]
    if key in (SEES, COUNTS):
        return [", ".join(question.names)] if question.names else []
    if key == COMES_OUT:
        steps = [str(step.title) for step in steps_of(procedure)]
        at = steps.index(_title(page)) if _title(page) in steps else 0
        number = question.key.partition(".")[2]
        things = page.actions[int(number) - 1].objects if isinstance(page, Step) and number.isdecimal() else ()
        words = {word for name in things for word in str(name).casefold().split() if len(word) > 3}
        cares = [
            str(item.title)
            for item in procedure.aftercare_items.values()
            if not item.concerns and words & set(_WORD.findall(f"{item.title} {item.body.source}".casefold()))
        ]
        last = [*cares[:3], "stays"]
        return [*list(reversed(steps[at:]))[: _MOST_PICKS - len(last)], *last]
    if key == "at_risk" and isinstance(page, Step):
        named = [library.structures.find(str(name)) for action in page.actions for name in action.objects]
        near = [other for one in named if one for other in one.close_to]
        return [str(one.name) for one in named if one] + [
            str(one.name) for name in near if (one := library.structures.find(name))
        ]
    if key == "call":
        return [str(call.role) for call in library.department.call]
    return ["common practice"] if key == "evidence" else []

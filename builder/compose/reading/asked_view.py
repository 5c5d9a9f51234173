"""What the talk left unsaid, gravest first: a question a screen, with what was told there and likely answers."""

import re
from dataclasses import dataclass
from itertools import islice

from builder.draft.told_file import CAUTION_ROLES, DOES, PROSE, STEP_ROLES, Told
from builder.edit.interview_sheet import OpenQuestion, gravest_questions
from builder.facts.anatomy import MEANT_TO_STAY
from builder.facts.coverage import steps_of
from builder.facts.gap_questions import CLOSES, COMES_OFF, COMES_OUT, CONTROLS, COUNTS, IN_A_STEP, SEES, WENT_IN
from builder.model.action import CONTROLS as CONTROLLING
from builder.model.action import Verb
from builder.model.fields import is_not_said
from builder.model.library import Library
from builder.model.pages import Caution, Procedure, Step

_MOST_PICKS = 8
_MOST_BESIDE, _MOST_SHOWN = 6, 3
_GRAVE = -1
_ROUNDS = {_GRAVE: " that must be settled", 0: ", the gravest of each part: what comes after these may wait"}
_WORD = re.compile(r"\w+")


@dataclass(frozen=True, slots=True)
class AskedNow:
    """One question: its page (``file``, ``title``), its ``key``, what was told there, and answers to be clicked.

    Of what was told, and of what was told ``around`` it: the number of the sentence, when, its words, and whether it
    may be the answer.
    """

    file: str
    title: str
    key: str
    asked: str
    help: str
    told: tuple[tuple[int, str, str, bool], ...]
    around: tuple[tuple[int, str, str, bool], ...]
    picks: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class AskedView:
    """The screen: the question that is asked ``now``, if any is, which it is, and how many there are.

    ``progress`` is told of one round of them: nobody is shown the whole heap.
    """

    now: AskedNow | None
    number: int
    open: int
    progress: str = ""


def asked_of(library: Library, procedure: Procedure, told: Told, number: int) -> AskedView:
    """Return question ``number`` of those that ``procedure`` leaves open and nobody has set aside."""
    open_now = [
        (page, question)
        for page, question in gravest_questions(library, procedure)
        if f"{page.file} {question.key}" not in told.set_aside
    ]
    if not open_now:
        return AskedView(None, 0, 0)
    number = min(max(number, 0), len(open_now) - 1)
    page, question = open_now[number]
    below = str(page.file).removeprefix(f"content/procedures/{procedure.id}/")
    near = told.on(below) if isinstance(page, Step) else _told_beside(told, page, below)
    takes = isinstance(page, Step | Caution) and question.key in (*STEP_ROLES, *CAUTION_ROLES)
    said = tuple(
        (at, one.at, told.as_meant(one.text), takes and one.role != DOES and (one.page != below or one.role == PROSE))
        for at, one in ((at, told.sentences[at]) for at in near)
    )
    own = tuple(one for one in said if told.sentences[one[0]].page == below)[:_MOST_SHOWN]
    around = tuple(one for one in said if one not in own)
    picks = picks_of(library, procedure, page, question)
    help_words = question.help.replace(" `", " “").replace("`", "”")
    now = AskedNow(str(page.file), _title(page), question.key, question.asked, help_words, own, around, picks)
    rounds = [max(one.turn, _GRAVE) for _, one in open_now]
    return AskedView(now, number, len(open_now), _progress(rounds, number))


def _progress(rounds: list[int], number: int) -> str:
    """Say which question of its round it is: first what is left in, left open, not seen or not counted."""
    turn = rounds[number]
    which = f"Question {number - rounds.index(turn) + 1} of {rounds.count(turn)}"
    return f"{which}{_ROUNDS.get(turn, ' that may wait')}"


def _told_beside(told: Told, page: object, below: str) -> tuple[int, ...]:
    """Return the sentences of ``page``, and around those of a caution what was told of the steps that it guards."""
    own = told.on(below)
    guarded = {f"steps/{step}.md" for step in page.guards} if isinstance(page, Caution) else set()
    near = [at for at, said in enumerate(told.sentences) if said.page in guarded]
    near.sort(key=lambda at: abs(at - max(own, default=at)))
    return tuple(sorted({*own, *near[:_MOST_BESIDE]}))


def _title(page: object) -> str:
    if isinstance(page, Caution):
        return str(page.avoid if is_not_said(page.hazard) else page.hazard)
    return str(getattr(page, "title", ""))


def picks_of(library: Library, procedure: Procedure, page: object, question: OpenQuestion) -> tuple[str, ...]:
    """Return likely answers to ``question`` of ``page``, to be given with one click: the likeliest first."""
    return tuple(dict.fromkeys(_picks(library, procedure, page, question)))[:_MOST_PICKS]


def _picks(library: Library, procedure: Procedure, page: object, question: OpenQuestion) -> list[str]:
    key, _, number = question.key.partition(".")
    names = ", ".join(question.names)
    if key in (SEES, COUNTS):
        return [names] if names else []
    if key == CONTROLS:
        return [f"{verb} {names}" for verb in sorted(verb.value for verb in CONTROLLING)]
    if key in IN_A_STEP and isinstance(page, Step):
        return _steps_to_pick(library, procedure, page, key, int(number))
    if key == "at_risk" and isinstance(page, Step):
        named = [library.structures.find(str(name)) for action in page.actions for name in action.objects]
        near = [other for one in named if one for other in one.close_to]
        return [str(one.name) for one in named if one] + [
            str(one.name) for name in near if (one := library.structures.find(name))
        ]
    if key == "call":
        return [str(call.role) for call in library.department.call]
    return ["common practice"] if key == "evidence" else []


def _steps_to_pick(library: Library, procedure: Procedure, page: Step, key: str, number: int) -> list[str]:
    """Return the steps that may be meant, and that it stays: first of all where it is meant to."""
    stays = [*_cares(procedure, page, number), "stays"] if key == COMES_OUT else ["stays"] * (key != WENT_IN)
    placed = [library.items.find(str(name)) for name in page.actions[number - 1].objects]
    if key == COMES_OUT and all(item and item.kind in MEANT_TO_STAY for item in placed):
        return ["stays", *stays[:-1]]
    return [*_steps_for(key, procedure, page)[: _MOST_PICKS - len(stays)], *stays]


def _steps_for(key: str, procedure: Procedure, page: Step) -> list[str]:
    """Return the titles of the steps in which it is likely done: a clamp comes off soon, a layer is closed late."""
    steps = steps_of(procedure)
    at = next((at for at, step in enumerate(steps) if step.file == page.file), 0)
    likely = list(steps[at:] if key == COMES_OFF else steps[at::-1] if key == WENT_IN else steps[at:][::-1])
    if key == CLOSES:
        likely.sort(key=lambda step: -sum(action.verb is Verb.CLOSE for action in step.actions))
    return [str(step.title) for step in likely]


def _cares(procedure: Procedure, page: Step, number: int) -> list[str]:
    """Return the titles of aftercare with an end that may take out what action ``number`` of ``page`` puts in."""
    things = page.actions[number - 1].objects
    words = {word for name in things for word in str(name).casefold().split() if len(word) > 3}
    free = (item for item in procedure.aftercare_items.values() if item.when.until and not item.concerns)
    near = (item for item in free if words & set(_WORD.findall(f"{item.title} {item.body.source}".casefold())))
    return [str(item.title) for item in islice(near, 3)]

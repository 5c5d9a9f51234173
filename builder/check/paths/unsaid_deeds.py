"""What was done without a word about what belongs to it: cut and never seen, put in and never out, opened, not closed.

For the interview sheet, which asks for just this: each is a question about one action.
"""

from collections.abc import Iterator
from typing import NamedTuple

from builder.check.paths import path_words, wound
from builder.check.paths.analysis import compiled, is_clear
from builder.check.paths.failure import Failure, failures
from builder.check.paths.flow import solve
from builder.facts.anatomy import MEANT_TO_STAY, WORN_KINDS, Anatomy, anatomy
from builder.facts.automata import Deed
from builder.facts.coverage import steps_of
from builder.facts.gap_questions import ASKED, CLOSES, COMES_OFF, COMES_OUT, CONTROLS, COUNTS, IN_A_STEP, SEES, WENT_IN
from builder.findings.message_words import listed
from builder.model.action import CUTS, Verb
from builder.model.library import Library
from builder.model.pages import Procedure, Step

_HELP = {
    SEES: "The names of what you identify first, from the anatomy catalogue, with commas between them.",
    COUNTS: "Such as: swabs, needles, blades.",
    CONTROLS: "Such as: tie cystic duct.",
    WENT_IN: "The title of that step.",
    **dict.fromkeys((COMES_OUT, COMES_OFF, CLOSES), "The title of that step; or: stays."),
}


class UnsaidDeed(NamedTuple):
    """A question about action ``number`` (from 1) of ``step``; ``key`` says what its answer becomes."""

    step: Step
    key: str
    number: int
    asked: str
    help: str
    names: tuple[str, ...] = ()
    """What it is asked about: structures or items, or what was in use."""


def unsaid_deeds(library: Library, procedure: Procedure) -> Iterator[UnsaidDeed]:
    """Yield what the analysis of ``procedure`` has to ask, once for each action; of a new draft also the count."""
    deeds = list(_analysed(library, procedure)) if is_clear(library, procedure) else []
    yield from deeds
    if not any(deed.key == COUNTS for deed in deeds):
        yield from _never_counted(procedure)


def _never_counted(procedure: Procedure) -> Iterator[UnsaidDeed]:
    """Yield the question of a new draft in which a wound is made and nothing at all is counted: before it is closed."""
    steps = [step for step in steps_of(procedure) if step.proposed]
    done = [(step, number, action.verb) for step in steps for number, action in enumerate(step.actions, start=1)]
    verbs = {verb for *_, verb in done}
    if Verb.COUNT in verbs or verbs.isdisjoint(CUTS | {Verb.OPEN, Verb.CLOSE}):
        return
    step, number, _ = [deed for deed in done if deed[2] is Verb.CLOSE or Verb.CLOSE not in verbs][-1]
    yield UnsaidDeed(step, COUNTS, number, "Before the wound is closed: what is counted aloud?", _HELP[COUNTS])


def _analysed(library: Library, procedure: Procedure) -> Iterator[UnsaidDeed]:
    program = compiled(library, procedure, anatomy(library))
    about: dict[tuple[str, str, int], tuple[Deed, list[str]]] = {}
    for failure in failures(program, solve(program)):
        key = ASKED.get(failure.check.rule, "")
        deed = _deed(failure, key)
        if key and deed is not None:
            number = next(at for at, action in enumerate(deed.step.actions, start=1) if action is deed.action)
            about.setdefault((deed.step.file, key, number), (deed, []))[1].extend(_names(failure, key))
    for (_, key, number), (deed, names) in about.items():
        known = tuple(dict.fromkeys(names))
        told = listed(list(known))
        asked = {
            SEES: f"Before you {path_words.deed(deed)}: do you see {told}?",
            COUNTS: f"Before you {path_words.deed(deed)}: what is counted aloud ({told} were in use)?",
            CONTROLS: f"You {path_words.deed(deed)}: how {path_words.is_(told)} {told} closed off?",
            COMES_OUT: _stays_or_comes_out(deed, told, anatomy(library)),
            COMES_OFF: f"In which step does the clamp on {told} come off?",
            CLOSES: f"In which step {path_words.is_(told)} {told} closed?",
            WENT_IN: f"In which step did {told} go in, which comes out here?",
        }
        yield UnsaidDeed(
            deed.step, key, number, asked[key], _HELP[key], tuple(name.removeprefix("the ") for name in known)
        )


def _stays_or_comes_out(deed: Deed, told: str, known: Anatomy) -> str:
    """Ask about what goes in: in which step it comes out, or of what is meant to stay whether it does."""
    kinds = {item.kind for item in map(known.item, deed.action.objects) if item is not None}
    if kinds and kinds <= MEANT_TO_STAY:
        return f"Does {told} stay, which goes {'on' if kinds <= WORN_KINDS else 'in'} here?"
    return f"In which step does {told} come out, which goes in here?"


def _deed(failure: Failure, key: str) -> Deed | None:
    """Return the action that is asked about: the one that was checked, else the last on its path that began it."""
    began = _CUTS if key == CONTROLS else {IN_A_STEP[key][0]} if key in _BEGUN else set()
    if failure.check.deed is not None and key not in _BEGUN:
        return failure.check.deed
    moved = (change.op.deed for change in reversed(failure.walk.changes))
    return next((deed for deed in moved if deed is not None and deed.action.verb.value in began), None)


_CUTS = {Verb.DIVIDE.value, Verb.EXCISE.value}
_BEGUN = frozenset({COMES_OUT, COMES_OFF, CLOSES})


def _names(failure: Failure, key: str) -> Iterator[str]:
    if key == COUNTS:
        yield from wound.categories(failure)
    else:
        entry = failure.check.item if key in (COMES_OUT, WENT_IN) else failure.check.structure
        yield from (path_words.the(str(entry.name)) for _ in [0] if entry is not None)

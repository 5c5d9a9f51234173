"""One thing has one side: in the actions of a step, in its words, and in the aftercare of what it leaves in."""

import re
from collections.abc import Iterator

from builder.check.hit import Hit, finds
from builder.facts import sides
from builder.facts.anatomy import Anatomy, anatomy
from builder.facts.texts import words_in, words_said
from builder.findings.finding import SecondPlace
from builder.findings.message_words import quoted
from builder.load.prose import Prose
from builder.model.action import ON_STRUCTURES, Action, Side, Verb
from builder.model.library import Library
from builder.model.pages import Aftercare, Item, Procedure, Step
from builder.place import Place, Text

_WORKS = ON_STRUCTURES - {Verb.IDENTIFY, Verb.PROTECT, Verb.EXPOSE}
_SIDED = words_in("left right")
_OTHER = {Side.LEFT: "right", Side.RIGHT: "left"}
_EACH = re.compile(r"\b(?:each|both|same|other|again|two|left and right|right and left)\b", re.IGNORECASE)
_TWICE = re.compile(r"\b(?P<on>(?:on|to|from) the (?:left|right)) and (?:then )?(?P=on)\b", re.IGNORECASE)


@finds("sides-differ", piecewise=True)
def sides_differ(library: Library) -> Iterator[Hit]:
    """Yield what a step does on one side of that of which it does something else on another, or on both.

    And aftercare that names one side of what a step leaves in on the other, and one side named twice in one breath.
    """
    catalogues = anatomy(library)
    for procedure in library.procedures:
        for step in procedure.steps.values():
            if any(action.side is not None for action in step.actions):
                yield from _worked_on(procedure, step, catalogues)
            if not _SIDED.isdisjoint(words_said(library, step)):
                yield from _named_twice(step)
        for item in procedure.aftercare_items.values():
            thing = catalogues.item(item.concerns) if item.concerns is not None else None
            if thing is not None:
                yield from _left_in_elsewhere(procedure, item, thing, catalogues)


def _worked_on(procedure: Procedure, step: Step, catalogues: Anatomy) -> Iterator[Hit]:
    first: dict[str, tuple[sides.Sides, Action]] = {}
    for action in step.actions:
        for name in action.objects if action.verb in _WORKS else ():
            structure = catalogues.structure(name)
            if structure is None or not structure.paired:
                continue
            on = sides.of_structure(structure.paired, action.side, procedure.side)
            before, other = first.setdefault(str(structure.id), (on, action))
            if before != on and not _EACH.search(f"{step.title} {step.body.source} {action.what or ''}"):
                told = f"the {structure.name} {_words(before)} above"
                message = f"{quoted(action.verb.value)} is done {_words(on)} here, but {other.verb.value} {told}"
                also = (SecondPlace(other.where.key(other.verb.value), "the other action"),)
                hint = "Write one side for both, or say in the text what is done on the other one."
                yield Hit(name.at, message, hint, also)
                return


def _words(on: sides.Sides) -> str:
    return sides.WORDS[on[0]] if len(on) == 1 else "on both sides"


def _named_twice(step: Step) -> Iterator[Hit]:
    texts: list[tuple[str, Text | Prose]] = [(step.body.source, step.body)]
    texts += [(str(text), text) for text in (step.title, step.cue, *(action.what for action in step.actions)) if text]
    for words, text in texts:
        match = _TWICE.search(words)
        if match is not None:
            message = f"{quoted(match.group())} names one side twice"
            yield Hit(_place(text, match.start()), message, "Write the other side once.")


def _place(text: Text | Prose, offset: int) -> Place:
    return text.place(offset) if isinstance(text, Prose) else text.at


def _left_in_elsewhere(procedure: Procedure, item: Aftercare, thing: Item, catalogues: Anatomy) -> Iterator[Hit]:
    """Yield words for one side in the aftercare of what is left in by steps whose actions are all on the other."""
    leaving = [step for step in procedure.steps.values() if any(_lays(one, thing, catalogues) for one in step.actions)]
    sided = [action for step in leaving for action in step.actions if action.side is not None]
    if not sided:
        yield from _told_elsewhere(leaving, item)
        return
    wrong = _OTHER.get(sided[0].side) if len({action.side for action in sided}) == 1 and sided[0].side else None
    names = "|".join(re.escape(name.split()[-1]) for name in (thing.name, *thing.also))
    pattern = re.compile(rf"\b{wrong}(?:-sided)? (?:[a-z]+ )?(?:{names})\b", re.IGNORECASE) if wrong else None
    texts: tuple[Text | Prose | None, ...] = (item.title, item.patient_text, item.body) if pattern else ()
    for text in texts:
        words = text.source if isinstance(text, Prose) else str(text or "")
        match = pattern.search(words) if pattern is not None else None
        if match is not None and text is not None:
            side = str(sided[0].side.value) if sided[0].side else ""
            message = f"{quoted(match.group())} is what the aftercare says, but it is left in on the {side}"
            also = (SecondPlace(sided[0].where.value("side"), "the side in the operation"),)
            yield Hit(_place(text, match.start()), message, "Write the same side in both places.", also)


_ON_A_SIDE = re.compile(r"\b(?P<side>left|right) (?:\w+ )?(?:side|flank|groin|chest|arm|leg|hip|loin)\b", re.IGNORECASE)
_TURNS = re.compile(r"\b(?:lie|turn|sleep|roll)\b", re.IGNORECASE)


def _told_elsewhere(leaving: list[Step], item: Aftercare) -> Iterator[Hit]:
    """Yield a side that aftercare tells, where the text of what was left in names only the other one."""
    told = {match["side"].casefold() for step in leaving for match in _ON_A_SIDE.finditer(step.body.source)}
    texts: tuple[Text | Prose | None, ...] = (item.title, item.patient_text, item.body) if len(told) == 1 else ()
    for text in texts:
        words = text.source if isinstance(text, Prose) else str(text or "")
        match = next((one for one in _ON_A_SIDE.finditer(words) if one["side"].casefold() not in told), None)
        if (
            match is not None
            and text is not None
            and not _TURNS.search(words, max(0, match.start() - 30), match.start())
        ):
            message = f"{quoted(match.group())} is what the aftercare says, but it is left in on the {min(told)}"
            also = (SecondPlace(leaving[0].body.place(0), "the side in the operation"),)
            yield Hit(_place(text, match.start()), message, "Write the same side in both places.", also)


def _lays(action: Action, thing: Item, catalogues: Anatomy) -> bool:
    return action.verb is Verb.PLACE and action.stays and any(catalogues.item(name) is thing for name in action.objects)

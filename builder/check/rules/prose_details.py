"""Do a step's prose and its actions say the same in detail: with what it is done, and how long something is?"""

import re
from collections import defaultdict
from collections.abc import Iterator
from fractions import Fraction

from builder.check.hit import Hit, finds
from builder.check.rules.caution_words import cautions_of
from builder.check.rules.prose_and_actions import ids_of, steps_with_prose
from builder.facts.clauses import Clause, Mood, clauses
from builder.facts.names_in_prose import NameInText, names_in_prose
from builder.facts.quantities import WrittenNumber, quantities
from builder.facts.texts import corpus
from builder.facts.told_actions import DOES, mentions_in, told_actions
from builder.findings.finding import SecondPlace
from builder.findings.message_words import quoted
from builder.model.action import Action
from builder.model.library import Library
from builder.model.pages import Item, ItemKind, Step


@finds("instrument-differs-from-text", piecewise=True)
def instrument_differs(library: Library) -> Iterator[Hit]:
    """Yield each instrument with which the prose orders something done that the actions do with another."""
    for step in steps_with_prose(library):
        used = [action for action in step.actions if action.using]
        if not used or not any(True for _ in _instruments(library, step)):
            continue
        differing = {
            instrument.start: (instrument, action)
            for instrument, action in (
                *_unknown_instruments(library, step, used),
                *_other_than_done(library, step, used),
            )
        }
        for start, (instrument, action) in sorted(differing.items()):
            shown_as, stated = quoted(step.body.source[start : instrument.stop]), quoted(str(action.using[0]))
            message = f"{shown_as} is what the text does this with, but the action says {stated}"
            hint = "Write the same instrument in the text and in the action."
            yield Hit(step.body.place(start), message, hint, (SecondPlace(action.at, "the action"),))


def _other_than_done(library: Library, step: Step, used: list[Action]) -> Iterator[tuple[NameInText, Action]]:
    """Yield an instrument of the text, and the action that does the same with others."""
    names = names_in_prose(library)
    for told in told_actions(library, step):
        if told.forbidden or told.clause.mood is not Mood.ORDER or told.clause.is_conditional:
            continue
        instrument = _with_instrument(library, step, told.clause)
        alike = [action for action in used if action.verb in DOES[told.doing]]
        same = [action for action in alike if told.is_done_by(action, ids_of(action, names))] or alike
        using = _used_in(library, same)
        if instrument is not None and using and instrument.entry.id not in using:
            yield instrument, same[0]


def _unknown_instruments(library: Library, step: Step, used: list[Action]) -> Iterator[tuple[NameInText, Action]]:
    """Yield an instrument that no action of the step knows, where the text names none of those that they know."""
    if _used_in(library, used) & {mention.entry.id for mention in mentions_in(library, step)}:
        return
    here = names_in_prose(library).handled(step.actions)
    for clause in clauses(step.body.source):
        if clause.mood is Mood.ORDER and not clause.negated and not clause.is_conditional:
            instrument = _with_instrument(library, step, clause)
            if instrument is not None and instrument.entry.id not in here:
                yield instrument, used[0]


def _used_in(library: Library, actions: list[Action]) -> set[str]:
    names = names_in_prose(library)
    return {entry.id for action in actions for name in action.using if (entry := names.find(name)) is not None}


_WITH = re.compile(
    r"\b(?:with|using) (?:(?:a|an|the|two|both|closed|fresh|clean|new|fine|small|large|curved|straight) )*$"
)


def _with_instrument(library: Library, step: Step, clause: Clause) -> NameInText | None:
    """Return the instrument that stands after ``with`` in ``clause``."""
    found = _instruments(library, step)
    return next((one for one in found if clause.start <= one.start and one.stop <= clause.stop), None)


def _instruments(library: Library, step: Step) -> Iterator[NameInText]:
    """Yield each instrument that stands after ``with`` in the prose."""
    text = step.body.source
    for mention in mentions_in(library, step):
        is_tool = isinstance(mention.entry, Item) and mention.entry.kind in _TOOLS
        if is_tool and _WITH.search(text, max(0, mention.start - 30), mention.start):
            yield mention


_TOOLS = frozenset(
    {ItemKind.INSTRUMENT, ItemKind.BLADE, ItemKind.NEEDLE, ItemKind.SUTURE, ItemKind.CLIP, ItemKind.DEVICE}
)


@finds("length-differs", piecewise=True)
def length_differs(library: Library) -> Iterator[Hit]:
    """Yield each length whose number stands in its step or a caution of it with another unit: 5 cm and 5 mm."""
    lengths = [one for one in quantities(library) if one.unit in _LENGTHS and one.value]
    by_file: dict[str, list[WrittenNumber]] = defaultdict(list)
    texts = corpus(library)
    for written in lengths:
        by_file[texts.piece(written.start).page.file].append(written)
    for procedure in library.procedures if lengths else ():
        for step in procedure.steps.values():
            of_cautions = (one for caution in cautions_of(procedure, step) for one in by_file.get(caution.file, ()))
            known: dict[Fraction | None, WrittenNumber] = {}
            for written in (*by_file.get(step.file, ()), *of_cautions):
                first = known.setdefault(written.value, written)
                if first.unit != written.unit:
                    shown_as, other = (quoted(texts.whole[one.start : one.end]) for one in (first, written))
                    message = f"{shown_as} is said here, and {other} as well"
                    also = (SecondPlace(texts.place(written.start), "the other length"),)
                    yield Hit(texts.place(first.start), message, "Correct the unit that is wrong.", also)
                    break


_LENGTHS = frozenset({"mm", "cm", "m"})

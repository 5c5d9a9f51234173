"""Rules that need no path: what is on the kit list but never used, and sides that are fixed too early."""

import re
from collections.abc import Iterator

from builder.check.hit import Hit
from builder.check.paths.program import Program
from builder.facts import sides
from builder.findings.finding import SecondPlace
from builder.model.action import Action, Verb
from builder.model.pages import Item, Step
from builder.place import Text


def steps_of(program: Program) -> list[Step]:
    """Return the steps of the sequence once each, in order."""
    return list({node.step.id: node.step for node in program.graph.nodes if node.step is not None}.values())


def unused_kit(program: Program) -> Iterator[Hit]:
    """Yield what is on the kit list but never used; two names of one item count as one.

    A drug that only a dose names is used: it is given by somebody, if not by an action.
    """
    anatomy = program.layout.anatomy
    used = {item.id for step in steps_of(program) for item in _used(program, step)}
    for name in program.procedure.kit:
        item = anatomy.item(name)
        if item is not None and item.id not in used:
            used.add(item.id)
            message = f"{item.name} is on the kit list but never used"
            hint = f"Remove it from the kit, or write the action that uses it (`with: {item.name}`)."
            places = (*_taken_out_only(program, item), *_named_in_text(program, item))
            yield Hit(name.at, message, hint, places[:1])


def _named_in_text(program: Program, item: Item) -> Iterator[SecondPlace]:
    """Yield where the text names what no action uses: its action has been forgotten there."""
    names = "|".join(re.escape(str(name)) for name in (item.name, *item.also))
    for step in steps_of(program):
        named = re.search(rf"\b(?:{names})(?:e?s)?\b", step.body.source, re.IGNORECASE)
        if named:
            yield SecondPlace(step.body.place(named.start()), "named here, but no action of this step uses it")


def _taken_out_only(program: Program, item: Item) -> Iterator[SecondPlace]:
    """Yield the action that takes out what no action places; else the kit line itself is the place to mend."""
    for step in steps_of(program):
        for action in step.actions:
            for name in action.objects if action.verb is Verb.REMOVE else ():
                if program.layout.anatomy.item(name) is item:
                    yield SecondPlace(name.at, "taken out here, but no action places it")
                    return


def listed_twice(program: Program) -> Iterator[Hit]:
    """Yield what is on the kit list under two names; the numbers are added up."""
    first: dict[str, Text] = {}
    for name in program.procedure.kit:
        item = program.layout.anatomy.item(name)
        if item is None:
            continue
        earlier = first.setdefault(item.id, name)
        if earlier is not name:
            message = f"{name} is already on the kit list, as {earlier}"
            hint = f"Write it once, with the total number: `{item.name}: ...`."
            yield Hit(name.at, message, hint, (SecondPlace(earlier.at, "the same item"),))


def _used(program: Program, step: Step) -> Iterator[Item]:
    layout = program.layout
    for action in step.actions:
        if action.verb in (Verb.PLACE, Verb.INJECT, Verb.IRRIGATE):
            yield from layout.items(action.objects)
        yield from layout.items(action.using)
    yield from layout.items(dose.drug for dose in step.dose)


def fixed_sides(program: Program) -> Iterator[Hit]:
    """Yield actions on a fixed side of a paired structure where the side is chosen for the patient."""
    for step in steps_of(program):
        for action in step.actions:
            stated = action.side
            if sides.fixed_too_early(stated, program.procedure.side) and _has_side(program, action):
                doing = f"{action.verb.value} {action.objects[0]} on the {stated.value if stated else ''}"
                message = f"{doing}: the side of this procedure is chosen for each patient"
                hint = "Leave out `side`, which then means the operated side."
                also = (SecondPlace(program.procedure.where.value("side"), "the side of the procedure"),)
                yield Hit(action.where.value("side"), message, hint, also)


def _has_side(program: Program, action: Action) -> bool:
    named = (*action.objects, *filter(None, (action.inside, action.on)))
    return any(structure.paired for structure in program.layout.structures(named))

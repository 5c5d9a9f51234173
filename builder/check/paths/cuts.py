"""What is said of what is cut: ends that stay open, what is tied too late, and what its own step was to spare."""

from collections.abc import Iterator

from builder.check.hit import Hit
from builder.check.paths import mending, path_words
from builder.check.paths.failure import Failure
from builder.check.paths.kit_lists import steps_of
from builder.check.paths.program import Program
from builder.check.paths.structures import CUT, OFF
from builder.facts import sides
from builder.facts.automata import known
from builder.findings.finding import SecondPlace
from builder.model.action import CONTROLS, Action, Verb
from builder.model.pages import Step, Structure
from builder.place import Text

_CUTTING = frozenset({Verb.DIVIDE, Verb.EXCISE})


def end_left_open(failure: Failure) -> Hit:
    """Return the finding of a duct or viscus whose cut ends are never closed."""
    structure = known(failure.check.structure)
    cut = known(failure.raised(lambda before, after: bool(after & CUT and not before & CUT)))
    problem = f"nothing closes the cut ends{failure.side_words} on this path"
    also = mending.done(failure, failure.op.key, "controlled", mending.CONTROLLING)
    also = also or mending.deadline(failure, f"the ends of {path_words.the(structure.name)} must be closed")
    hint = "Close them with `tie`, `seal`, `suture` or a clip (`clamp` with `stays: true`), or cut with a stapler."
    return failure.hit(path_words.deed(cut), problem, hint, also, cut.at)


def taken_out_raw(failure: Failure) -> Hit:
    """Return the finding of something that is taken out though no vessel, duct or viscus is controlled for it."""
    out = known(failure.raised(lambda _, after: after == 1))
    problem = "no vessel, duct or viscus is tied, sealed, clipped, stapled or sutured on this path"
    also = mending.done(failure, failure.op.key, "controlled", mending.CONTROLLING)
    also = also or [SecondPlace(known(failure.program.layout.anatomy.structure(out.name)).id.at, "what is taken out")]
    hint = "Write what is tied, sealed or sutured before it comes out, each with an action of its own."
    return failure.hit(path_words.deed(out), problem, hint, also, out.at)


def tied_too_late(failure: Failure) -> Hit:
    """Return the finding of what is tied, sealed or clipped when it has already been taken out."""
    deed, structure = known(failure.check.deed), known(failure.check.structure)
    name = path_words.the(structure.name)
    out = known(failure.raised(lambda before, after: bool(after & OFF and not before & OFF)))
    problem = f"{name} {path_words.has(name)} already been taken out{failure.side_words}"
    hint = f"Move `{deed.action.verb.value}: {structure.name}` before that, or name what is left behind."
    return failure.hit(path_words.deed(deed), problem, hint, [SecondPlace(out.at, "taken out here")], deed.at)


def cut_while_protected(program: Program) -> Iterator[Hit]:
    """Yield what a step divides or excises though the same step protects it, or names it at risk.

    A structure that the step controls first is cut on purpose, and may bleed or leak: it may be named at risk.
    """
    for step in steps_of(program):
        for action in step.actions:
            for name in action.objects if action.verb in _CUTTING else ():
                structure = program.layout.anatomy.structure(name)
                spared = _spared(program, step, action, structure) if structure is not None else None
                if structure is not None and spared is not None:
                    doing = f"{action.verb.value} {path_words.the(name)}"
                    says = "protected" if spared[1] else "named at risk"
                    message = f"{doing}: the same step {'protects it' if spared[1] else 'names it as at risk'}"
                    hint = (
                        "Correct the name that is wrong; what is cut on purpose is controlled first, and not protected."
                    )
                    yield Hit(name.at, message, hint, (SecondPlace(spared[0].at, f"{says} here"),))


def _spared(program: Program, step: Step, cut: Action, structure: Structure) -> tuple[Text, bool] | None:
    """Return where ``step`` protects what it cuts, and True; or where it names it at risk, and False."""
    anatomy, side = program.layout.anatomy, program.procedure.side
    here = set(sides.of_structure(structure.paired, cut.side, side))

    def same(action: Action) -> Iterator[Text]:
        for name in action.objects:
            if anatomy.structure(name) is structure and here & set(
                sides.of_structure(structure.paired, action.side, side)
            ):
                yield name

    protected = next((name for action in step.actions if action.verb is Verb.PROTECT for name in same(action)), None)
    if protected is not None:
        return protected, True
    controls = CONTROLS | {Verb.CLAMP}
    if any(action.verb in controls and any(same(action)) for action in step.actions) or anatomy.sealed_with(cut):
        return None
    return next(((name, False) for name in step.at_risk if anatomy.structure(name) is structure), None)

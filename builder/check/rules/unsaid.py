"""What says nothing that a check could look at: green must not claim more than was looked at."""

from collections.abc import Iterator

from builder.check.hit import Hit, finds
from builder.check.paths.analysis import is_clear, readable, stops_of, unknown_name
from builder.facts.anatomy import anatomy
from builder.facts.coverage import cuts, steps_of
from builder.facts.graph import NodeKind, unfold
from builder.facts.walk import has_shared
from builder.findings.message_words import counted, quoted
from builder.model.library import Library
from builder.model.pages import Procedure, Step
from builder.model.sequence import StepEntry
from builder.place import Place


@finds("step-without-actions", piecewise=True)
def without_actions(library: Library) -> Iterator[Hit]:
    """Yield each step of a sequence that neither says what is done nor why there is nothing to be analysed."""
    for procedure in library.in_use:
        steps = steps_of(procedure)
        if steps and all(step.no_actions and not step.actions for step in steps):
            message = f"{quoted(procedure.title)}: no step says what is done, so nothing of it was analysed"
            yield Hit(procedure.title.at, message, "Write under `actions:` of its steps what is done.")
    for step in _steps(library):
        if not step.actions and step.no_actions is None:
            message = f"{quoted(step.title)} says nothing of what is done, so it was not analysed"
            hint = "Write under `actions:` what is done, or under `no_actions:` why there is nothing to analyse."
            yield Hit(step.title.at, message, hint)


@finds("reason-beside-actions", piecewise=True)
def reason_beside_actions(library: Library) -> Iterator[Hit]:
    """Yield each reason for having no actions in a step that has some."""
    for step in _steps(library):
        if step.actions and step.no_actions is not None:
            has = counted(len(step.actions), "action")
            message = f"{quoted(step.no_actions)} says why the step has no action, but it has {has}"
            yield Hit(step.no_actions.at, message, "Remove `no_actions:`.")


@finds("procedure-without-caution", piecewise=True)
def without_caution(library: Library) -> Iterator[Hit]:
    """Yield each procedure that cuts, or does not say whether it does, and has no caution at all."""
    catalogues = anatomy(library)
    for procedure in library.in_use:
        if procedure.cautions or any(kind == "caution" for kind, _, _ in library.broken):
            continue
        steps = steps_of(procedure)
        first = next((step for step in steps for action in step.actions if cuts(action, catalogues)), None)
        if first is not None:
            why = f"has no caution, although it cuts in {quoted(first.title)}"
        elif any(not step.actions and step.no_actions is None for step in steps):
            why = "has no caution, and some of its steps do not say what is done"
        else:
            continue
        hint = "Write in cautions/ what can be hurt, how to avoid it and what to do if it happens."
        yield Hit(procedure.title.at, f"{quoted(procedure.title)} {why}", hint)


@finds("step-without-evidence", piecewise=True)
def without_evidence(library: Library) -> Iterator[Hit]:
    """Yield each step that rests on no source and does not say that it is common practice."""
    for step in _steps(library):
        cited = step.evidence or any(link.kind == "source" for link in step.body.links)
        if not cited and not step.common_practice:
            message = f"{quoted(step.title)}: nothing says what this step rests on"
            hint = "Add `evidence:` with a source, or `common_practice: true` where there is none."
            yield Hit(step.title.at, message, hint)


def _steps(library: Library) -> Iterator[Step]:
    return (step for procedure in library.in_use for step in steps_of(procedure))


@finds("rest-not-analysed", piecewise=True)
def rest_not_analysed(library: Library) -> Iterator[Hit]:
    """Yield the point from which on a procedure was not analysed, and what has to be mended first."""
    broken = [kind for kind in ("structures", "items") if library.is_broken(kind, kind)]
    if has_shared(library):
        yield from _nothing_analysed(library, broken)
    for procedure in (*library.procedures, *library.salvaged_procedures) if not broken else ():
        if is_clear(library, procedure):
            yield from _stopped(library, procedure)
        else:
            message = f"{quoted(procedure.title)}: its choices are unclear, so no way through it was analysed"
            yield Hit(procedure.where.key("sequence"), message, "Correct what is found in `sequence:` first.")


def _nothing_analysed(library: Library, broken: list[str]) -> Iterator[Hit]:
    for kind in broken[:1]:
        file = f"content/catalogue/{kind}.yml"
        at = library.misfits.get(file, Place(file))
        yield Hit(at, f"{quoted(kind)} cannot be used as they are, so no operation was analysed", _mend(at))
    salvaged = {str(procedure.id) for procedure in (library.within or library).salvaged_procedures}
    for kind, id, _ in sorted(library.broken):
        file = f"content/procedures/{id}/procedure.md"
        if kind == "procedure" and id not in salvaged and file in library.misfits and not broken:
            at = library.misfits[file]
            yield Hit(at, f"{quoted(id)} cannot be read, so nothing of the operation was analysed", _mend(at))


def _stopped(library: Library, procedure: Procedure) -> Iterator[Hit]:
    stops = stops_of(library, procedure)
    if not stops:
        return
    id, procedure = stops[0], readable(library, procedure)
    number = next(node.number for node in unfold(procedure, stops).nodes if node.kind is NodeKind.STOP)
    entries = [entry.step for entry in procedure.entries if isinstance(entry, StepEntry)]
    step, entry = procedure.steps.get(id), next(entry for entry in entries if entry == id)
    name = unknown_name(step.actions, anatomy(library)) if step else None
    at = name.at if name is not None else library.misfits.get(_file(procedure, id), entry.at)
    on_all = any(isinstance(entry, StepEntry) and entry.step == id for entry in procedure.sequence)
    ways = "" if on_all else ", on the ways that take it,"
    message = f"{quoted(id)} cannot be followed, so the operation from step {number} on{ways} was not analysed"
    yield Hit(at, message, _mend(at))


def _file(procedure: Procedure, step: str) -> str:
    return f"content/procedures/{procedure.id}/steps/{step}.md"


def _mend(at: Place) -> str:
    return f"Correct line {at.line} of {at.file} first."

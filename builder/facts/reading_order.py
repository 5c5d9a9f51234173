"""The pages of a procedure in the order in which a reader of the whole meets them."""

from __future__ import annotations

from builder.facts.remembered import once_per_library
from builder.model.fields import Page
from builder.model.library import Library
from builder.model.pages import Caution, Procedure
from builder.model.sequence import StepEntry, every_entry


@once_per_library
def reading_orders(library: Library) -> dict[str, list[Page]]:
    """Return the pages of each procedure in reading order, by its id."""
    return {str(procedure.id): reading_order(procedure) for procedure in library.procedures}


def reading_order(procedure: Procedure) -> list[Page]:
    """Return the procedure, its steps in sequence with each caution before the first step it guards, its aftercare.

    Only what the outputs show: a step outside the sequence and a caution that guards no step are left out.
    """
    found: list[Page] = [procedure]
    seen: set[str] = set()
    guarding = _guarding(procedure)
    for entry in every_entry(procedure.sequence):
        step = procedure.steps.get(entry.step) if isinstance(entry, StepEntry) else None
        if step is None or step.file in seen:
            continue
        for caution in guarding.get(step.id, ()):
            if caution.file not in seen:
                seen.add(caution.file)
                found.append(caution)
        seen.add(step.file)
        found.append(step)
    found.extend(procedure.aftercare_items.values())
    return found


def _guarding(procedure: Procedure) -> dict[str, list[Caution]]:
    """Return the cautions of each step: those that it names, and those that name it."""
    names: dict[str, dict[str, None]] = {
        str(id): dict.fromkeys(map(str, step.cautions)) for id, step in procedure.steps.items()
    }
    for id, caution in procedure.cautions.items():
        for guarded in caution.guards:
            names.setdefault(str(guarded), {})[str(id)] = None
    known = procedure.cautions
    return {step: [known[name] for name in named if name in known] for step, named in names.items() if named}

"""Gaps in critical steps: the ones that hurt most; the interview sheet asks for the rest."""

from __future__ import annotations

from collections.abc import Iterator

from builder.check.hit import Hit, finds
from builder.facts.gap_questions import is_observable
from builder.findings.message_words import quoted
from builder.model.library import Library
from builder.model.pages import Step


def _steps(library: Library) -> Iterator[Step]:
    for procedure in library.procedures:
        yield from procedure.steps.values()


@finds("critical-without-cue", piecewise=True)
def critical_without_cue(library: Library) -> Iterator[Hit]:
    """Yield critical steps that do not say how it is seen that they are done."""
    for step in _steps(library):
        if step.critical and step.cue is None:
            message = f"{quoted(step.title)} is critical, and nothing says how one sees that it is done"
            yield Hit(step.where.key("critical"), message, "Add `cue:` with what is seen, felt or heard.")


@finds("critical-without-if-not", piecewise=True)
def critical_without_way_out(library: Library) -> Iterator[Hit]:
    """Yield critical steps that do not say what to do when the cue does not come."""
    for step in _steps(library):
        if step.critical and step.if_not is None:
            message = f"{quoted(step.title)} is critical, and nothing says what to do when it does not go so"
            yield Hit(
                step.where.key("critical"), message, "Add `if_not:` with one or two orders: stop, look where, ask whom."
            )


@finds("cue-not-observable", piecewise=True)
def cue_not_observable(library: Library) -> Iterator[Hit]:
    """Yield cues that only say that all is well."""
    for step in _steps(library):
        if step.cue is not None and not is_observable(step.cue):
            message = f"{quoted(step.cue)} cannot be observed: it says that all is well, and not how that shows"
            yield Hit(step.cue.at, message, "Write what a bystander could see, feel, hear or measure.")

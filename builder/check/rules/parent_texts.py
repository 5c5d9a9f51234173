"""What the department changed in what its parent wrote: chosen with the present text in view, and no danger lost."""

from collections.abc import Iterator

from builder.check.hit import Hit, finds
from builder.findings.message_words import listed, quoted
from builder.model.library import Library
from builder.model.local_layers import DEPARTMENT
from builder.model.local_page import LocalChange, ParentDanger
from builder.model.pages import Procedure, Signal
from builder.place import Place

_MOST_WORDS = 60


@finds("parent-changed")
def parent_changed(library: Library) -> Iterator[Hit]:
    """Yield each change that was chosen over another text than the parent's of today."""
    for change in library.local:
        if change.was and not change.is_chosen:
            yield Hit(
                change.at, f"{_about(change)}: the parent has changed this since. {_both(change)}", _choose(change)
            )


@finds("local-not-confirmed")
def local_not_confirmed(library: Library) -> Iterator[Hit]:
    """Yield each change of a text of the parent that nobody has confirmed with both texts in view."""
    for change in library.local:
        if not change.was and not change.is_chosen:
            yield Hit(change.at, f"{_about(change)}: nobody has confirmed this yet. {_both(change)}", _choose(change))


def _about(change: LocalChange) -> str:
    return quoted(f"{change.target}, {change.key}" if change.key else change.target)


def _both(change: LocalChange) -> str:
    ours = "switched off" if change.verb == "switch_off" else quoted(_short(change.ours))
    return f"Ours: {ours}; the parent's: {quoted(_short(change.theirs)) if change.theirs else 'nothing'}"


def _short(text: str) -> str:
    words = text.split()
    return text if len(words) <= _MOST_WORDS else f"{' '.join(words[:_MOST_WORDS])} …"


def _choose(change: LocalChange) -> str:
    where = f"{change.procedure or DEPARTMENT} {change.number + 1}"
    return f"Choose with `prescrub local {where} --keep` or `--take`, or under *Local over parent* in the preview."


@finds("parent-danger-removed")
def parent_danger_removed(library: Library) -> Iterator[Hit]:
    """Yield each danger of the parent that is gone, is called something milder, or guards a step no longer."""
    for danger in library.dangers:
        procedure = library.by_id.get(danger.procedure)
        if procedure is None or library.is_broken("caution", danger.id, danger.procedure):
            continue
        lost = _lost(procedure, danger)
        if lost:
            message = f"{quoted(danger.hazard)} is a danger of the parent and {lost}"
            hint = "Keep it as it is, or ask the parent to write `may_be_removed: true` into it."
            yield Hit(_responsible(library, danger), message, hint)


def _lost(procedure: Procedure, danger: ParentDanger) -> str:
    caution = procedure.cautions.get(danger.id)
    if caution is None:
        return "is missing here"
    if caution.signal is not Signal.DANGER:
        return f"is only a {caution.signal.value} here"
    steps = [step for step in danger.steps if step in procedure.steps]
    if danger.steps and not steps:
        return f"guards none of its steps here: {listed(danger.steps)}"
    bare = [step for step in steps if caution not in procedure.guarding[step]]
    return f"no longer guards {listed(bare)}" if bare else ""


def _responsible(library: Library, danger: ParentDanger) -> Place:
    """Return the place of the entry that changed the caution, else a step of it, else the page of all entries."""
    of_procedure = [change for change in library.local if change.procedure in (danger.procedure, "")]
    for targets in ({("caution", danger.id)}, {("step", step) for step in danger.steps}, {("procedure", "")}):
        for change in of_procedure:
            if (change.kind, change.id) in targets:
                return change.at
    return Place(f"content/local/{danger.procedure}.md")

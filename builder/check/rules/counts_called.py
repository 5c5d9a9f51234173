"""Every count of an operation counts the same: what is counted before and after a count is counted in it."""

from collections.abc import Iterator
from typing import NamedTuple

from builder.check.hit import Hit, finds
from builder.findings.finding import SecondPlace
from builder.findings.message_words import listed, quoted
from builder.model.action import Action, Verb
from builder.model.library import Library
from builder.model.pages import Procedure
from builder.model.sequence import StepEntry

_SEVERAL = 2
"""Kinds of things that a count names which is meant to be of everything."""


@finds("count-leaves-out", piecewise=True)
def count_leaves_out(library: Library) -> Iterator[Hit]:
    """Yield each count of several kinds of things that leaves out one which the counts before and after it name.

    After the last count there is none: it counts what the one before it counts.
    """
    for procedure in library.procedures:
        counts = [count for count in _counts(procedure) if len(count.names) >= _SEVERAL]
        known: dict[str, Action] = {}
        for number, count in enumerate(counts):
            is_last = number + 1 == len(counts)
            beside = counts[number - 1 if is_last else number + 1].names
            missing = [name for name in known if name in beside and name not in count.names]
            if 0 < len(missing) < len(count.names):
                verb = "are" if len(missing) > 1 or missing[0].endswith("s") else "is"
                when = "before" if is_last else "before and after"
                message = f"{quoted(listed(missing))} {verb} counted {when} this count, but not in it"
                also = (SecondPlace(known[missing[0]].at, "counted here"),)
                yield Hit(count.action.at, message, f"Add `{missing[0]}` to this count.", also)
            known |= {name: known.get(name, count.action) for name in count.names}


class _Count(NamedTuple):
    """All that one step counts, and its first action that counts."""

    names: tuple[str, ...]
    action: Action


def _counts(procedure: Procedure) -> Iterator[_Count]:
    for entry in procedure.entries:
        step = procedure.steps.get(entry.step) if isinstance(entry, StepEntry) else None
        counting = [action for action in step.actions if action.verb is Verb.COUNT] if step is not None else []
        if counting:
            yield _Count(tuple(name.casefold() for action in counting for name in action.objects), counting[0])

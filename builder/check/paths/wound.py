"""What is said of a wound: nicks that show nothing, what is left open, and the count that is due at the end."""

from __future__ import annotations

from builder.check.hit import Hit
from builder.check.paths import mending, path_words
from builder.check.paths.failure import Failure
from builder.check.paths.structures import NICKED_UNSEEN, OPENED, OVER
from builder.facts import counts
from builder.facts.automata import known
from builder.findings.finding import SecondPlace, Severity
from builder.findings.message_words import listed
from builder.model.action import Verb
from builder.model.pages import Structure, StructureKind

MAY_GAPE = frozenset({StructureKind.FASCIA, StructureKind.MUSCLE, StructureKind.LIGAMENT, StructureKind.BONE})
"""Layers that are often left open on purpose: one that is not stated to be is a warning, all else is an error."""


def opened_somehow(one: Failure) -> Hit:
    """Return the note that nothing says with what something is opened beside what must be seen before a cut."""
    near, deed = known(one.check.structure), known(one.check.deed)
    problem = f"nothing says with what, and {path_words.the(near.name)} {path_words.has(near.name)} not been identified"
    also = mending.identified(one.program, one.walk, near, one.check.side)
    also = [*also, SecondPlace(near.id.at, f"{near.name}: to be seen before anything close to it is cut")]
    hint = "Write `with:` and what opens it; where it is a finger or the like, say so in `what:`."
    return one.hit(path_words.deed(deed), f"{problem}{one.side_words}", hint, also, deed.at)


def nicked(one: Failure) -> Hit:
    """Return the finding of a nick behind which the neighbour is never seen."""
    near = known(one.check.structure)
    nick = known(one.raised(lambda _, after: after == NICKED_UNSEEN))
    problem = f"{path_words.the(near.name)} {path_words.is_(near.name)} not identified afterwards{one.side_words}"
    also = mending.identified(one.program, one.walk, near, one.check.side)
    also = [*also, SecondPlace(near.id.at, f"{near.name}: to be seen before anything close to it is cut")]
    hint = f"Write `identify: {near.name}` after the nick, on every path, or leave out `nick` and see it before."
    return one.hit(path_words.deed(nick), problem, hint, also, nick.at)


def left_open(one: Failure) -> Hit:
    """Return the finding of what is opened and not closed, or closed only after the skin."""
    structure = known(one.check.structure)
    name = path_words.the(structure.name)
    opening = known(one.raised(lambda before, after: after % OVER == OPENED and before % OVER != OPENED))
    late = mending.earlier_on(one.program, one.walk, one.op.key, mending.SHUTTING) if one.final == OVER else None
    if late is not None:
        problem = f"{name} {path_words.is_(name)} still open when the skin is closed{one.side_words}"
        hint = f"Move `{late.action.verb.value}: {structure.name}` before the closing of the skin."
        also = [SecondPlace(late.at, "closed here, but only afterwards")]
    else:
        problem = f"{name} {path_words.is_(name)} not closed on this path{one.side_words}"
        hint = f"Write `close: {structure.name}` where it is closed, or `stays: true` here if it is meant to stay open."
        also = mending.done(one.program, one.walk, one.op.key, "closed", mending.SHUTTING)
    also += _belongs(one, structure, name)
    also += mending.done(one.program, one.walk, one.op.key, "opened", frozenset({Verb.OPEN}))
    hit = one.hit(path_words.deed(opening), problem, hint, also, opening.at)
    return hit._replace(severity=Severity.WARNING) if structure.kind in MAY_GAPE else hit


def _belongs(one: Failure, structure: Structure, name: str) -> list[SecondPlace]:
    """Return where the closing belongs: with the stitches, before the skin is closed, or at the end."""
    end = mending.in_last_step if structure.kind is StructureKind.SKIN else mending.deadline
    return mending.stitched(one.program, one.walk, structure) or end(one.program, one.walk, f"close {name}")


def uncounted(one: Failure) -> Hit:
    """Return the finding of a wound that is never closed on a count."""
    due = categories(one)
    one = max((one, *one.like), key=_when_due)
    used = known(one.raised(counts.makes_due))
    problem = f"the {listed(due)} are not counted after this, and no skin closure asks for the count"
    also = mending.counted(one.program, one.walk, one.op.key)
    also += mending.in_last_step(one.program, one.walk, "count")
    hint = f"Write `count: [{', '.join(due)}]` at the end, or before the skin is closed (`close`)."
    return one.hit(path_words.deed(used), problem, hint, also, used.at)


def _when_due(one: Failure) -> tuple[int, int]:
    """Return how late a count became due: the node and the number of the action, so that the last of all is named."""
    used = known(one.raised(counts.makes_due))
    nodes = [index for index in one.walk.nodes if one.program.graph.nodes[index].step is used.step]
    return nodes[-1], next(number for number, action in enumerate(used.step.actions) if action is used.action)


def categories(one: Failure) -> list[str]:
    """Return the categories of a failed count in the order of the count."""
    found = {one.check.what, *(other.check.what for other in one.like)}
    return [name for name in counts.CATEGORIES if name in found]

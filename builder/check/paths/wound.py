"""What is said of a wound: nicks that show nothing, what is left open, and the count that is due at the end.

What is opened is closed, or said to stay open. Stitches shut a layer, but only ``close`` shuts skin and cavities,
where counts and retained items hang on it: an error there, and for a viscus, duct or vessel; a warning for a layer.
What is closed only after the last skin was still open then, so it is found too. A count does not go away with its
closing: while a wound is open it is due at the end of the path. Where nothing is opened (an injection) no count is
asked for. Closing the last skin that the procedure opens ends the wound.
"""

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


def opened_somehow(failure: Failure) -> Hit:
    """Return the note that nothing says with what something is opened beside what must be seen before a cut."""
    near, deed = known(failure.check.structure), known(failure.check.deed)
    problem = f"nothing says with what, and {path_words.the(near.name)} {path_words.has(near.name)} not been identified"
    also = mending.to_be_seen(failure, near, mending.identified(failure, near, failure.check.side))
    hint = "Write `with:` and what opens it; if it is a finger or the like, say so in `what:`."
    return failure.hit(path_words.deed(deed), f"{problem}{failure.side_words}", hint, also, deed.at)


def nicked(failure: Failure) -> Hit:
    """Return the finding of a nick after which the neighbour is never seen."""
    near = known(failure.check.structure)
    nick = known(failure.raised(lambda _, after: after == NICKED_UNSEEN))
    problem = f"{path_words.the(near.name)} {path_words.is_(near.name)} not identified afterwards{failure.side_words}"
    also = mending.to_be_seen(failure, near, mending.identified(failure, near, failure.check.side))
    hint = f"Write `identify: {near.name}` after the nick, on every path, or before this without `nick`."
    return failure.hit(path_words.deed(nick), problem, hint, also, nick.at)


def left_open(failure: Failure) -> Hit:
    """Return the finding of what is opened and not closed, or closed only after the skin."""
    structure = known(failure.check.structure)
    name = path_words.the(structure.name)
    opening = known(failure.raised(lambda before, after: after % OVER == OPENED and before % OVER != OPENED))
    late = mending.earlier_on(failure, failure.op.key, mending.SHUTTING) if failure.final == OVER else None
    if late is not None:
        problem = f"{name} {path_words.is_(name)} still open when the skin is closed{failure.side_words}"
        hint = f"Move `{late.action.verb.value}: {structure.name}` before the closing of the skin."
        also = [SecondPlace(late.at, "closed here, but only afterwards")]
    else:
        problem = f"{name} {path_words.is_(name)} not closed on this path{failure.side_words}"
        hint = f"Write `close: {structure.name}` where it is closed, or `stays: true` here if it is meant to stay open."
        also = mending.done(failure, failure.op.key, "closed", mending.SHUTTING)
    also += _belongs(failure, structure, name)
    also += mending.done(failure, failure.op.key, "opened", frozenset({Verb.OPEN}))
    hit = failure.hit(path_words.deed(opening), problem, hint, also, opening.at)
    return hit._replace(severity=Severity.WARNING) if structure.kind in MAY_GAPE and late is None else hit


def out_of_order(failure: Failure) -> Hit:
    """Return the finding of a layer that is closed while what was opened beneath it is still open."""
    inner, deed = known(failure.check.structure), known(failure.check.deed)
    name = path_words.the(inner.name)
    beneath = f"which {path_words.was(inner.name)} opened after it, {path_words.is_(inner.name)} still open"
    also = mending.done(failure, failure.op.key, "closed", mending.SHUTTING)
    opening = mending.earlier_on(failure, failure.op.key, frozenset({Verb.OPEN}))
    also += mending.belongs_after(opening, "opened here")
    hint = f"Close {name} before this; write `stays: true` where it is opened if it is meant to stay open."
    return failure.hit(path_words.deed(deed), f"{name}, {beneath}{failure.side_words}", hint, also, deed.at)


def place_shut(failure: Failure) -> Hit:
    """Return the finding of something that is laid in a place which is not open."""
    place, deed = known(failure.check.structure), known(failure.check.deed)
    name, key = path_words.the(place.name), failure.op.key
    closed = mending.earlier_on(failure, key, mending.SHUTTING | {Verb.CLAMP})
    if failure.final and closed is not None:
        problem = f"{name} {path_words.has(name)} already been closed"
        hint = "Move this before the closing, or open the place again first."
        also = [SecondPlace(closed.at, "closed here"), *mending.in_sequence(failure, deed.step, closed.step)]
    else:
        problem = f"{name} {path_words.has(name)} not been opened"
        hint = f"Write `open: {place.name}` before this, or correct the place after `in:`."
        also = mending.done(failure, key, "opened", frozenset({Verb.OPEN}))
        also = also or [SecondPlace(place.id.at, f"{place.name}: no action opens it")]
    hit = failure.hit(path_words.deed(deed), f"{problem}{failure.side_words}", hint, also, deed.at)
    certain = failure.final or any(id == place.id for id, _ in failure.program.layout.opened)
    return hit if certain else hit._replace(severity=Severity.WARNING)


def _belongs(failure: Failure, structure: Structure, name: str) -> list[SecondPlace]:
    """Return where the closing belongs: with the stitches, before the skin is closed, or at the end."""
    end = mending.in_last_step if structure.kind is StructureKind.SKIN else mending.deadline
    return mending.stitched(failure, structure) or end(failure, f"close {name}")


def uncounted(failure: Failure) -> Hit:
    """Return the finding of a wound that is never closed on a count."""
    due = categories(failure)
    failure = max((failure, *failure.like), key=_when_due)
    used = known(failure.raised(counts.makes_due))
    problem = f"the {listed(due)} are not counted after this, and no skin closure asks for the count"
    also = mending.counted(failure, failure.op.key)
    also += mending.in_last_step(failure, "count")
    hint = f"Write `count: [{', '.join(due)}]` at the end, or before the skin is closed (`close`)."
    return failure.hit(path_words.deed(used), problem, hint, also, used.at)


def _when_due(failure: Failure) -> tuple[int, int]:
    """Return how late a count became due: the node and the number of the action, so that the last of all is named."""
    used = known(failure.raised(counts.makes_due))
    nodes = [index for index in failure.walk.nodes if failure.program.graph.nodes[index].step is used.step]
    return nodes[-1], next(number for number, action in enumerate(used.step.actions) if action is used.action)


def categories(failure: Failure) -> list[str]:
    """Return the categories of a failed count in the order of the count."""
    found = {failure.check.what, *(other.check.what for other in failure.like)}
    return [name for name in counts.CATEGORIES if name in found]

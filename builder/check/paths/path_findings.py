"""What each failed check says: the finding in a surgeon's words, with the second place that would mend it.

What is said of an open wound (nicks, what is left open, the count at the end) is in ``wound``.
"""

from __future__ import annotations

from collections.abc import Callable

from builder.check.hit import Hit
from builder.check.paths import mending, path_words, ward, wound
from builder.check.paths.failure import Failure
from builder.check.paths.structures import CLAMP
from builder.facts.automata import known
from builder.findings.finding import SecondPlace
from builder.findings.message_words import listed, quoted
from builder.model.action import CONTROLS, Verb


def report(one: Failure) -> Hit:
    """Return the finding of a failure."""
    return _REPORTS[one.check.rule](one)


def _unseen(one: Failure) -> Hit:
    structure, deed = known(one.check.structure), known(one.check.deed)
    name = structure.name
    problem = f"{path_words.the(name)} {path_words.has(name)} not been identified{one.side_words}"
    also = mending.identified(one.program, one.walk, structure, one.check.side)
    hint = f"Write `identify: {name}` before this, or move the step that does."
    if one.check.rule == "not-seen-before-cut":
        also = also or mending.looked_for(one.program, one.walk, structure)
    else:
        hint = f"Identify or protect {path_words.the(name)} before this; it lies close to {path_words.the(deed.name)}."
        if deed.action.verb is Verb.OPEN and not deed.action.nick:
            hint += " For a small cut that is made to see it, write `nick: true`."
        also = [*also, SecondPlace(structure.id.at, f"{name}: to be seen before anything close to it is cut")]
    return one.hit(path_words.deed(deed), problem, hint, also, deed.at)


def _uncontrolled(one: Failure) -> Hit:
    deed, name = known(one.check.deed), known(one.check.structure).name
    problem = f"{path_words.the(name)} {path_words.has(name)} not been clamped, tied or sealed{one.side_words}"
    also = mending.done(one.program, one.walk, one.op.key, "controlled", mending.CONTROLLING)
    structure = known(one.check.structure)
    also = also or mending.seen_here(one.program, one.walk, structure, one.check.side, "clamp, tie or seal it")
    return one.hit(
        path_words.deed(deed), problem, f"Clamp {path_words.the(name)} before this, or tie or seal.", also, deed.at
    )


def _clamp_left(one: Failure) -> Hit:
    name = known(one.check.structure).name
    clamp = known(one.raised(lambda before, after: bool(after & CLAMP and not before & CLAMP)))
    problem = f"the clamp{one.side_words} is not taken off on this path"
    also = mending.done(one.program, one.walk, one.op.key, "taken off", mending.RELEASING)
    tied = mending.earlier_on(one.program, one.walk, one.op.key, CONTROLS)
    also = also or mending.belongs_behind(
        tied, f"{path_words.the(name)} controlled here: the clamp can come off after this"
    )
    also += mending.deadline(one.program, one.walk, "the clamp must be off")
    hint = f"Write `release: {name}` where the clamp comes off, on every path that puts it on."
    return one.hit(path_words.deed(clamp), problem, hint, also, clamp.at)


def _released_early(one: Failure) -> Hit:
    deed, name = known(one.check.deed), path_words.the(known(one.check.structure).name)
    problem = f"{name} {path_words.is_(name)} divided and not tied, sealed or sutured{one.side_words}"
    also = mending.done(one.program, one.walk, one.op.key, "controlled", mending.CONTROLLING)
    cut = mending.earlier_on(one.program, one.walk, one.op.key, mending.CUTTING)
    also += mending.belongs_behind(cut, f"{name} divided here: tie, seal or suture after this")
    hint = f"Tie {name} before the clamp comes off, or seal or suture."
    return one.hit(path_words.deed(deed), problem, hint, also, deed.at)


def _released_nothing(one: Failure) -> Hit:
    deed, structure = known(one.check.deed), known(one.check.structure)
    name = path_words.the(structure.name)
    problem = f"no clamp is on {name}{one.side_words}"
    also = mending.done(one.program, one.walk, one.op.key, "clamped", mending.CLAMPING)
    off = mending.earlier_on(one.program, one.walk, one.op.key, mending.RELEASING | {Verb.EXCISE})
    also = also or mending.belongs_behind(off, "the clamp came off here")
    also = also or mending.seen_here(one.program, one.walk, structure, one.check.side, "clamp it")
    return one.hit(path_words.deed(deed), problem, f"Clamp {name} first, or remove this.", also, deed.at)


_MOMENTS = {"skin": "the skin is closed", "end": "the operation is over"}
_STAY = "if it is to stay, write `stays: true` and an aftercare that takes it out"


def _left_in(one: Failure) -> Hit:
    item, structure = known(one.check.item), one.check.structure
    name = path_words.the(item.name)
    placed = known(one.raised(lambda before, after: after > before))
    moment = _MOMENTS.get(one.check.what, "")
    if structure is not None:
        moment = f"{path_words.the(structure.name)} {path_words.is_(structure.name)} closed"
    also = mending.taken_out(one.program, one.walk, item)
    hint = f"Write `remove: {item.name}` before that; {_STAY}."
    care = next((care for care, concerned in ward.concerns(one.program) if concerned is item), None)
    if care is not None and care.concerns is not None and not also:
        hint = f"Write `stays: true` if it is to stay until that aftercare, or `remove: {item.name}` before that."
        also.append(SecondPlace(care.concerns.at, "this aftercare takes it out"))
    if one.check.deed is not None:
        also.append(SecondPlace(one.check.deed.at, f"{name} must be out before this"))
    else:
        also += mending.deadline(one.program, one.walk, f"{name} must be out")
    left = f"{name} {path_words.is_(name)} still in when {moment}"
    if one.final > 1 or placed.action.number > 1:
        left = f"{one.final} x {item.name} {path_words.is_count(one.final)} still in when {moment}"
    return one.hit(path_words.deed(placed), left, hint, also, placed.at)


_WENT = {Verb.PLACE: "placed here", Verb.REMOVE: "taken out here before", Verb.EXCISE: "left with what is excised here"}


def _not_in(one: Failure) -> Hit:
    item, deed = known(one.check.item), known(one.check.deed)
    number = one.walk.changes[-1].after if one.walk.changes else 0
    there = f"only {number} {path_words.is_count(number)} in" if number else "none is in"
    where = " there" if deed.action.inside or deed.action.on else ""
    also = mending.placed(one.program, one.walk, item)
    before = mending.earlier_on(one.program, one.walk, one.op.key, frozenset({Verb.PLACE, Verb.REMOVE, Verb.EXCISE}))
    also = also or mending.belongs_behind(before, _WENT.get(before.action.verb, "") if before else "")
    also = also or mending.in_the_lists(one.program, item)
    hint = f"Write where {path_words.the(item.name)} went in (`place`), or correct the number, the place or the side."
    return one.hit(path_words.deed(deed), f"{there}{where}{one.side_words}", hint, also, deed.at)


def _uncounted(one: Failure) -> Hit:
    deed = known(one.check.deed)
    due = wound.categories(one)
    since = (
        "the last were placed or a cavity was closed"
        if one.check.rule == "skin-closed-uncounted"
        else "the last were placed"
    )
    problem = f"the {listed(due)} have not been counted since {since}"
    also = mending.counted(one.program, one.walk, one.op.key)
    return one.hit(path_words.deed(deed), problem, f"Write `count: [{', '.join(due)}]` before this.", also, deed.at)


def _kit_short(one: Failure) -> Hit:
    item, deed, limit = known(one.check.item), known(one.check.deed), one.check.limit
    number = one.most + one.check.number
    procedure = one.program.procedure
    listed = [name for name in procedure.kit if one.program.layout.anatomy.item(name) is item]
    if listed:
        problem = f"{number} are in use at once, and {limit} {path_words.is_count(limit)} on the kit list"
        hint = f"Write `{listed[0]}: {number}` in the kit, or take one out before."
        return one.hit(path_words.deed(deed), problem, hint, [SecondPlace(listed[0].at, "the kit list")], deed.at)
    problem = f"{path_words.the(item.name)} {path_words.is_(item.name)} not on the kit list"
    also = [SecondPlace(procedure.where.key("kit"), "the kit list")]
    return one.hit(path_words.deed(deed), problem, f"Add `{item.name}: {number}` to the kit.", also, deed.at)


def _one_side(one: Failure) -> Hit:
    done = known(one.last)
    side, other = ("left", "right") if one.walk.changes[-1].after == 1 else ("right", "left")
    also = mending.done(one.program, one.walk, one.op.key, f"done on the {other}", frozenset())
    also = also or [SecondPlace(one.program.procedure.where.value("side"), "the procedure is for both sides")]
    problem = f"done on the {side} only, and the procedure is for both sides"
    hint = f"Repeat it on the {other} (`side: {other}`), or write `side: both`."
    return one.hit(path_words.deed(done), problem, hint, also, done.at)


def _need(one: Failure) -> Hit:
    need, step = one.check.what, known(one.check.step)
    also = mending.given(one.program, one.walk, need)
    before = mending.last_step(one.program, one.walk)
    says = f"the step before this: {quoted(need)} could be given here" if before else "the first step of the sequence"
    also = also or [SecondPlace((before or step).title.at, says)]
    hint = f"Move the step that gives it before this, or write `gives: [{need}]` where it is reached."
    return one.hit(f"{step.title}", f"{quoted(need)} is needed and has not been given", hint, also, known(one.check.at))


_REPORTS: dict[str, Callable[[Failure], Hit]] = {
    "not-seen-before-cut": _unseen,
    "neighbour-not-seen": _unseen,
    "vessel-not-controlled": _uncontrolled,
    "clamp-left-on": _clamp_left,
    "clamp-released-too-soon": _released_early,
    "released-without-clamp": _released_nothing,
    "item-left-in": _left_in,
    "removed-but-not-in": _not_in,
    "cavity-closed-uncounted": _uncounted,
    "skin-closed-uncounted": _uncounted,
    "not-enough-kit": _kit_short,
    "one-side-forgotten": _one_side,
    "need-not-met": _need,
    "nick-without-sight": wound.nicked,
    "left-open": wound.left_open,
    "ended-uncounted": wound.uncounted,
    "opened-with-what": wound.opened_somehow,
}

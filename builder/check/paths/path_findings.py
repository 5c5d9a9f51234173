"""What each failed check says: the finding in a surgeon's words, with the second place that would mend it.

What is said of an open wound (nicks, what is left open, the count at the end) is in ``wound``.
"""

from collections.abc import Callable

from builder.check.hit import Hit
from builder.check.paths import cuts, mending, path_words, ward, wound
from builder.check.paths.failure import Failure
from builder.check.paths.structures import CLAMP
from builder.facts.anatomy import WORN_KINDS
from builder.facts.automata import known
from builder.findings.finding import SecondPlace
from builder.findings.message_words import listed, quoted
from builder.model.action import CONTROLS, Verb


def report(failure: Failure) -> Hit:
    """Return the finding of a failure."""
    return _REPORTS[failure.check.rule](failure)


def _unseen(failure: Failure) -> Hit:
    structure, deed = known(failure.check.structure), known(failure.check.deed)
    name = structure.name
    problem = f"{path_words.the(name)} {path_words.has(name)} not been identified{failure.side_words}"
    also = mending.identified(failure, structure, failure.check.side) or mending.only_protected(failure, structure)
    hint = f"Write `identify: {name}` before this, or bring forward the step that identifies it."
    if failure.check.rule == "not-seen-before-cut":
        also = also or mending.looked_for(failure, structure)
    else:
        close = f"{path_words.the(deed.name)} {path_words.is_(deed.name)} close by"
        hint = f"Identify {path_words.the(name)} before this, because {close}."
        if deed.action.verb is Verb.OPEN and not deed.action.nick:
            hint += " For a small cut that is made in order to see it, write `nick: true`."
        also = mending.to_be_seen(failure, structure, also)
    return failure.hit(path_words.deed(deed), problem, hint, also, deed.at)


def _to_confirm(failure: Failure) -> Hit:
    near, deed = known(failure.check.structure), known(failure.check.deed)
    anatomy = failure.program.layout.anatomy
    cut = known(anatomy.structure(failure.check.what))
    relation = next(relation for other, relation in anatomy.to_confirm(cut) if other is near)
    read = f"{relation.source.work}, {relation.source.year}" if relation.source else "common practice"
    problem = f"{path_words.the(near.name)} {path_words.has(near.name)} not been identified{failure.side_words}"
    problem += f", and the common catalogue says that it is close by ({read})"
    hint = f"Identify {path_words.the(near.name)} before this; or, if you can say that it is not at risk here, write "
    hint += f"`{{id: {cut.id}, not_close_to: {{{near.name}: the reason}}}}` in content/catalogue/structures-local.yml."
    also = mending.identified(failure, near, failure.check.side)
    return failure.hit(path_words.deed(deed), problem, hint, also, deed.at)


def _uncontrolled(failure: Failure) -> Hit:
    deed, name = known(failure.check.deed), known(failure.check.structure).name
    problem = f"{path_words.the(name)} {path_words.has(name)} not been clamped, tied or sealed{failure.side_words}"
    also = mending.done(failure, failure.op.key, "controlled", mending.CONTROLLING)
    structure = known(failure.check.structure)
    also = also or mending.seen_here(failure, structure, failure.check.side, "clamp, tie or seal it")
    return failure.hit(
        path_words.deed(deed),
        problem,
        f"Control {path_words.the(name)} before this with `clamp`, `tie` or `seal`.",
        also,
        deed.at,
    )


def _clamp_left(failure: Failure) -> Hit:
    name = known(failure.check.structure).name
    clamp = known(failure.raised(lambda before, after: bool(after & CLAMP and not before & CLAMP)))
    problem = f"the clamp{failure.side_words} is not taken off on this path"
    also = mending.done(failure, failure.op.key, "taken off", mending.RELEASING, on_this_way=True)
    tied = mending.earlier_on(failure, failure.op.key, CONTROLS)
    also = also or mending.belongs_after(
        tied, f"{path_words.the(name)} controlled here: the clamp can come off after this"
    )
    also += mending.deadline(failure, "the clamp must be off")
    hint = f"Write `release: {name}` where the clamp comes off, on every path that puts it on."
    return failure.hit(path_words.deed(clamp), problem, hint, also, clamp.at)


def _released_early(failure: Failure) -> Hit:
    deed, name = known(failure.check.deed), path_words.the(known(failure.check.structure).name)
    problem = f"{name} {path_words.has(name)} been divided but not tied, sealed or sutured{failure.side_words}"
    also = mending.done(failure, failure.op.key, "controlled", mending.CONTROLLING)
    cut = mending.earlier_on(failure, failure.op.key, mending.CUTTING)
    also += mending.belongs_after(cut, f"{name} divided here: tie, seal or suture after this")
    hint = f"Control {name} with `tie`, `seal` or `suture` before the clamp comes off."
    return failure.hit(path_words.deed(deed), problem, hint, also, deed.at)


def _released_nothing(failure: Failure) -> Hit:
    deed, structure = known(failure.check.deed), known(failure.check.structure)
    name = path_words.the(structure.name)
    problem = f"there is no clamp on {name}{failure.side_words}"
    off = mending.earlier_on(failure, failure.op.key, mending.RELEASING | {Verb.EXCISE})
    also = mending.belongs_after(off, "the clamp came off here")
    also = also or mending.done(failure, failure.op.key, "clamped", mending.CLAMPING)
    also = also or mending.seen_here(failure, structure, failure.check.side, "clamp it")
    return failure.hit(path_words.deed(deed), problem, f"Clamp {name} first, or remove this action.", also, deed.at)


_MOMENTS = {"skin": "the skin is closed", "end": "the operation is over"}
_STAY = "if it is to stay, write `stays: true` and an aftercare that takes it out"


def _left_in(failure: Failure) -> Hit:
    item, structure = known(failure.check.item), failure.check.structure
    name = path_words.the(item.name)
    placed = known(failure.raised(lambda before, after: after > before))
    moment = _MOMENTS.get(failure.check.what, "")
    if structure is not None:
        moment = f"{path_words.the(structure.name)} {path_words.is_(structure.name)} closed"
    also = [*_took_too_few(failure), *mending.taken_out(failure, item)]
    hint = f"Write `remove: {item.name}` before that; {_STAY}."
    care = next((care for care, concerned in ward.concerns(failure.program) if concerned is item), None)
    if care is not None and care.concerns is not None and not also:
        hint = f"Write `stays: true` if it is to stay until that aftercare, or `remove: {item.name}` before that."
        also.append(SecondPlace(care.concerns.at, "this aftercare takes it out"))
    if failure.check.deed is not None:
        also.append(SecondPlace(failure.check.deed.at, f"{name} must be out before this"))
    else:
        also += mending.deadline(failure, f"{name} must be out")
    still = "on, and not said to stay," if item.kind in WORN_KINDS else "still in"
    left = f"{name} {path_words.is_(name)} {still} when {moment}"
    if failure.final > 1 or placed.action.number > 1:
        left = f"{failure.final} x {item.name} {path_words.is_count(failure.final)} {still} when {moment}"
    return failure.hit(path_words.deed(placed), left, hint, also, placed.at)


def _took_too_few(failure: Failure) -> list[SecondPlace]:
    """Return where on the path fewer were taken out than were in, and some of what was left never came out."""
    few: list[SecondPlace] = []
    for deed, before, after in failure.moves:
        took = f"{before - after} of {before} taken out here"
        few = [*few, SecondPlace(deed.at, took)] if 0 < after < before else few if after else []
    return few[:1]


_WENT = {
    Verb.PLACE: "placed here",
    Verb.REMOVE: "already taken out here",
    Verb.EXCISE: "left with what was excised here",
}


def _not_in(failure: Failure) -> Hit:
    item, deed = known(failure.check.item), known(failure.check.deed)
    number = failure.walk.changes[-1].after if failure.walk.changes else 0
    there = f"only {number} {path_words.is_count(number)} in place" if number else "none is in place"
    also = mending.placed(failure, item)
    before = mending.earlier_on(failure, failure.op.key, frozenset({Verb.PLACE, Verb.REMOVE, Verb.EXCISE}))
    also = also or mending.belongs_after(before, _WENT.get(before.action.verb, "") if before else "")
    also = also or mending.in_the_lists(failure.program, item)
    hint = f"Write where {path_words.the(item.name)} went in (`place`), or correct the number, the place or the side."
    return failure.hit(path_words.deed(deed), f"{there}{failure.side_words}", hint, also, deed.at)


def _line_out(failure: Failure) -> Hit:
    item, deed = known(failure.check.item), known(failure.check.deed)
    also = mending.placed(failure, item) or mending.in_the_lists(failure.program, item)
    before = mending.earlier_on(failure, failure.op.key, frozenset({Verb.REMOVE}))
    also = mending.belongs_after(before, "taken out here") or also
    hint = f"Write `place: {item.name}` before this, or correct the line after `through:`."
    problem = f"{path_words.the(item.name)} through which it is given {path_words.is_(item.name)} not in"
    return failure.hit(path_words.deed(deed), problem, hint, also, deed.at)


def _uncounted(failure: Failure) -> Hit:
    deed = known(failure.check.deed)
    due = wound.categories(failure)
    since = (
        "the last were placed or a cavity was closed"
        if failure.check.rule == "skin-closed-uncounted"
        else "the last were placed"
    )
    problem = f"the {listed(due)} have not been counted since {since}"
    also = mending.counted(failure, failure.op.key)
    return failure.hit(path_words.deed(deed), problem, f"Write `count: [{', '.join(due)}]` before this.", also, deed.at)


def _kit_short(failure: Failure) -> Hit:
    item, deed, limit = known(failure.check.item), known(failure.check.deed), failure.check.limit
    number = failure.in_use
    procedure = failure.program.procedure
    listed = [name for name in procedure.kit if failure.program.layout.anatomy.item(name) is item]
    if listed:
        problem = f"{number} {path_words.is_count(number)} in use at once, but the kit list has {limit}"
        hint = f"Write `{listed[0]}: {number}` in the kit, or take one out earlier."
        return failure.hit(path_words.deed(deed), problem, hint, [SecondPlace(listed[0].at, "the kit list")], deed.at)
    problem = f"{path_words.the(item.name)} {path_words.is_(item.name)} not on the kit list"
    also = [SecondPlace(procedure.where.key("kit"), "the kit list")]
    return failure.hit(path_words.deed(deed), problem, f"Add `{item.name}: {number}` to the kit.", also, deed.at)


def _one_side(failure: Failure) -> Hit:
    done = known(failure.last)
    side, other = ("left", "right") if failure.walk.changes[-1].after == 1 else ("right", "left")
    also = mending.done(failure, failure.op.key, f"done on the {other}", frozenset())
    also = also or [SecondPlace(failure.program.procedure.where.value("side"), "the procedure is for both sides")]
    problem = f"done on the {side} only, but the procedure is for both sides"
    hint = f"Repeat it on the {other} (`side: {other}`), or write `side: both`."
    return failure.hit(path_words.deed(done), problem, hint, also, done.at)


def _need(failure: Failure) -> Hit:
    need, step = failure.check.what, known(failure.check.step)
    also = mending.given(failure, need)
    before = mending.last_step(failure)
    says = f"the step before this: {quoted(need)} could be given here" if before else "the first step of the sequence"
    also = also or [SecondPlace((before or step).title.at, says)]
    hint = f"Bring forward the step that gives it, or write `gives: [{need}]` where it is reached."
    return failure.hit(
        f"{step.title}", f"{quoted(need)} is needed but has not been given", hint, also, known(failure.check.at)
    )


_REPORTS: dict[str, Callable[[Failure], Hit]] = {
    "not-seen-before-cut": _unseen,
    "neighbour-not-seen": _unseen,
    "neighbour-to-confirm": _to_confirm,
    "vessel-not-controlled": _uncontrolled,
    "cut-end-left-open": cuts.end_left_open,
    "taken-out-uncontrolled": cuts.taken_out_raw,
    "tied-after-removal": cuts.tied_too_late,
    "closed-out-of-order": wound.out_of_order,
    "place-not-open": wound.place_shut,
    "clamp-left-on": _clamp_left,
    "clamp-released-too-soon": _released_early,
    "released-without-clamp": _released_nothing,
    "item-left-in": _left_in,
    "removed-but-not-in": _not_in,
    "line-not-in": _line_out,
    "cavity-closed-uncounted": _uncounted,
    "skin-closed-uncounted": _uncounted,
    "not-enough-kit": _kit_short,
    "one-side-forgotten": _one_side,
    "need-not-met": _need,
    "nick-without-looking": wound.nicked,
    "left-open": wound.left_open,
    "ended-uncounted": wound.uncounted,
    "instrument-not-said": wound.opened_somehow,
}

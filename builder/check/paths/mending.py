"""The second place of a finding: the place that would mend it.

Where what is missing is done too late, on another path or on the other side, that is the place. Where it is never
done, the place is where it belongs: after the action that makes it needed, or before the moment by which it must be
done.

One finding has no second place: ``kit-unused``, whose own line is the place, unless an action takes the item out or
a text names it. What looks at lists, text and aftercare, or at what no path reaches, shows no path.
"""

from collections.abc import Callable, Iterator

from builder.check.paths.failure import Failure
from builder.check.paths.program import Program
from builder.facts.automata import Code, Deed, Op
from builder.facts.graph import NodeKind
from builder.facts.sides import WORDS
from builder.findings.finding import SecondPlace
from builder.findings.message_words import quoted
from builder.model.action import CONTROLS, SEES, Verb
from builder.model.catalogue import plain_name
from builder.model.pages import Item, Step, Structure, StructureKind
from builder.model.sequence import StepEntry

CONTROLLING = CONTROLS | {Verb.CLAMP}
RELEASING = frozenset({Verb.RELEASE})
CLAMPING = frozenset({Verb.CLAMP})
CUTTING = frozenset({Verb.DIVIDE, Verb.EXCISE})
COUNTING = frozenset({Verb.COUNT})
SHUTTING = CONTROLS | {Verb.CLOSE}


def _elsewhere(failure: Failure, fits: Callable[[Op], bool], on_this_way: bool = False) -> Iterator[tuple[Deed, str]]:
    """Yield the actions that fit and are not on the path before its end, each with the words for where it stands.

    Those that come only later are yielded before those on other branches. ``on_this_way`` leaves out the branches that
    nobody takes who takes the choices of the path: what is done there mends nothing here.
    """
    program, walk = failure.program, failure.walk
    end = walk.nodes[-1]
    on_the_way = set(walk.nodes[:-1])
    later: dict[int, tuple[Deed, str]] = {}
    others: dict[int, tuple[Deed, str]] = {}
    taken = dict(program.graph.within[end]) | walk.choices
    for node in program.graph.nodes:
        if node.kind is not NodeKind.STEP or node.index in on_the_way:
            continue
        for number, op in enumerate(program.ops(node.index)):
            if op.deed is None or op.code is Code.CHECK or not fits(op) or (node.index == end and number < walk.op):
                continue
            clash = any(taken.get(choice, branch) != branch for choice, branch in program.graph.within[node.index])
            if node.index >= end and not clash:
                later.setdefault(id(op.deed), (op.deed, _LATE))
            elif not (clash and on_this_way):
                others.setdefault(id(op.deed), (op.deed, "but not on this path"))
    yield from later.values()
    yield from others.values()


_LATE = "but only afterwards"


def _first_place(failure: Failure, found: Iterator[tuple[Deed, str]], done: str) -> list[SecondPlace]:
    """Return the first place, with that of its step in the sequence where it comes too late, or nothing."""
    deed, where = next(found, (None, ""))
    if deed is None:
        return []
    return [SecondPlace(deed.at, f"{done} here, {where}"), *_late_step(failure, deed.step, where)]


def _late_step(failure: Failure, step: Step, where: str) -> list[SecondPlace]:
    failing = failure.check.step or (failure.check.deed.step if failure.check.deed is not None else step)
    return in_sequence(failure, step, failing) if where is _LATE else []


def in_sequence(failure: Failure, late: Step, other: Step | None) -> list[SecondPlace]:
    """Return where the sequence has ``late``, which is done after ``other`` and should be before it."""
    entries = failure.program.procedure.entries if late is not other else ()
    places = (entry.step.at for entry in entries if isinstance(entry, StepEntry) and entry.step == late.id)
    return [SecondPlace(at, f"{quoted(late.title)} stands here in the sequence, too late") for at in places][:1]


def done(failure: Failure, key: int, what: str, verbs: frozenset[Verb], on_this_way: bool = False) -> list[SecondPlace]:
    """Return where automaton ``key`` is moved by one of ``verbs`` (any, where there are none)."""
    found = _elsewhere(
        failure,
        lambda op: op.key == key and op.deed is not None and (not verbs or op.deed.action.verb in verbs),
        on_this_way,
    )
    return _first_place(failure, found, what)


def identified(failure: Failure, structure: Structure, side: str) -> list[SecondPlace]:
    """Return where the structure is identified otherwise: later, on another branch, or on another side."""
    key = failure.program.keys.numbers.get(("seen", structure.id, side), -1)

    def sees(op: Op) -> bool:
        return op.deed is not None and op.deed.action.verb in SEES

    found = _first_place(failure, _elsewhere(failure, lambda op: op.key == key and sees(op)), "identified")
    if found:
        return found
    for other in "LROXM":
        key = failure.program.keys.numbers.get(("seen", structure.id, other), -1)
        if other != side and key >= 0:
            for node in failure.program.graph.nodes:
                for op in failure.program.ops(node.index):
                    if op.key == key and sees(op) and op.deed is not None:
                        return [SecondPlace(op.deed.at, f"identified here, but {WORDS[other]}")]
    return []


def only_protected(failure: Failure, structure: Structure) -> list[SecondPlace]:
    """Return where on the path the structure is protected: whoever protects something need not have seen it."""
    anatomy = failure.program.layout.anatomy
    for index in failure.walk.nodes:
        step = failure.program.graph.nodes[index].step
        for action in step.actions if step is not None else ():
            for name in action.objects if action.verb is Verb.PROTECT else ():
                if anatomy.structure(name) is structure:
                    return [SecondPlace(name.at, "protected here, which does not say that it was seen")]
    return []


def looked_for(failure: Failure, structure: Structure) -> list[SecondPlace]:
    """Return where a structure that is identified nowhere can be looked for: after what was last opened or exposed."""
    here = failure.walk.nodes[-1], failure.walk.op
    asking = failure.check.deed or failure.program.ops(here[0])[here[1]].deed
    own = asking.action if asking is not None else None
    opened = earlier(failure, lambda op: _opens_or_exposes(op) and op.deed is not None and op.deed.action is not own)
    if opened is not None:
        how = "opened" if opened.action.verb is Verb.OPEN else "exposed"
        return [SecondPlace(opened.at, f"{opened.name} {how} here: look for the {structure.name} after this")]
    return [SecondPlace(structure.id.at, f"{structure.name}: no action identifies it")]


def to_be_seen(failure: Failure, near: Structure, found: list[SecondPlace]) -> list[SecondPlace]:
    """Return ``found`` and the line by which ``near`` is to be seen first.

    What the common catalogue lists has no line of the department's: there it is where ``near`` can be looked for.
    """
    if near.id.at.file:
        return [*found, SecondPlace(near.id.at, f"{near.name}: to be seen before anything close to it is cut")]
    return found or looked_for(failure, near)


def _opens_or_exposes(op: Op) -> bool:
    """Tell whether a structure is opened or exposed; the instrument in the same action is only used."""
    deed = op.deed
    return deed is not None and deed.action.verb in (Verb.OPEN, Verb.EXPOSE) and deed.name in deed.action.objects


def seen_here(failure: Failure, structure: Structure, side: str, do: str) -> list[SecondPlace]:
    """Return where the structure is seen on the path: after that something can be done (``do``) to it."""
    key = failure.program.keys.numbers.get(("seen", structure.id, side), -1)
    seen = earlier(failure, lambda op: op.key == key and op.deed is not None and op.deed.action.verb in SEES)
    if seen is not None:
        return [SecondPlace(seen.at, f"{structure.name} identified here: {do} after this")]
    return looked_for(failure, structure)


def taken_out(failure: Failure, item: Item) -> list[SecondPlace]:
    """Return where the item is taken out on another path, or too late."""
    return _first_place(
        failure, _elsewhere(failure, lambda op: _is(op, Verb.REMOVE, item, failure.program)), "taken out"
    )


def placed(failure: Failure, item: Item) -> list[SecondPlace]:
    """Return where the item is placed on another path, or only afterwards."""
    return _first_place(failure, _elsewhere(failure, lambda op: _is(op, Verb.PLACE, item, failure.program)), "placed")


def _is(op: Op, verb: Verb, item: Item, program: Program) -> bool:
    return (
        op.deed is not None
        and op.deed.action.verb is verb
        and op.deed.name in op.deed.action.objects
        and program.layout.anatomy.item(op.deed.name) is item
    )


def earlier(failure: Failure, fits: Callable[[Op], bool]) -> Deed | None:
    """Return the last action on the path, before its end, that fits."""
    for index in reversed(failure.walk.nodes):
        ops: tuple[Op, ...] = failure.program.ops(index)
        if index == failure.walk.nodes[-1] and failure.walk.op >= 0:
            ops = ops[: failure.walk.op]
        for op in reversed(ops):
            deed: Deed | None = op.deed
            if deed is not None and op.code is not Code.CHECK and fits(op):
                return deed
    return None


def earlier_on(failure: Failure, key: int, verbs: frozenset[Verb]) -> Deed | None:
    """Return the last action on the path that moved automaton ``key`` by one of ``verbs``."""
    return earlier(failure, lambda op: op.key == key and op.deed is not None and op.deed.action.verb in verbs)


def counted(failure: Failure, key: int) -> list[SecondPlace]:
    """Return where a count that is due belongs: after what made it due, and a count that is made elsewhere."""
    found = done(failure, key, "counted", COUNTING)
    too_early = earlier_on(failure, key, COUNTING)
    if too_early is not None and not found:
        found = [SecondPlace(too_early.at, "counted here, but too early")]
    asked = earlier_on(failure, key, frozenset({Verb.PLACE, Verb.CLOSE})) or earlier(
        failure, lambda op: op.key == key and op.deed is not None and op.deed.action.verb is not Verb.OPEN
    )
    if asked is not None:
        closed = asked.action.verb is Verb.CLOSE and asked.name in asked.action.objects
        doing = "closed here" if closed else "placed here" if asked.action.verb is Verb.PLACE else "used here"
        found.append(SecondPlace(asked.at, f"{asked.name} {doing}: the count belongs between this and the closing"))
    return found


def last_skin_closure(failure: Failure) -> Deed | None:
    """Return the last closing of skin on the path."""

    def closes_skin(op: Op) -> bool:
        if op.deed is None or op.deed.action.verb is not Verb.CLOSE:
            return False
        structure: Structure | None = failure.program.layout.anatomy.structure(op.deed.name)
        return structure is not None and structure.kind is StructureKind.SKIN

    return earlier(failure, closes_skin)


def stitched(failure: Failure, structure: Structure) -> list[SecondPlace]:
    """Return where the structure is stitched on the path without being said to be closed."""

    anatomy = failure.program.layout.anatomy

    def stitches(op: Op) -> bool:
        deed = op.deed
        return deed is not None and deed.action.verb in CONTROLS and anatomy.structure(deed.name) is structure

    return belongs_after(
        earlier(failure, stitches), f"{structure.name} stitched here, but nothing says that it is closed"
    )


def last_step(failure: Failure) -> Step | None:
    """Return the last step on the path before its end."""
    steps = [failure.program.graph.nodes[index].step for index in failure.walk.nodes[:-1]]
    return next((step for step in reversed(steps) if step is not None), None)


def deadline(failure: Failure, must: str) -> list[SecondPlace]:
    """Return by when something ``must`` be done: before the skin is closed, or in the last step on the path."""
    closing = last_skin_closure(failure)
    if closing is not None:
        return [SecondPlace(closing.at, f"{must} before this")]
    return in_last_step(failure, must)


def in_last_step(failure: Failure, must: str) -> list[SecondPlace]:
    """Return the last step on the path, by the end of which something ``must`` be done."""
    step = last_step(failure)
    return [SecondPlace(step.where.key("actions"), f"{must} by the end of this last step")] if step else []


def belongs_after(deed: Deed | None, says: str) -> list[SecondPlace]:
    """Return the place of ``deed``, after which what is missing belongs."""
    return [SecondPlace(deed.at, says)] if deed is not None else []


def in_the_lists(program: Program, item: Item) -> list[SecondPlace]:
    """Return where an item that no action places is listed: in the kit, else in the catalogue."""
    for name in program.procedure.kit:
        if program.layout.anatomy.item(name) is item:
            return [SecondPlace(name.at, "on the kit list, but no action places it")]
    return [SecondPlace(item.id.at, "in the catalogue, but no action places it")]


def given(failure: Failure, need: str) -> list[SecondPlace]:
    """Return where a need is given: only afterwards, on another path, or by a step that the sequence does not use."""
    end, on_the_way = failure.walk.nodes[-1], set(failure.walk.nodes[:-1])
    for node in failure.program.graph.nodes:
        if node.step is None or node.index in on_the_way:
            continue
        for gift in node.step.gives:
            if plain_name(gift) == plain_name(need):
                where = _LATE if node.index >= end else "but not on this path"
                place = SecondPlace(gift.at, f"given here, {where}")
                return [place, *_late_step(failure, node.step, where)]
    in_sequence = {node.step.id for node in failure.program.graph.nodes if node.step is not None}
    for id, step in failure.program.procedure.steps.items():
        for gift in step.gives if id not in in_sequence else ():
            if plain_name(gift) == plain_name(need):
                return [SecondPlace(gift.at, "given here, but the sequence does not use this step")]
    return []

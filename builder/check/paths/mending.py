"""The second place of a finding: the place that would mend it.

Where what is missing is done too late, on another path or on the other side, that is the place. Where it is done
nowhere, the place is where it belongs: behind the action that makes it needed, or before the moment by which it must
be done.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator

from builder.check.paths.program import Program
from builder.check.paths.witness import Walk
from builder.facts.automata import Code, Deed, Op
from builder.facts.graph import NodeKind
from builder.facts.sides import WORDS
from builder.findings.finding import SecondPlace
from builder.model.action import CONTROLS, SEES, Verb
from builder.model.catalogue import plain_name
from builder.model.pages import Item, Step, Structure, StructureKind

CONTROLLING = CONTROLS | {Verb.CLAMP}
RELEASING = frozenset({Verb.RELEASE})
CLAMPING = frozenset({Verb.CLAMP})
CUTTING = frozenset({Verb.DIVIDE, Verb.EXCISE})
COUNTING = frozenset({Verb.COUNT})
SHUTTING = CONTROLS | {Verb.CLOSE}


def _elsewhere(program: Program, walk: Walk, fits: Callable[[Op], bool]) -> Iterator[tuple[Deed, str]]:
    """Yield the actions that fit and are not on the path before its end, each with the words for where it stands.

    Those that come only later are yielded before those on other branches.
    """
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
                later.setdefault(id(op.deed), (op.deed, "but only afterwards"))
            else:
                others.setdefault(id(op.deed), (op.deed, "but not on this path"))
    yield from later.values()
    yield from others.values()


def _one(found: Iterator[tuple[Deed, str]], done: str) -> list[SecondPlace]:
    """Return the first place as a list of one, or nothing."""
    return [SecondPlace(deed.at, f"{done} here, {where}") for deed, where in found][:1]


def done(program: Program, walk: Walk, key: int, what: str, verbs: frozenset[Verb]) -> list[SecondPlace]:
    """Return where automaton ``key`` is moved by one of ``verbs`` (any, where there are none)."""
    found = _elsewhere(
        program,
        walk,
        lambda op: op.key == key and op.deed is not None and (not verbs or op.deed.action.verb in verbs),
    )
    return _one(found, what)


def identified(program: Program, walk: Walk, structure: Structure, side: str) -> list[SecondPlace]:
    """Return where the structure is identified otherwise: later, on another branch, or on another side."""
    key = program.keys.numbers.get(("seen", structure.id, side), -1)

    def sees(op: Op) -> bool:
        return op.deed is not None and op.deed.action.verb in SEES

    found = _one(_elsewhere(program, walk, lambda op: op.key == key and sees(op)), "identified")
    if found:
        return found
    for other in "LROXM":
        key = program.keys.numbers.get(("seen", structure.id, other), -1)
        if other != side and key >= 0:
            for node in program.graph.nodes:
                for op in program.ops(node.index):
                    if op.key == key and sees(op) and op.deed is not None:
                        return [SecondPlace(op.deed.at, f"identified here, but {WORDS[other]}")]
    return []


def looked_for(program: Program, walk: Walk, structure: Structure) -> list[SecondPlace]:
    """Return where a structure that is identified nowhere can be looked for: behind what was last opened or exposed."""
    opened = earlier(program, walk, lambda op: op.deed is not None and op.deed.action.verb in (Verb.OPEN, Verb.EXPOSE))
    here = walk.nodes[-1], walk.op
    asking = program.ops(here[0])[here[1]].deed
    if opened is not None and (asking is None or opened.action is not asking.action):
        how = "opened" if opened.action.verb is Verb.OPEN else "exposed"
        return [SecondPlace(opened.at, f"{opened.name} {how} here: look for the {structure.name} after this")]
    return [SecondPlace(structure.id.at, f"{structure.name}: no action identifies it")]


def seen_here(program: Program, walk: Walk, structure: Structure, side: str, do: str) -> list[SecondPlace]:
    """Return where the structure is seen on the path: behind it something can be done (``do``) to it."""
    key = program.keys.numbers.get(("seen", structure.id, side), -1)
    seen = earlier(program, walk, lambda op: op.key == key and op.deed is not None and op.deed.action.verb in SEES)
    if seen is not None:
        return [SecondPlace(seen.at, f"{structure.name} identified here: {do} after this")]
    return looked_for(program, walk, structure)


def taken_out(program: Program, walk: Walk, item: Item) -> list[SecondPlace]:
    """Return where the item is taken out on another path, or too late."""
    return _one(_elsewhere(program, walk, lambda op: _is(op, Verb.REMOVE, item, program)), "taken out")


def placed(program: Program, walk: Walk, item: Item) -> list[SecondPlace]:
    """Return where the item is placed on another path, or only afterwards."""
    return _one(_elsewhere(program, walk, lambda op: _is(op, Verb.PLACE, item, program)), "placed")


def _is(op: Op, verb: Verb, item: Item, program: Program) -> bool:
    return (
        op.deed is not None
        and op.deed.action.verb is verb
        and op.deed.name in op.deed.action.objects
        and program.layout.anatomy.item(op.deed.name) is item
    )


def earlier(program: Program, walk: Walk, fits: Callable[[Op], bool]) -> Deed | None:
    """Return the last action on the path, before its end, that fits."""
    for index in reversed(walk.nodes):
        ops: tuple[Op, ...] = program.ops(index)
        if index == walk.nodes[-1] and walk.op >= 0:
            ops = ops[: walk.op]
        for op in reversed(ops):
            deed: Deed | None = op.deed
            if deed is not None and op.code is not Code.CHECK and fits(op):
                return deed
    return None


def earlier_on(program: Program, walk: Walk, key: int, verbs: frozenset[Verb]) -> Deed | None:
    """Return the last action on the path that moved automaton ``key`` by one of ``verbs``."""
    return earlier(program, walk, lambda op: op.key == key and op.deed is not None and op.deed.action.verb in verbs)


def counted(program: Program, walk: Walk, key: int) -> list[SecondPlace]:
    """Return where a count that is due belongs: behind what made it due, and a count that is made elsewhere."""
    found = done(program, walk, key, "counted", COUNTING)
    too_early = earlier_on(program, walk, key, COUNTING)
    if too_early is not None and not found:
        found = [SecondPlace(too_early.at, "counted here, but too early")]
    asked = earlier_on(program, walk, key, frozenset({Verb.PLACE, Verb.CLOSE})) or earlier(
        program, walk, lambda op: op.key == key and op.deed is not None and op.deed.action.verb is not Verb.OPEN
    )
    if asked is not None:
        closed = asked.action.verb is Verb.CLOSE and asked.name in asked.action.objects
        doing = "closed here" if closed else "placed here" if asked.action.verb is Verb.PLACE else "used here"
        found.append(SecondPlace(asked.at, f"{asked.name} {doing}: the count belongs between this and the closing"))
    return found


def last_skin_closure(program: Program, walk: Walk) -> Deed | None:
    """Return the last closing of skin on the path."""

    def closes_skin(op: Op) -> bool:
        if op.deed is None or op.deed.action.verb is not Verb.CLOSE:
            return False
        structure: Structure | None = program.layout.anatomy.structure(op.deed.name)
        return structure is not None and structure.kind is StructureKind.SKIN

    return earlier(program, walk, closes_skin)


def stitched(program: Program, walk: Walk, structure: Structure) -> list[SecondPlace]:
    """Return where the structure is stitched on the path without being said to be closed."""

    def stitches(op: Op) -> bool:
        verb = op.deed.action.verb if op.deed else None
        return op.deed is not None and verb in CONTROLS and program.layout.anatomy.structure(op.deed.name) is structure

    found = earlier(program, walk, stitches)
    return belongs_behind(found, f"{structure.name} stitched here, and not said to be closed")


def last_step(program: Program, walk: Walk) -> Step | None:
    """Return the last step on the path before its end."""
    steps = [program.graph.nodes[index].step for index in walk.nodes[:-1]]
    return next((step for step in reversed(steps) if step is not None), None)


def deadline(program: Program, walk: Walk, must: str) -> list[SecondPlace]:
    """Return by when something ``must`` be done: before the skin is closed, or in the last step on the path."""
    closing = last_skin_closure(program, walk)
    if closing is not None:
        return [SecondPlace(closing.at, f"{must} before this")]
    return in_last_step(program, walk, must)


def in_last_step(program: Program, walk: Walk, must: str) -> list[SecondPlace]:
    """Return the last step on the path, by the end of which something ``must`` be done."""
    step = last_step(program, walk)
    return [SecondPlace(step.where.key("actions"), f"{must} by the end of this step, the last")] if step else []


def belongs_behind(deed: Deed | None, says: str) -> list[SecondPlace]:
    """Return the place of ``deed``, behind which what is missing belongs."""
    return [SecondPlace(deed.at, says)] if deed is not None else []


def in_the_lists(program: Program, item: Item) -> list[SecondPlace]:
    """Return where an item that no action places is listed: in the kit, else in the catalogue."""
    for name in program.procedure.kit:
        if program.layout.anatomy.item(name) is item:
            return [SecondPlace(name.at, "on the kit list, and no action places it")]
    return [SecondPlace(item.id.at, "in the catalogue, and no action places it")]


def given(program: Program, walk: Walk, need: str) -> list[SecondPlace]:
    """Return where a need is given: only afterwards, or on another path."""
    end, on_the_way = walk.nodes[-1], set(walk.nodes[:-1])
    for node in program.graph.nodes:
        if node.step is None or node.index in on_the_way:
            continue
        for gift in node.step.gives:
            if plain_name(gift) == plain_name(need):
                where = "but only afterwards" if node.index >= end else "but not on this path"
                return [SecondPlace(gift.at, f"given here, {where}")]
    return []

"""The second place of a finding: where what is missing is done too late, on another path or on the other side."""

from __future__ import annotations

from collections.abc import Callable, Iterator

from builder.check.paths.facts import Code, Deed, Op
from builder.check.paths.graph import Kind
from builder.check.paths.program import Program
from builder.check.paths.sides import WORDS
from builder.check.paths.witness import Walk
from builder.finding import SecondPlace
from builder.model.action import CONTROLS, SEES, Verb
from builder.model.catalogue import plain_name
from builder.model.pages import Item, Structure, StructureKind

CONTROLLING = CONTROLS | {Verb.CLAMP}
RELEASING = frozenset({Verb.RELEASE})
CLAMPING = frozenset({Verb.CLAMP})


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
        if node.kind is not Kind.STEP or node.index in on_the_way:
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


def counted(program: Program, walk: Walk, key: int) -> list[SecondPlace]:
    """Return where the category is counted otherwise."""
    return done(program, walk, key, "counted", frozenset({Verb.COUNT}))


def last_skin_closure(program: Program, walk: Walk) -> Deed | None:
    """Return the last closing of skin on the path."""
    found: Deed | None = None
    for index in walk.nodes:
        for op in program.ops(index):
            if op.deed is not None and op.deed.action.verb is Verb.CLOSE:
                structure = program.layout.anatomy.structure(op.deed.name)
                if structure is not None and structure.kind is StructureKind.SKIN:
                    found = op.deed
    return found


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

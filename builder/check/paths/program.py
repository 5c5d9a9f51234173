"""A procedure as a program: its graph, and for each step the operations its actions do to the automata."""

from collections.abc import Iterator
from dataclasses import dataclass

from builder.check.paths.items import ITEM_VERBS, ItemOps
from builder.check.paths.openings import OpeningOps
from builder.check.paths.structures import (
    CLAMP_LEFT,
    END_OPEN,
    HOLLOW,
    LEFT_OPEN,
    ONE_SIDE,
    RAW_SURFACE,
    SKIN_CLOSED,
    SKIN_CLOSED_OVER,
    STILL_UNSEEN,
    StructureOps,
)
from builder.facts import counts, sides
from builder.facts.anatomy import Anatomy
from builder.facts.automata import Code, Condition, Deed, Facts, Keys, Op, more_than
from builder.facts.graph import Graph, NodeKind
from builder.facts.item_layout import ItemLayout
from builder.model.action import ON_STRUCTURES, Action, Verb
from builder.model.catalogue import plain_name
from builder.model.pages import Procedure, Step, Structure, StructureKind

Ops = tuple[Op, ...]


@dataclass(slots=True)
class Program:
    """``steps`` holds the operations of each step by id; ``end`` what is checked at the end of every path."""

    procedure: Procedure
    graph: Graph
    layout: ItemLayout
    keys: Keys
    steps: dict[str, Ops]
    end: Ops

    def ops(self, index: int) -> Ops:
        """Return the operations of node ``index``."""
        node = self.graph.nodes[index]
        if node.step is not None:
            return self.steps[node.step.id]
        return self.end if node.kind is NodeKind.END else ()  # what another operation goes on with is judged there

    @property
    def ends_early(self) -> bool:
        """Tell whether some way ends before the last step of the sequence."""
        return len(self.graph.nodes[-1].into) > 1 or any(
            node.kind in (NodeKind.STOP, NodeKind.CONVERTED) for node in self.graph.nodes
        )

    def start(self) -> Facts:
        """Return what is known before the first step."""
        return self.keys.start()


def compile_procedure(procedure: Procedure, graph: Graph, anatomy: Anatomy) -> Program:
    """Return the program of ``procedure``, whose sequence is ``graph``."""
    steps = {node.step.id: node.step for node in graph.nodes if node.step is not None}
    keys = Keys()
    layout = ItemLayout(anatomy, procedure.side, steps.values())
    compiler = _Compiler(procedure, layout, keys)
    ops: dict[str, Ops] = {id: tuple(compiler.step(step)) for id, step in steps.items()}
    return Program(procedure, graph, layout, keys, ops, tuple(compiler.end()))


class _Compiler:
    def __init__(self, procedure: Procedure, layout: ItemLayout, keys: Keys) -> None:
        kit: dict[str, int] = {}
        self.listed = set(counts.CATEGORIES) - {counts.PACKS} if procedure.kit else set(counts.CATEGORIES)
        for words, number in procedure.kit.items():
            item = layout.anatomy.item(words)
            if item is not None:
                kit[item.id] = kit.get(item.id, 0) + number
                self.listed.add(counts.of_kind(item))
        self.layout = layout
        self.keys = keys
        self.side = procedure.side
        self.structures = StructureOps(layout, procedure.side, keys)
        self.items = ItemOps(layout, kit, keys)
        self.openings = OpeningOps(layout, procedure.side, keys)

    def step(self, step: Step) -> Iterator[Op]:
        """Yield the operations of ``step``: its needs, its actions in order, what it gives."""
        for need in step.needs:
            key = self.keys("given", plain_name(need))
            yield Op(Code.CHECK, key, 1, None, Condition("need-not-met", what=str(need), at=need.at, step=step))
            yield Op(Code.PUT, key, 1)
        for action in step.actions:
            yield from self._action(step, action)
        for gift in step.gives:
            yield Op(Code.PUT, self.keys("given", plain_name(gift)), 1)

    def end(self) -> Iterator[Op]:
        """Yield what is checked when a path is at its end."""
        for key, (ledger, item) in self.items.shut_in.items():
            side = next(iter(ledger.spots)).side
            yield Op(Code.CHECK, key, more_than(0), None, Condition("item-left-in", item=item, side=side, what="skin"))
        for lying in self.layout.lying.values():
            for ledger in lying.ledgers:
                if ledger.kind in ("end", "leaving"):
                    check = Condition("item-left-in", item=lying.item, what="end")
                    yield Op(Code.CHECK, ledger.key, more_than(0), None, check)
        for (_, side), structure in self.layout.clamped.items():
            key = self.keys("control", structure.id, side)
            yield Op(Code.CHECK, key, CLAMP_LEFT, None, Condition("clamp-left-on", structure=structure, side=side))
        for (id, side), structure in self.layout.divided.items():
            if structure.kind in HOLLOW:
                check = Condition("cut-end-left-open", structure=structure, side=side)
                yield Op(Code.CHECK, self.keys("control", id, side), END_OPEN, None, check)
        if self.layout.excised:
            yield Op(Code.CHECK, self.keys("raw"), RAW_SURFACE, None, Condition("taken-out-uncontrolled"))
        yield from self._wound_at_end()
        for key, (verb, thing, name) in self.structures.one_sided.items():
            words = f"{verb}|{thing}|{name}"
            yield Op(Code.CHECK, key, ONE_SIDE, None, Condition("one-side-forgotten", what=words))

    def _wound_at_end(self) -> Iterator[Op]:
        """Yield what is checked of an open wound: nicks whose neighbour was never seen, what is open, what is due."""
        layout = self.layout
        for (near_id, near_side), nicks in layout.nicked.items():
            for nicked, near in nicks.items():
                key = self.structures.nick(near_id, near_side, nicked)
                check = Condition("nick-without-looking", structure=near, side=near_side, what=nicked[0])
                yield Op(Code.CHECK, key, STILL_UNSEEN, None, check)
        for (id, side), structure in layout.opened.items():
            check = Condition("left-open", structure=structure, side=side)
            yield Op(Code.CHECK, self.keys("open", id, side), LEFT_OPEN, None, check)
        for category in counts.CATEGORIES if layout.opened else ():
            check = Condition("ended-uncounted", what=category)
            yield Op(Code.CHECK, self.keys("count", category), counts.WRONG_AT_END, None, check)

    def _action(self, step: Step, action: Action) -> Iterator[Op]:
        if action.objects:  # an empty list is a slip that is told elsewhere
            yield from self.openings.shut_together(Deed(step, action, action.objects[0]))
        for name in action.objects:
            deed = Deed(step, action, name)
            if action.verb is Verb.COUNT:
                yield from self._counted(deed)
            elif action.verb is Verb.INSPECT:
                yield from self._inspected(deed)
            elif action.verb in ITEM_VERBS:
                yield from self._on_item(deed)
            elif action.verb in ON_STRUCTURES:
                yield from self._on_structure(deed)
        if action.verb is not Verb.CLAMP:
            # What clamps stays in use until it is released; everything else is held for the length of the action.
            for name in action.using:
                item = self.layout.anatomy.item(name)
                if item is not None:
                    yield from self.items.used(Deed(step, action, name), item)

    def _counted(self, deed: Deed) -> Iterator[Op]:
        for category in counts.categories(deed.name, self.layout.anatomy.item(deed.name)):
            moves = counts.COUNT if category in self.listed else counts.COUNT_OF_NONE
            yield Op(Code.MOVE, self.keys("count", category), moves, deed)

    def _inspected(self, deed: Deed) -> Iterator[Op]:
        structure = self.layout.anatomy.structure(deed.name)
        if structure is not None and structure.paired:
            found = sides.of_structure(True, deed.action.side, self.side)
            yield from self.structures.done_on(found, deed, structure.name)

    def _on_item(self, deed: Deed) -> Iterator[Op]:
        item = self.layout.anatomy.item(deed.name)
        if item is None:
            return
        verb = deed.action.verb
        if verb is Verb.PLACE:
            yield from self.openings.laid_in(deed, item)
            yield from self.items.placed(deed, item)
        elif verb is Verb.REMOVE:
            yield from self.items.removed(deed, item)
        else:
            if verb is Verb.IRRIGATE and deed.action.through is None:
                yield from self.openings.laid_in(deed, item)
            for line in self.layout.items(filter(None, (deed.action.through,))):
                yield from self.items.given_through(deed, line)
            yield from self.items.used(deed, item)
        if verb is not Verb.REMOVE:
            found = self.layout.item_sides(deed.action)
            target = next(self.layout.structures(filter(None, (deed.action.inside, deed.action.on))), None)
            yield from self.structures.done_on(found, deed, target.name if target else "", str(item.name))

    def _on_structure(self, deed: Deed) -> Iterator[Op]:
        structure = self.layout.anatomy.structure(deed.name)
        if structure is None:
            return
        verb = deed.action.verb
        found = sides.of_structure(structure.paired, deed.action.side, self.side)
        if verb is Verb.CLOSE:
            yield from self._closing(deed, structure, found)
        elif verb is Verb.OPEN:
            for category in counts.CATEGORIES:
                yield Op(Code.MOVE, self.keys("count", category), counts.OPENED, deed)
        yield from self.structures.of(deed, structure)
        yield from self.openings.of(deed, structure)
        if verb is Verb.EXCISE:
            yield from self.items.excised(deed, structure, found)
        elif verb is Verb.RELEASE:
            yield from self.items.released(deed, structure, len(found))
        elif verb is Verb.CLAMP:
            for item in self.layout.items(deed.action.using):
                yield from self.items.clamped(deed, item, len(found))

    def _closing(self, deed: Deed, structure: Structure, found: sides.Sides) -> Iterator[Op]:
        yield from self.items.closed(deed, structure, found)
        skin = structure.kind is StructureKind.SKIN
        last = skin and self.layout.is_last_wound(structure, found)
        if skin:
            yield from self.items.skin_closed(deed, structure, found)
            for id, side in self.layout.clamped:
                yield Op(Code.MOVE, self.keys("control", id, side), SKIN_CLOSED, deed)
        if skin or structure.kind is StructureKind.CAVITY or structure.id in self.layout.counted_in:
            yield from self._count_due(deed, structure)
        for (id, side), opened in self.layout.opened.items() if last else ():
            if opened.kind is not StructureKind.SKIN:
                yield Op(Code.MOVE, self.keys("open", id, side), SKIN_CLOSED_OVER, deed)
        for category in counts.CATEGORIES if last else ():
            yield Op(Code.MOVE, self.keys("count", category), counts.WOUND_CLOSED, deed)

    def _count_due(self, deed: Deed, structure: Structure) -> Iterator[Op]:
        skin = structure.kind is StructureKind.SKIN
        for category in counts.CATEGORIES:
            check = Condition(
                "skin-closed-uncounted" if skin else "cavity-closed-uncounted", deed, structure, what=category
            )
            key = self.keys("count", category)
            yield Op(Code.CHECK, key, counts.WRONG, deed, check)
            yield Op(Code.MOVE, key, counts.MENDED, deed)
            if not skin:
                yield Op(Code.MOVE, key, counts.CAVITY_CLOSED, deed)

"""The shortest path on which a check fails, and the choices that bring the failure about.

Looked for only where the data flow has found a failure: the automaton in question is followed along every way at once,
state by state, with the number of steps walked so far. The choices named are enough for *every* path that takes them to
fail, and none of them is idle: without it, a sound path would get through.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from builder.check.paths.facts import Code, Op, move_state
from builder.check.paths.flow import forgotten, passed
from builder.check.paths.graph import Case, Edge, Kind
from builder.check.paths.program import Program
from builder.model.sequence import Follow

States = tuple[int, ...]
Choices = dict[str, str]
_At = tuple[Case, States]
_Whence = tuple[int, Edge | None, "_At | None"]
"""Steps walked so far, the edge that was taken last, and how the walk stood before it."""


@dataclass(frozen=True, slots=True)
class Question:
    """What is looked for: a walk on which operation ``op`` of ``node`` fails, or which is stuck at follow ``node``.

    ``stuck`` is the branch taken earlier, "" where the choice was not made.
    """

    node: int
    op: int = -1
    stuck: str | None = None


@dataclass(frozen=True, slots=True)
class Change:
    """One operation on the way that moved the automaton in question from state ``before`` to ``after``."""

    op: Op
    before: int
    after: int


@dataclass(frozen=True, slots=True)
class Walk:
    """A failing path: its ``nodes``, the ``choices`` that bring the failure about, and what moved the automaton.

    It ends at operation ``op`` of its last node.
    """

    nodes: tuple[int, ...]
    op: int
    choices: Choices
    changes: tuple[Change, ...]


def find(program: Program, question: Question) -> Walk:
    """Return a shortest walk that answers ``question``; there must be one."""
    return _Search(program, question).walk()


class _Search:
    def __init__(self, program: Program, question: Question) -> None:
        self.program = program
        self.graph = program.graph
        self.question = question
        self.goal = program.ops(question.node)[question.op] if question.op >= 0 else None
        self.watched = self._watched()
        self.relevant = {
            id: tuple(op for op in ops if op.code is not Code.CHECK and op.key in self.watched)
            for id, ops in program.steps.items()
        }

    def walk(self) -> Walk:
        reached = self._reached({})
        failing = [at for at in reached[-1] if self._fails(at)]
        end = min(failing, key=lambda at: reached[-1][at][0])
        edges = self._back(reached, end)
        nodes = (*(edge.source for edge in edges), self.question.node)
        made = {
            edge.choice: edge.branch
            for edge in edges
            if edge.choice and self.graph.nodes[edge.source].kind is Kind.FORK
        }
        return Walk(nodes, self.question.op, self._needed(made), tuple(self._changes(nodes)))

    def _watched(self) -> tuple[int, ...]:
        """Return the automaton of the failing check and those whose state it takes over."""
        if self.goal is None:
            return ()
        found = {self.goal.key: None}
        for ops in self.program.steps.values():
            found.update({op.arg: None for op in ops if op.code is Code.COPY and op.key == self.goal.key})
        return tuple(found)

    def _ops(self, index: int) -> tuple[Op, ...]:
        step = self.graph.nodes[index].step
        return self.relevant[step.id] if step is not None else ()

    def _after(self, ops: tuple[Op, ...], states: States) -> States:
        if not ops:
            return states
        known = dict(zip(self.watched, states, strict=True))
        for op in ops:
            move_state(op, known)
        return tuple(known.values())

    def _fails(self, at: _At) -> bool:
        """Tell whether a walk that comes to the node in question in ``at`` fails there."""
        case, states = at
        if self.goal is None:
            entry = self.graph.nodes[self.question.node].entry
            assert isinstance(entry, Follow)
            return (case[self.graph.slots[entry.choice]] or "") == self.question.stuck
        before = self.program.ops(self.question.node)[: self.question.op]
        states = self._after(tuple(op for op in before if op.code is not Code.CHECK and op.key in self.watched), states)
        return bool(1 << states[0] & self.goal.arg)

    def _reached(self, fixed: Mapping[str, str]) -> list[dict[_At, _Whence]]:
        """Return for each node up to the one in question: how a walk can come there -> steps walked, whence.

        ``fixed`` are branches that must be taken. What is kept for the last node is before its operations.
        """
        start: _At = ((None,) * len(self.graph.slots), (0,) * len(self.watched))
        found: list[dict[_At, _Whence]] = []
        for node in self.graph.nodes[: self.question.node + 1]:
            here: dict[_At, _Whence] = {start: (0, None, None)} if node.kind is Kind.START else {}
            slots = self.graph.forgotten_before(node) if node.kind is Kind.JOIN else ()
            for edge in node.into:
                if edge.choice and fixed.get(edge.choice, edge.branch) != edge.branch:
                    continue
                source = self.graph.nodes[edge.source]
                ops, steps = self._ops(edge.source), int(source.kind is Kind.STEP)
                for at, (walked, _, _) in found[edge.source].items():
                    case = passed(edge, at[0], self.graph)
                    if case is None:
                        continue
                    to = (forgotten(case, slots), self._after(ops, at[1]))
                    if to not in here or walked + steps < here[to][0]:
                        here[to] = (walked + steps, edge, at)
            found.append(here)
        return found

    def _back(self, reached: list[dict[_At, _Whence]], end: _At) -> list[Edge]:
        """Return the edges of the walk, first to last."""
        edges: list[Edge] = []
        node, at = self.question.node, end
        while True:
            _, edge, before = reached[node][at]
            if edge is None or before is None:
                return edges[::-1]
            edges.append(edge)
            node, at = edge.source, before

    def _needed(self, made: Choices) -> Choices:
        """Return a part of ``made`` under which every walk to the node fails, and of which nothing can be left out.

        Choices that cannot matter are dropped at once, then each of the rest whose absence lets no sound path through;
        first those that the node lies within, since every walk to it has taken them.
        """
        mattering = self._mattering()
        needed = {choice: branch for choice, branch in made.items() if choice in mattering}
        if len(needed) < len(made) and not self._all_fail(needed):
            needed = dict(made)
        inside = {choice for choice, _ in self.graph.within[self.question.node]}
        for choice in sorted(needed, key=lambda choice: choice not in inside):
            fewer = {other: branch for other, branch in needed.items() if other != choice}
            if self._all_fail(fewer):
                needed = fewer
        return needed

    def _mattering(self) -> set[str]:
        """Return the choices that are followed, or in whose branches the automaton is moved."""
        moving = {
            choice for index, within in self.graph.within.items() if within and self._ops(index) for choice, _ in within
        }
        return moving | self.graph.slots.keys()

    def _all_fail(self, choices: Mapping[str, str]) -> bool:
        fixed = dict(choices)
        for node in self.graph.nodes:
            if node.kind is Kind.FORK and node.entry is not None and getattr(node.entry, "id", "") in choices:
                fixed.update(self.graph.within[node.index])
        return all(self._fails(at) for at in self._reached(fixed)[-1])

    def _changes(self, nodes: tuple[int, ...]) -> list[Change]:
        known = dict.fromkeys(self.watched, 0)
        found: list[Change] = []
        for index in nodes:
            ops = self._ops(index)
            if index == self.question.node:
                before = self.program.ops(index)[: max(0, self.question.op)]
                ops = tuple(op for op in before if op.code is not Code.CHECK and op.key in self.watched)
            for op in ops:
                old = known[op.key]
                move_state(op, known)
                if known[op.key] != old:
                    found.append(Change(op, old, known[op.key]))
        return found

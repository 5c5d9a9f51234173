"""One question about the paths to one point: which states of one automaton can be there, if these choices are made."""

from collections.abc import Mapping
from dataclasses import dataclass

from builder.check.paths.program import Program
from builder.facts.automata import Code, Op, move_set
from builder.facts.graph import Case, Edge, GraphNode, NodeKind, forgotten, passed
from builder.model.sequence import Follow, branches

Choices = dict[str, str]
Sets = tuple[int, ...]


@dataclass(frozen=True, slots=True)
class ReachQuery:
    """What is looked for: a walk on which operation ``op`` of ``node`` fails, or which is stuck at follow ``node``.

    ``stuck`` is the branch taken earlier, "" where the choice was not made.
    """

    node: int
    op: int = -1
    stuck: str | None = None


class Reach:
    """The part of a program that a question is about: one automaton, and those whose state it takes over."""

    def __init__(self, program: Program, question: ReachQuery) -> None:
        self.program = program
        self.graph = program.graph
        self.question = question
        self.goal = program.ops(question.node)[question.op] if question.op >= 0 else None
        self.watched = self._watched()
        self._relevant = {id: self._own(ops) for id, ops in program.steps.items()}
        self.last = self._own(program.ops(question.node)[: max(0, question.op)])
        self.slots = self._slots()

    def _watched(self) -> tuple[int, ...]:
        """Return the automaton of the failing check and those whose state it takes over."""
        if self.goal is None:
            return ()
        found = {self.goal.key: None}
        for ops in self.program.steps.values():
            found.update({op.arg: None for op in ops if op.code is Code.COPY and op.key == self.goal.key})
        return tuple(found)

    def _slots(self) -> dict[str, int]:
        """Return the followed choices that have to be told apart.

        Not those whose follows move nothing that is watched, do not lead to the node in question, have in them no
        follow, no choice that is followed and no end, and let every walk through: their cases fare alike.
        """
        if self.goal is None:
            return self.graph.slots
        needed = {
            choice
            for choice, start, stop in self.graph.spans
            if any(self.ops(index) or self._tells_apart(index) for index in range(start + 1, stop))
            or not self._lets_all_through(choice, start)
        }
        return {choice: slot for choice, slot in self.graph.slots.items() if choice in needed}

    def _tells_apart(self, index: int) -> bool:
        """Tell whether it matters for paths which of them comes to node ``index``."""
        node = self.graph.nodes[index]
        followed = node.kind is NodeKind.FORK and getattr(node.entry, "id", "") in self.graph.slots
        ends = node.step is not None and node.step.ends
        return followed or ends or node.kind is NodeKind.FOLLOW or index == self.question.node

    def _lets_all_through(self, choice: str, follow: int) -> bool:
        entry, fork = self.graph.nodes[follow].entry, self.graph.forks[choice]
        made = set(self.graph.within[fork]) <= set(self.graph.within[follow]) and fork < follow
        names = {name for name, _ in branches(self.graph.choices[choice])}
        return made and isinstance(entry, Follow) and set(entry.branches) >= names

    def _own(self, ops: tuple[Op, ...]) -> tuple[Op, ...]:
        return tuple(op for op in ops if op.code is not Code.CHECK and op.key in self.watched)

    def ops(self, index: int) -> tuple[Op, ...]:
        """Return what node ``index`` does to what is watched; at the node in question, up to the check."""
        if index == self.question.node:
            return self.last
        step = self.graph.nodes[index].step
        return self._relevant[step.id] if step is not None else ()

    def leaves_out(self, node: GraphNode, edge: Edge, fixed: Mapping[str, str]) -> bool:
        """Tell whether a walk by ``edge`` to ``node`` takes another branch, or ends before a choice that is fixed."""
        if edge.choice and fixed.get(edge.choice, edge.branch) != edge.branch:
            return True
        ends = node.kind is NodeKind.END
        return ends and any(self.graph.forks.get(choice, -1) > edge.source for choice in fixed)

    def sets(self, fixed: Mapping[str, str]) -> list[dict[Case, Sets]]:
        """Return for each node up to the one in question, by case, the states possible before its operations.

        ``fixed`` are branches that must be taken.
        """
        start: Case = (None,) * len(self.graph.slots)
        found: list[dict[Case, Sets]] = []
        for node in self.graph.nodes[: self.question.node + 1]:
            here: dict[Case, Sets] = {start: (1,) * len(self.watched)} if node.kind is NodeKind.START else {}
            slots = self.graph.forgotten_before(node) if node.kind is NodeKind.JOIN else ()
            for edge in node.into:
                if self.leaves_out(node, edge, fixed):
                    continue
                ops, told_apart = self.ops(edge.source), edge.choice in self.slots
                for case, sets in found[edge.source].items():
                    reached = passed(edge, case, self.graph, self.slots) if told_apart else case
                    if reached is None:
                        continue
                    if slots:
                        reached = forgotten(reached, slots)
                    after = self.moved(ops, sets) if ops else sets
                    known = here.get(reached)
                    if known is None:
                        here[reached] = after
                    elif known != after:
                        here[reached] = tuple(mine | yours for mine, yours in zip(known, after, strict=True))
            found.append(here)
        return found

    def moved(self, ops: tuple[Op, ...], sets: Sets) -> Sets:
        """Return the states possible after ``ops``."""
        facts = dict(zip(self.watched, sets, strict=True))
        for op in ops:
            move_set(op, facts)
        return tuple(facts.values())

    def judged(self, case: Case, sets: Sets) -> tuple[int, int]:
        """Return the states that fail and those that do not, of a walk that comes to the node in question."""
        if self.goal is None:
            entry = self.graph.nodes[self.question.node].entry
            assert isinstance(entry, Follow)
            fails = (case[self.graph.slots[entry.choice]] or "") == self.question.stuck
            return int(fails), int(not fails)
        states = self.moved(self.last, sets)[0]
        return states & self.goal.arg, states & ~self.goal.arg

    def all_fail(self, choices: Mapping[str, str]) -> bool:
        """Tell whether every walk to the node in question that takes ``choices`` fails there."""
        return not any(self.judged(*at)[1] for at in self.sets(self.whole(choices))[-1].items())

    def whole(self, choices: Mapping[str, str]) -> Choices:
        """Return ``choices`` with the branches in which they are made at all."""
        fixed = dict(choices)
        for node in self.graph.nodes:
            if node.kind is NodeKind.FORK and node.entry is not None and getattr(node.entry, "id", "") in choices:
                fixed.update(self.graph.within[node.index])
        return fixed

    def mattering(self) -> set[str]:
        """Return the choices that are followed, or in whose branches the automaton is moved."""
        within = self.graph.within.items()
        moving = {choice for index, branches in within if branches and self.ops(index) for choice, _ in branches}
        return moving | self.graph.slots.keys()

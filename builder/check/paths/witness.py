"""The shortest path on which a check fails, and the choices that bring the failure about.

Looked for only where the data flow has found a failure. The choices named are enough for *every* path that takes them
to fail, and none of them is idle: without it, a sound path would get through.

The path is a shortest of all that fail. Only where the ways to be told apart are more than ``MOST_STATES`` is it a
shortest of those that take the choices named; that takes many choices that are all followed later.
"""

from dataclasses import dataclass

from builder.check.paths.program import Program
from builder.check.paths.reachable import Choices, Reach, ReachQuery, Sets
from builder.facts.automata import Op, move_set
from builder.facts.graph import Case, Edge, GraphNode, NodeKind, forgotten, passed
from builder.model.sequence import Choose, Option, branches

MOST_STATES = 20_000
_At = tuple[Case, Sets]
"""A case, and the set of states of each automaton: on one walk a set of one."""
_Whence = tuple[int, Edge | None, "_At | None"]
"""Steps walked so far, the edge that was taken last, and how the walk stood before it."""


@dataclass(frozen=True, slots=True)
class Transition:
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
    changes: tuple[Transition, ...]


def find(program: Program, question: ReachQuery) -> Walk:
    """Return a shortest walk that answers ``question``; there must be one."""
    reach = Reach(program, question)
    sets = reach.sets({})
    if sum(states.bit_count() for here in sets for coming in here.values() for states in coming or (1,)) <= MOST_STATES:
        edges = _shortest(reach, {}, all_fail=False)
        choices = _needed(reach, _made(reach, edges), sets[-1])
    else:
        choices = _needed(reach, _some_failing(reach), sets[-1])
        edges = _shortest(reach, choices, all_fail=True)
    nodes = (*(edge.source for edge in edges), question.node)
    return Walk(nodes, question.op, choices, tuple(_changes(reach, nodes)))


def _made(reach: Reach, edges: list[Edge]) -> Choices:
    """Return the branch taken at every choice on the way."""
    nodes = reach.graph.nodes
    return {edge.choice: edge.branch for edge in edges if edge.choice and nodes[edge.source].kind is NodeKind.FORK}


def _needed(reach: Reach, made: Choices, coming: dict[Case, Sets]) -> Choices:
    """Return a part of ``made`` under which every walk to the node fails, and of which nothing can be left out.

    ``coming`` is what is possible at the node whatever is chosen. The branches it lies within need not be named. The
    search halves what is left (QuickXplain, U. Junker, AAAI 2004), so that it asks seldom where few choices matter.
    """
    if not any(reach.judged(*at)[1] for at in coming.items()):
        return {}
    mattering = reach.mattering()
    inside = dict(reach.graph.within[reach.question.node])
    kept = {choice: branch for choice, branch in made.items() if choice in mattering and choice not in inside}
    if not reach.all_fail(inside | kept):
        kept = {choice: branch for choice, branch in made.items() if choice not in inside}
    return dict(_explained(reach, inside, False, list(kept.items())))


def _explained(reach: Reach, given: Choices, more_given: bool, rest: list[tuple[str, str]]) -> list[tuple[str, str]]:
    if more_given and reach.all_fail(given):
        return []
    if len(rest) == 1:
        return rest
    first, second = rest[: len(rest) // 2], rest[len(rest) // 2 :]
    of_second = _explained(reach, given | dict(first), bool(first), second)
    of_first = _explained(reach, given | dict(of_second), bool(of_second), first)
    return [*of_first, *of_second]


def _shortest(reach: Reach, choices: Choices, all_fail: bool) -> list[Edge]:
    """Return the edges of a shortest failing walk that takes ``choices``.

    ``all_fail`` says that every walk with these choices fails, so that no states have to be told apart.
    """
    fixed = reach.whole(choices)
    states: Sets = () if all_fail else (1,) * len(reach.watched)
    found: list[dict[_At, _Whence]] = []
    for node in reach.graph.nodes[: reach.question.node + 1]:
        here: dict[_At, _Whence] = {}
        if node.kind is NodeKind.START:
            here[(None,) * len(reach.graph.slots), states] = (0, None, None)
        slots = reach.graph.forgotten_before(node) if node.kind is NodeKind.JOIN else ()
        for edge in node.into:
            if reach.leaves_out(node, edge, fixed):
                continue
            ops = reach.ops(edge.source) if states else ()
            more = int(reach.graph.nodes[edge.source].kind is NodeKind.STEP)
            told_apart = edge.choice in reach.graph.slots
            for at, (walked, _, _) in found[edge.source].items():
                case = passed(edge, at[0], reach.graph, reach.graph.slots) if told_apart else at[0]
                if case is None:
                    continue
                to = (forgotten(case, slots) if slots else case, reach.moved(ops, at[1]) if ops else at[1])
                if to not in here or walked + more < here[to][0]:
                    here[to] = (walked + more, edge, at)
        found.append(here)
    failing = [at for at in found[-1] if all_fail or reach.judged(*at)[0]]
    return _back(found, reach.question.node, min(failing, key=lambda at: found[-1][at][0]))


def _back(found: list[dict[_At, _Whence]], node: int, at: _At) -> list[Edge]:
    """Return the edges of the walk that ends in ``at``, first to last."""
    edges: list[Edge] = []
    while True:
        _, edge, before = found[node][at]
        if edge is None or before is None:
            return edges[::-1]
        edges.append(edge)
        node, at = edge.source, before


def _some_failing(reach: Reach) -> Choices:
    """Return the choices of some failing walk: branch after branch, one under which a walk still fails.

    The choices that are followed come first, since each that is fixed halves the cases to be told apart.
    """
    fixed: Choices = {}
    forks = [node for node in reach.graph.nodes[: reach.question.node] if node.kind is NodeKind.FORK]
    for node in sorted(forks, key=lambda node: _choice(node) not in reach.graph.slots):
        if all(fixed.get(choice, branch) == branch for choice, branch in reach.graph.within[node.index]):
            names = [branch for branch, _ in branches(node.entry)] if node.entry else []
            tried = (reach.whole(fixed | {_choice(node): str(name)}) for name in names)
            # No branch of a choice that no failing walk comes to: it is left open.
            fixed = next((choices for choices in tried if _any_fails(reach, choices)), fixed)
    return fixed


def _choice(node: GraphNode) -> str:
    assert isinstance(node.entry, Choose | Option)
    return str(node.entry.id)


def _any_fails(reach: Reach, choices: Choices) -> bool:
    return any(reach.judged(*at)[0] for at in reach.sets(choices)[-1].items())


def _changes(reach: Reach, nodes: tuple[int, ...]) -> list[Transition]:
    known = dict.fromkeys(reach.watched, 1)
    found: list[Transition] = []
    for index in nodes:
        for op in reach.ops(index):
            old = known[op.key]
            move_set(op, known)
            if known[op.key] != old:
                found.append(Transition(op, old.bit_length() - 1, known[op.key].bit_length() - 1))
    return found

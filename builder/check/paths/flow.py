"""The data flow: one pass over the graph in order, with the sets of states of all automata.

A walk's *case* is the branch it took at each choice that is still to be followed. Facts are kept for each case; where
paths of one case meet, the possible states unite. After the last follow of a choice its cases unite as well.
"""

from dataclasses import dataclass, field

from builder.check.paths.program import Program
from builder.facts.automata import Code, Facts, Op, move_set
from builder.facts.graph import Case, Graph, GraphNode, NodeKind, forgotten, passed
from builder.model.sequence import Follow


@dataclass(slots=True)
class Result:
    """What the pass found.

    ``failed``: ``(node, number of the operation) -> states`` of the checks that fail on some path. ``dead``: ``(follow
    node, branch)`` where a walk cannot go on; the branch is "" where the choice was not made. ``walked``: the branches
    of each follow node that some walk takes. ``reached``: the nodes that some walk reaches.
    """

    failed: dict[tuple[int, int], int] = field(default_factory=dict)
    dead: dict[tuple[int, str], None] = field(default_factory=dict)
    walked: set[tuple[int, str]] = field(default_factory=set)
    reached: set[int] = field(default_factory=set)


def solve(program: Program) -> Result:
    """Return what fails on some path of ``program``."""
    graph, result = program.graph, Result()
    out: list[dict[Case, Facts]] = []
    waiting = list(graph.exits)
    for node in graph.nodes:
        if node.kind is NodeKind.START:
            out.append({(None,) * len(graph.slots): program.start()})
            continue
        cases = _united(node, out, graph)
        for edge in node.into:
            waiting[edge.source] -= 1
            if not waiting[edge.source]:
                out[edge.source] = {}
        if cases:
            result.reached.add(node.index)
        if isinstance(node.entry, Follow):
            cases = _followed(node, node.entry, cases, graph, result)
        elif ops := program.ops(node.index):
            for case, facts in cases.items():
                cases[case] = _run(ops, list(facts), node.index, result)
        out.append(cases)
    return result


def _united(node: GraphNode, out: list[dict[Case, Facts]], graph: Graph) -> dict[Case, Facts]:
    """Unite what comes in by the edges of ``node``. Facts are shared until an operation changes them."""
    slots = graph.forgotten_before(node) if node.kind is NodeKind.JOIN else ()
    united: dict[Case, Facts] = {}
    for edge in node.into:
        for case, facts in out[edge.source].items():
            reached = passed(edge, case, graph, graph.slots)
            if reached is None:
                continue
            if slots:
                reached = forgotten(reached, slots)
            known = united.get(reached)
            if known is None:
                united[reached] = facts
            elif known is not facts:
                united[reached] = [mine | yours for mine, yours in zip(known, facts, strict=True)]
    return united


def _followed(
    node: GraphNode, follow: Follow, cases: dict[Case, Facts], graph: Graph, result: Result
) -> dict[Case, Facts]:
    """Keep the cases that can go on at a follow, and note those that cannot."""
    slot = graph.slots[follow.choice]
    kept: dict[Case, Facts] = {}
    for case, facts in cases.items():
        branch = case[slot]
        if branch is None or branch not in follow.branches:
            result.dead[node.index, branch or ""] = None
        else:
            result.walked.add((node.index, branch))
            kept[case] = facts
    return kept


def _run(ops: tuple[Op, ...], facts: Facts, index: int, result: Result) -> Facts:
    check, failed = Code.CHECK, result.failed
    for number, op in enumerate(ops):
        if op.code is not check:
            move_set(op, facts)
        elif facts[op.key] & op.arg:
            failed[index, number] = failed.get((index, number), 0) | facts[op.key]
    return facts

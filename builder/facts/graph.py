"""The graph of a procedure: its sequence unfolded into steps, forks and joins, in an order in which it can be read.

Nodes are numbered in topological order: every edge leads from a lower to a higher number. A step that appears twice in
the sequence is two nodes.
"""

from collections.abc import Container, Iterable, Mapping
from dataclasses import dataclass, field
from enum import Enum
from string import ascii_uppercase

from builder.facts.remembered import once_per_library
from builder.model.library import Library
from builder.model.pages import Procedure, Step
from builder.model.sequence import Choose, Follow, Option, Sequence, StepEntry, branches

Branching = Choose | Option | Follow
"""An entry of a sequence that has branches."""


class NodeKind(Enum):
    """What a node stands for. ``FORK`` is a choice or option, ``FOLLOW`` walks the branch taken earlier, and at
    ``STOP`` is a step of which nobody knows what is done: nothing is said about what follows it.

    Paths end at ``END``, or at ``CONVERTED`` where another operation goes on with what is open and in.
    """

    START = "start"
    STEP = "step"
    FORK = "fork"
    FOLLOW = "follow"
    STOP = "stop"
    JOIN = "join"
    END = "end"
    CONVERTED = "converted"


@dataclass(frozen=True, slots=True)
class Edge:
    """A way from node ``source``. With a ``choice``, it is the way of ``branch``; a follow lets only that through."""

    source: int
    choice: str = ""
    branch: str = ""


@dataclass(frozen=True, slots=True)
class GraphNode:
    """One node: its index, kind, the edges that lead to it, the step or entry it stands for, and the step's number.

    A number counts positions along the way; a letter names the branch, as in every output (``4``, ``4A``).
    """

    index: int
    kind: NodeKind
    into: tuple[Edge, ...]
    step: Step | None = None
    entry: Branching | None = None
    number: str = ""


@dataclass(slots=True)
class Graph:
    """The nodes in order, every choice by id, and after which node each followed choice no longer matters.

    ``slots`` numbers the followed choices: a walk is in one *case* for each, a tuple of the branches taken (None: not
    made, or no longer of interest). ``exits`` counts the edges that leave each node; ``within`` holds the branches,
    outermost first, that every walk to a node has taken. ``spans`` are the follows: the choice, the node of the follow
    and that of its join; ``forks`` the node of each choice.
    """

    nodes: list[GraphNode] = field(default_factory=list)
    choices: dict[str, Choose | Option] = field(default_factory=dict)
    last_follow: dict[str, int] = field(default_factory=dict)
    slots: dict[str, int] = field(default_factory=dict)
    exits: list[int] = field(default_factory=list)
    within: dict[int, tuple[tuple[str, str], ...]] = field(default_factory=dict)
    spans: list[tuple[str, int, int]] = field(default_factory=list)
    forks: dict[str, int] = field(default_factory=dict)

    def forgotten_before(self, node: GraphNode) -> list[int]:
        """Return the slots of the choices that are not followed from ``node`` on."""
        return [self.slots[choice] for choice, last in self.last_follow.items() if last < node.index]


Case = tuple[str | None, ...]
"""The branch that a walk took at each choice that is still to be followed."""


def passed(edge: Edge, case: Case, graph: Graph, slots: Mapping[str, int]) -> Case | None:
    """Return the case after ``edge`` for a walk that comes in ``case``, or None where it cannot go that way.

    ``slots`` are the choices that are told apart, all that are followed or a part of them.
    """
    slot = slots.get(edge.choice) if edge.choice else None
    if slot is None:
        return case
    if graph.nodes[edge.source].kind is NodeKind.FOLLOW:
        return case if case[slot] == edge.branch else None
    return (*case[:slot], edge.branch, *case[slot + 1 :])


def forgotten(case: Case, slots: Iterable[int]) -> Case:
    """Return ``case`` without the choices in ``slots``, which are not followed again."""
    for slot in slots:
        case = (*case[:slot], None, *case[slot + 1 :])
    return case


def unfold(procedure: Procedure, stops: Container[str] = ()) -> Graph:
    """Return the graph of ``procedure``; no way leads on from the steps in ``stops``.

    Other steps that do not exist are passed over; their absence is another check's.
    """
    graph = Graph()
    for entry in procedure.entries:
        if isinstance(entry, Choose | Option):
            graph.choices.setdefault(entry.id, entry)
    builder = _Unfolder(graph, procedure, stops)
    start = builder.node(NodeKind.START, ())
    ends = builder.sequence(procedure.sequence, (Edge(start),))
    if builder.converted:
        builder.node(NodeKind.CONVERTED, builder.converted)
    builder.node(NodeKind.END, (*ends, *builder.stopped))
    graph.slots = {choice: slot for slot, choice in enumerate(graph.last_follow)}
    graph.exits = [0] * len(graph.nodes)
    for node in graph.nodes:
        for edge in node.into:
            graph.exits[edge.source] += 1
    return graph


@once_per_library
def graph_of(_: Library, procedure: Procedure) -> Graph:
    """Return the graph of ``procedure``, made once."""
    return unfold(procedure)


class _Unfolder:
    def __init__(self, graph: Graph, procedure: Procedure, stops: Container[str]) -> None:
        self.graph = graph
        self.steps = procedure.steps
        self.stops = stops
        self.within: tuple[tuple[str, str], ...] = ()
        self.position, self.letters = 1, ""
        self.stopped: list[Edge] = []
        self.converted: list[Edge] = []

    def node(
        self, kind: NodeKind, into: Iterable[Edge], step: Step | None = None, entry: Branching | None = None
    ) -> int:
        index = len(self.graph.nodes)
        number = f"{self.position}{self.letters}" if kind in (NodeKind.STEP, NodeKind.STOP) else ""
        self.graph.nodes.append(GraphNode(index, kind, tuple(into), step, entry, number))
        self.graph.within[index] = self.within
        return index

    def sequence(self, sequence: Sequence, into: tuple[Edge, ...]) -> tuple[Edge, ...]:
        """Unfold ``sequence`` after the edges ``into``; return the edges that lead on."""
        for entry in sequence:
            if not isinstance(entry, StepEntry):
                into = self.branching(entry, into)
                continue
            if entry.step in self.stops:
                self.node(NodeKind.STOP, into)
                into = ()
            elif (step := self.steps.get(entry.step)) is not None:
                into = (Edge(self.node(NodeKind.STEP, into, step)),)
                if step.ends:
                    (self.converted if step.converts_to is not None else self.stopped).extend(into)
                    into = ()
            self.position += 1
        return into

    def branching(self, entry: Branching, into: tuple[Edge, ...]) -> tuple[Edge, ...]:
        following = isinstance(entry, Follow)
        choice = str(entry.choice if isinstance(entry, Follow) else entry.id)
        index = self.node(NodeKind.FOLLOW if following else NodeKind.FORK, into, entry=entry)
        if following:
            self.graph.last_follow[choice] = index
        else:
            self.graph.forks[choice] = index
        ends: list[Edge] = []
        outer, start, letters = self.within, self.position, self.letters
        after = start
        for branch, inner in branches(entry):
            self.within = (*outer, (choice, str(branch)))
            self.position, self.letters = start, letters + self._letter(entry, choice, str(branch))
            ends.extend(self.sequence(inner, (Edge(index, choice, str(branch)),)))
            after = max(after, self.position)
        self.within, self.position, self.letters = outer, after, letters
        join = self.node(NodeKind.JOIN, ends)
        if following:
            self.graph.spans.append((choice, index, join))
        return (Edge(join),)

    def _letter(self, entry: Choose | Option | Follow, choice: str, branch: str) -> str:
        """Return the letter that steps of ``branch`` bear: by its place in the choice, none where it is alone."""
        made = self.graph.choices.get(choice)
        if sum(bool(inner) for _, inner in branches(entry)) < 2 or made is None:
            return ""
        names = [str(name) for name, _ in branches(made)]
        return ascii_uppercase[names.index(branch) % 26] if branch in names else ""

"""The course of an operation: on every walk through it, from which step to which each tracked thing is in.

Worked out in one pass over the graph, as the path analysis does it: what is known of a thing is the set of ``(node at
which it went in, how many)`` that are possible, kept for each case of the followed choices and united where ways meet.
So a span is told exactly where some walk has it, and a thing is called in on every way only where no walk is without.
"""

import re
from dataclasses import dataclass, field

from builder.facts.anatomy import Anatomy
from builder.facts.graph import Case, Graph, GraphNode, NodeKind, forgotten, passed, unfold
from builder.facts.item_layout import ItemLayout
from builder.facts.tracked import Tracked, Tracking
from builder.model.pages import Procedure

Possible = frozenset[tuple[int, int]]
"""The nodes at which a thing may have gone in, each with a number that may be in; ``(-1, 0)`` where it may be out."""
OUT, IN = 1, 2
"""Marks of what is possible between two columns: the thing is out, the thing is in."""
_NOTHING: Possible = frozenset({(-1, 0)})
_DIGITS = re.compile(r"\d+")


@dataclass(slots=True)
class ThingCourse:
    """The course of one ``thing``. ``spans`` are pairs of nodes, from and to; to None where it is in when the walk
    ends. ``more`` and ``fewer`` are nodes that put more in, or take some out, while it is in; ``most`` how many are in
    at once. ``between[n]`` holds what is possible after column n (0: before the first step)."""

    thing: Tracked
    between: list[int]
    spans: dict[tuple[int, int | None], None] = field(default_factory=dict)
    more: dict[int, None] = field(default_factory=dict)
    fewer: dict[int, None] = field(default_factory=dict)
    most: int = 0


@dataclass(frozen=True, slots=True)
class Course:
    """The ``graph`` of an operation, its number of ``columns`` and the course of everything that is tracked."""

    graph: Graph
    columns: int
    things: tuple[ThingCourse, ...]


def column_of(number: str) -> int:
    """Return the column of a step by its number: that without the letters of its branch."""
    digits = _DIGITS.match(number)
    return int(digits.group()) if digits else 0


def course_of(procedure: Procedure, anatomy: Anatomy) -> Course:
    """Return the course of ``procedure``."""
    graph = unfold(procedure)
    steps = list({node.step.id: node.step for node in graph.nodes if node.step is not None}.values())
    tracking = Tracking(ItemLayout(anatomy, procedure.side, steps), steps)
    columns = max((column_of(node.number) for node in graph.nodes), default=0)
    things = tuple(ThingCourse(thing, [0] * (columns + 1)) for thing in tracking.things)
    _Pass(graph, tracking, things, columns).run()
    return Course(graph, columns, things)


class _Pass:
    def __init__(self, graph: Graph, tracking: Tracking, things: tuple[ThingCourse, ...], columns: int) -> None:
        self.graph = graph
        self.tracking = tracking
        self.things = things
        self.columns = columns
        self.places: list[int] = []
        self.out: list[dict[Case, list[Possible]]] = []

    def run(self) -> None:
        for node in self.graph.nodes:
            before = max((self.places[edge.source] for edge in node.into), default=0)
            at_end = node.kind is NodeKind.END
            self.places.append(self.columns + 1 if at_end else max(before, column_of(node.number)))
            if node.kind is NodeKind.START:
                self.out.append({(None,) * len(self.graph.slots): [_NOTHING] * len(self.things)})
                continue
            cases = self._united(node)
            if node.step is not None:
                cases = {case: self._moved(node, known) for case, known in cases.items()}
            if at_end or node.kind is NodeKind.CONVERTED:
                self._close(cases)
            self.out.append(cases)

    def _united(self, node: GraphNode) -> dict[Case, list[Possible]]:
        slots = self.graph.forgotten_before(node) if node.kind is NodeKind.JOIN else ()
        united: dict[Case, list[Possible]] = {}
        for edge in node.into:
            for case, known in self.out[edge.source].items():
                reached = passed(edge, case, self.graph, self.graph.slots)
                if reached is None:
                    continue
                self._note_between(edge.source, node, known)
                reached = forgotten(reached, slots)
                before = united.get(reached)
                united[reached] = (
                    known if before is None else [mine | yours for mine, yours in zip(before, known, strict=True)]
                )
        return united

    def _note_between(self, source: int, node: GraphNode, known: list[Possible]) -> None:
        """Note what is possible after each column that the edge from ``source`` crosses.

        Where the operation has ended with a step, only what is still in counts: what is out is not missed any more.
        What another operation goes on with is told there.
        """
        if node.kind is NodeKind.CONVERTED:
            return
        step = self.graph.nodes[source].step
        ended = step is not None and step.ends
        for course, possible in zip(self.things, known, strict=True):
            marks = sum({IN if count else OUT for _, count in possible})
            for column in range(self.places[source], self.places[node.index]):
                course.between[column] |= marks & IN if ended else marks

    def _moved(self, node: GraphNode, known: list[Possible]) -> list[Possible]:
        known = list(known)
        for thing, change in self.tracking.moves[str(node.step.id)] if node.step is not None else ():
            course = self.things[thing]
            known[thing] = frozenset(_move(course, node.index, at, count, change) for at, count in known[thing])
        return known

    def _close(self, cases: dict[Case, list[Possible]]) -> None:
        for known in cases.values():
            for course, possible in zip(self.things, known, strict=True):
                course.spans.update(dict.fromkeys((at, None) for at, count in possible if count))


def _move(course: ThingCourse, node: int, at: int, count: int, change: int) -> tuple[int, int]:
    """Return since when a thing is in and how many after ``change`` at ``node``, and note what begins or ends."""
    after = min(course.thing.most, max(0, count + change))
    course.most = max(course.most, after)
    if not after:
        if count:
            course.spans[at, node] = None
        return -1, 0
    if not count:
        return node, after
    if after != count and at != node:
        (course.more if after > count else course.fewer)[node] = None
    return at, after

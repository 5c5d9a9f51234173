"""Failed checks: which of them are one defect, and the path on which each fails."""

from collections.abc import Callable, Iterable, Iterator
from functools import cached_property

from builder.check.hit import Hit
from builder.check.paths import path_words
from builder.check.paths.flow import Result
from builder.check.paths.program import Program
from builder.check.paths.reachable import ReachQuery
from builder.check.paths.witness import Walk, find
from builder.facts.automata import Code, Condition, Deed, Op
from builder.findings.finding import SecondPlace
from builder.place import Place


class Failure:
    """A check that fails on some path; ``like`` are others that are the same defect (other sides, other categories)."""

    def __init__(self, program: Program, node: int, number: int, states: int) -> None:
        self.program = program
        self.node = node
        self.number = number
        self.states = states
        self.like: list[Failure] = []

    @property
    def op(self) -> Op:
        """The operation that checks."""
        return self.program.ops(self.node)[self.number]

    @property
    def check(self) -> Condition:
        """What the check is about."""
        assert self.op.check is not None
        return self.op.check

    @property
    def in_use(self) -> int:
        """The most that can be in use at once, where the kit has too few."""
        return self.states.bit_length() - 1 + self.check.number

    @property
    def side_words(self) -> str:
        """The side or sides on which it fails, in words."""
        return path_words.on_side([self.check.side, *(other.check.side for other in self.like)])

    @cached_property
    def walk(self) -> Walk:
        """A shortest path on which it fails."""
        return find(self.program, ReachQuery(self.node, self.number))

    def raised(self, raises: Callable[[int, int], bool]) -> Deed | None:
        """Return the last action on the path that moved the automaton itself as ``raises(before, after)`` says."""
        own = [change for change in self.walk.changes if change.op.code is not Code.COPY]
        raising = [change.op.deed for change in own if raises(change.before, change.after)]
        return next((deed for deed in reversed(raising) if deed is not None), None)

    @property
    def moves(self) -> Iterator[tuple[Deed, int, int]]:
        """What moved the automaton that fails, on the path that is shown: by which action, from where to where."""
        for change in self.walk.changes:
            if change.op.key == self.op.key and change.op.deed is not None:
                yield change.op.deed, change.before, change.after

    @property
    def final(self) -> int:
        """The state in which the automaton fails on the path that is shown."""
        own = [change.after for change in self.walk.changes if change.op.key == self.op.key]
        return own[-1] if own else 0

    @property
    def last(self) -> Deed | None:
        """The last action on the path that moved the automaton."""
        return self.walk.changes[-1].op.deed

    def hit(self, doing: str, problem: str, hint: str, also: Iterable[SecondPlace], at: Place) -> Hit:
        """Return the finding."""
        message = path_words.failing(self.program, self.walk, doing, problem)
        deed = self.check.deed
        if deed is not None and (deed.action.proposed or deed.step.proposed):
            # Else the way to no error would be to write more around what nobody said.
            hint = f"If this is not done here, take it out: a draft proposed it. {hint}"
        places = {place.at: place for place in also if place.at != at}
        return Hit(at, message, hint, tuple(places.values()), path_words.titles(self.program, self.walk))


def failures(program: Program, result: Result) -> Iterator[Failure]:
    """Yield one failure a defect, in the order of the sequence."""
    kept: dict[tuple[object, ...], Failure] = {}
    for (node, number), states in result.failed.items():
        failure = Failure(program, node, number, states)
        first = kept.setdefault(_defect(failure), failure)
        if first is not failure:
            if failure.check.rule == "not-enough-kit" and failure.in_use > first.in_use:
                kept[_defect(failure)] = failure
            else:
                first.like.append(failure)
    left_in = [failure for failure in kept.values() if failure.check.rule == "item-left-in"]
    shut_in = {failure.check.item.id for failure in left_in if failure.check.item}
    for kind in ("closed", "skin", "end"):
        # What is shut in when a layer is closed is also in when the skin is closed, and at the end: one defect.
        of_kind = [failure for failure in left_in if failure.check.what == kind]
        yield from (failure for failure in of_kind if failure.check.item and failure.check.item.id in shut_in)
        shut_in -= {failure.check.item.id for failure in of_kind if failure.check.item}
    open_at_end = {failure.check.structure for failure in kept.values() if failure.check.rule == "left-open"}
    for failure in kept.values():
        late = failure.check.rule == "closed-out-of-order" and failure.check.structure in open_at_end
        if failure.check.rule != "item-left-in" and not late:
            yield failure


def _defect(failure: Failure) -> tuple[object, ...]:
    """Return what makes two failures one defect."""
    check = failure.check
    if check.rule == "not-enough-kit":
        return check.rule, check.item and check.item.id
    if check.rule in ("cavity-closed-uncounted", "skin-closed-uncounted", "ended-uncounted"):
        return check.rule, check.deed and check.deed.at
    if check.rule == "item-left-in":
        return check.rule, check.what, check.item and check.item.id, check.structure and check.structure.id
    entry = check.structure or check.item
    return check.rule, check.deed and check.deed.at, check.at, entry and entry.id, check.what

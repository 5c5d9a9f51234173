"""The count sheet as data: what is in or on the patient after each step, on each path, and what is counted when.

For each item the paths differ only by the choices in whose branches it goes in or comes out, and by what follows from
them. So the sheet states a number where all paths agree, and where they do not, the numbers with the choices that make
the difference; a path is never listed as a whole.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import combinations
from math import prod

from builder.check.paths import counts, words
from builder.check.paths.analysis import can_be_studied
from builder.check.paths.anatomy import Anatomy
from builder.check.paths.flow import passed
from builder.check.paths.graph import Case, Kind, unfold
from builder.check.paths.layout import Lying, Spot
from builder.check.paths.program import Program, compile_procedure
from builder.check.paths.shape import is_clear
from builder.model.action import Verb
from builder.model.library import Library
from builder.model.pages import Item, Procedure, Step, StructureKind
from builder.model.sequence import branches

Numbers = tuple[int, ...]
_Event = tuple[Numbers, int]
"""Which spots are meant, and how many go in (above nought) or come out."""

EVERYTHING = 1 << 30
MOST_VARIANTS = 64
"""Beyond so many combinations of choices for one item, the sheet gives the least and the most instead."""


@dataclass(frozen=True, slots=True)
class Variant:
    """How many are in ``when`` (words, "" on every path) certain choices are made."""

    number: int
    when: str


@dataclass(frozen=True, slots=True)
class Held:
    """One item that is in or on the patient: the ``least`` and ``most``, where it lies, and what makes the difference.

    ``variants`` is empty where all paths agree.
    """

    item: Item
    least: int
    most: int
    where: tuple[str, ...]
    variants: tuple[Variant, ...] = ()


@dataclass(frozen=True, slots=True)
class Row:
    """One step of the sheet: the step, the branch it stands in (words, "" on every path), and what is in after it."""

    step: Step
    when: str
    held: tuple[Held, ...]


@dataclass(frozen=True, slots=True)
class Moment:
    """A moment of counting: its ``kind`` (start, cavity, skin, end), words, what is counted, the step that closes."""

    kind: str
    words: str
    counted: tuple[str, ...]
    step: Step | None = None


@dataclass(frozen=True, slots=True)
class CountSheet:
    """The sheet of one procedure. ``differences`` says in sentences where paths differ at the end."""

    procedure: Procedure
    rows: tuple[Row, ...]
    moments: tuple[Moment, ...]
    differences: tuple[str, ...]


def count_sheet(library: Library, procedure: Procedure) -> CountSheet | None:
    """Return the count sheet of ``procedure``; None where its paths cannot be studied (see the findings)."""
    anatomy, graph = Anatomy(library), unfold(procedure)
    if not is_clear(procedure, graph) or not can_be_studied(library, procedure, anatomy):
        return None
    maker = _SheetMaker(compile_procedure(procedure, graph, anatomy))
    rows = tuple(maker.rows())
    return CountSheet(procedure, rows, tuple(maker.moments()), tuple(maker.differences()))


class _SheetMaker:
    def __init__(self, program: Program) -> None:
        self.program = program
        self.graph = program.graph
        self.items = [_ItemWays(program, lying) for lying in program.layout.lying.values()]

    def rows(self) -> Iterator[Row]:
        """Yield a row for each step in the order of the sequence."""
        for node in self.graph.nodes:
            if node.step is not None:
                held = tuple(one for item in self.items if (one := item.held(node.index)) is not None)
                yield Row(node.step, words.condition(self.graph, dict(self.graph.within[node.index])), held)

    def moments(self) -> Iterator[Moment]:
        """Yield the moments of counting: before the start, before each cavity is closed, at skin closure.

        Where something is opened and no skin is ever closed, the last count is taken at the end.
        """
        layout = self.program.layout
        counted = tuple(name for name in counts.CATEGORIES if name in set(self._used()))
        yield Moment("start", "before the start", counted)
        for node in self.graph.nodes:
            for action in node.step.actions if node.step else ():
                for structure in layout.structures(action.objects) if action.verb is Verb.CLOSE else ():
                    skin, name = structure.kind is StructureKind.SKIN, words.the(structure.name)
                    if skin or structure.kind is StructureKind.CAVITY or structure.id in layout.counted_in:
                        moment = f"before {name} {words.is_(structure.name)} closed"
                        yield Moment("skin" if skin else "cavity", moment, counted, node.step)
        if layout.opened and not layout.skin_is_closed:
            yield Moment("end", "at the end", counted)

    def _used(self) -> Iterator[str]:
        for step in self.program.steps:
            for action in self.program.procedure.steps[step].actions:
                for item in self.program.layout.items((*action.objects, *action.using)):
                    yield counts.category(item) or ""

    def differences(self) -> Iterator[str]:
        """Yield a sentence for each item of which not every path leaves the same number in."""
        for item in self.items:
            held = item.held(len(self.graph.nodes) - 1)
            for variant in held.variants if held else ():
                left = f"{variant.number} x" if variant.number else "no"
                yield f"{variant.when}: {left} {item.lying.item.name} stays in"


class _ItemWays:
    """How many of one item are in after each node, told apart by the choices that move it."""

    def __init__(self, program: Program, lying: Lying) -> None:
        self.program = program
        self.graph = program.graph
        self.lying = lying
        self.spots = list(lying.spots)
        self.events = {id: list(self._events(program.procedure.steps[id])) for id in program.steps}
        moving = [node.index for node in self.graph.nodes if node.step and self.events[node.step.id]]
        self.choices = list(dict.fromkeys(choice for index in moving for choice, _ in self.graph.within[index]))
        ways = prod(sum(1 for _ in branches(self.graph.choices[choice])) for choice in self.choices)
        self.few = ways <= MOST_VARIANTS
        # The choices that are followed are told apart in any case: only then is the least and the most exact.
        self.slots = {choice: slot for slot, choice in enumerate(self.choices if self.few else self.graph.slots)}
        self.after = self._walked()

    def _events(self, step: Step) -> Iterator[_Event]:
        layout = self.program.layout
        for action in step.actions:
            if action.verb in (Verb.PLACE, Verb.REMOVE) and any(
                item is self.lying.item for item in layout.items(action.objects)
            ):
                if action.verb is Verb.PLACE:
                    inside, on, found = layout.where(action)
                    for side in found:
                        yield (self.spots.index(Spot(inside, on, side)),), action.number
                else:
                    for group in layout.groups(action, self.lying.item):
                        yield tuple(i for i, spot in enumerate(self.spots) if spot in group), -action.number
            elif action.verb is Verb.EXCISE:
                gone = {structure.id for structure in layout.structures(action.objects)}
                on_it = tuple(i for i, spot in enumerate(self.spots) if spot.on in gone and layout.leaves(spot))
                if on_it:
                    yield on_it, -EVERYTHING

    def _walked(self) -> list[dict[Case, set[Numbers]]]:
        start: Case = (None,) * len(self.slots)
        found: list[dict[Case, set[Numbers]]] = []
        for node in self.graph.nodes:
            here: dict[Case, set[Numbers]] = {start: {(0,) * len(self.spots)}} if node.kind is Kind.START else {}
            for edge in node.into:
                for case, numbers in found[edge.source].items():
                    behind = passed(edge, case, self.graph, self.slots)
                    if behind is not None:
                        here.setdefault(behind, set()).update(numbers)
            events = self.events[node.step.id] if node.step else []
            if events:
                here = {case: {_moved(one, events) for one in numbers} for case, numbers in here.items()}
            found.append(here)
        return found

    def held(self, index: int) -> Held | None:
        """Return how many are in after node ``index``, or None where there are none on any path."""
        totals = {case: {sum(one) for one in numbers} for case, numbers in self.after[index].items()}
        every = {number for numbers in totals.values() for number in numbers}
        if not every - {0}:
            return None
        lies = [spot for spot in self.spots if spot.inside or spot.on]
        where = tuple(dict.fromkeys(self._place(spot) for spot in lies))
        variants = tuple(self._told_apart(totals)) if len(every) > 1 else ()
        return Held(self.lying.item, min(every), max(every), where, variants)

    def _place(self, spot: Spot) -> str:
        name = spot.inside or spot.on
        entry = self.program.layout.anatomy.structure(name) or self.program.layout.anatomy.item(name)
        return f"{'in' if spot.inside else 'on'} {words.the(str(entry.name) if entry else name)}"

    def _told_apart(self, totals: dict[Case, set[int]]) -> Iterator[Variant]:
        """Yield the numbers with the fewest choices that settle them; nothing where the choices do not settle them."""
        if not self.few or any(len(numbers) > 1 for numbers in totals.values()):
            return
        settled = {case: next(iter(numbers)) for case, numbers in totals.items()}
        for size in range(1, len(self.slots) + 1):
            for some in combinations(self.slots.items(), size):
                found: dict[Case, set[int]] = {}
                for case, number in settled.items():
                    found.setdefault(tuple(case[slot] for _, slot in some), set()).add(number)
                if all(len(numbers) == 1 for numbers in found.values()):
                    yield from (self._variant(some, case, numbers.pop()) for case, numbers in found.items())
                    return

    def _variant(self, some: tuple[tuple[str, int], ...], case: Case, number: int) -> Variant:
        made = {choice: branch for (choice, _), branch in zip(some, case, strict=True) if branch is not None}
        return Variant(number, words.condition(self.graph, made) or "otherwise")


def _moved(numbers: Numbers, events: list[_Event]) -> Numbers:
    """Return the numbers after ``events``; a removal that may mean several spots takes from them in their order."""
    now = list(numbers)
    for spots, number in events:
        if number > 0:
            now[spots[0]] += number
            continue
        left = -number
        for spot in spots:
            taken = min(now[spot], left)
            now[spot] -= taken
            left -= taken
    return tuple(now)

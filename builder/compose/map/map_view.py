"""What the map of an operation shows, as plain data: columns, lanes, steps, ways, bars and sights.

A step stands in the column of its number and in the lane of its branch. The first branch keeps to the lane it comes
from, unless a choice can be passed by: then the way past it does. Spans come from ``facts/course``, steps and numbers
from the outline that every output has. The drawing and the table place it, and say nothing else.
"""

from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass, replace

from builder.compose.view.outline import Block, Branch, ChoiceBlock, StepBlock, outline
from builder.compose.view.words import branch_label, how_long, labelled, option_words, series, series_or, uncapital
from builder.facts.anatomy import anatomy
from builder.facts.course import IN, Course, ThingCourse, column_of, course_of
from builder.facts.sides import WORDS
from builder.grouping import grouped
from builder.load.program_words import gettext
from builder.model.action import Verb
from builder.model.library import Library
from builder.model.pages import Aftercare, ItemKind, Procedure, Signal
from builder.model.sequence import Option

STAYS, _ON_WARD, _NOT_SAID = "stays", "ward", "not said"
"""First words of what becomes of a thing after the last step."""


@dataclass(frozen=True, slots=True)
class MapStep:
    """A step at its place; ``dangers`` are the hazards that guard it, ``counts`` what is counted in it."""

    column: int
    lane: int
    number: str
    title: str
    anchor: str
    critical: bool
    dangers: tuple[str, ...]
    counts: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class MapWay:
    """One way of a choice, from column ``first`` to ``last`` (``last`` before ``first``: nothing is done on it).

    It leaves lane ``parent`` for ``lane``, the same where it keeps to it; ``depth`` counts the choices around it.
    ``ends`` where the operation ends on it; ``is_cut`` says at which sides of a part of a map it goes on.
    """

    lane: int
    parent: int
    first: int
    last: int
    depth: int
    ends: bool = False
    is_cut: tuple[bool, bool] = (False, False)


@dataclass(frozen=True, slots=True)
class MapChoice:
    """A place where the way parts: the ``column`` in which its ways begin, and what they are called."""

    column: int
    label: str


@dataclass(frozen=True, slots=True)
class MapBar:
    """One thing in the patient. ``course`` says all that is drawn; ``between[n]`` is what is possible after column n.

    ``starts`` and ``ends`` are columns; ``fate`` says what becomes of it after the last step, "" where
    it is not in any more.
    """

    name: str
    course: str
    between: tuple[int, ...]
    starts: tuple[int, ...]
    ends: tuple[int, ...]
    fate: str

    @property
    def text(self) -> str:
        """What stands at the bar."""
        return f"{self.name}: {self.course}"


@dataclass(frozen=True, slots=True)
class MapSight:
    """A structure that was seen, from ``column`` on; ``numbers`` are the steps at which it may first be seen."""

    column: int
    numbers: tuple[str, ...]
    name: str

    @property
    def at(self) -> str:
        """The numbers in words."""
        return series_or(self.numbers)


@dataclass(frozen=True, slots=True)
class MapView:
    """A map, or a part of one (it ``goes_on``). ``line`` holds choices and steps in reading order.

    ``marked`` are anchors of steps to be marked on the line, such as those of the way on which a finding was made.
    """

    columns: int
    line: tuple[MapChoice | MapStep, ...]
    ways: tuple[MapWay, ...]
    bars: tuple[MapBar, ...]
    sights: tuple[MapSight, ...]
    marked: frozenset[str] = frozenset()
    goes_on: bool = False

    @property
    def steps(self) -> list[MapStep]:
        """The steps in reading order."""
        return [entry for entry in self.line if isinstance(entry, MapStep)]

    @property
    def choices(self) -> list[MapChoice]:
        """The choices in reading order."""
        return [entry for entry in self.line if isinstance(entry, MapChoice)]


def map_of(library: Library, procedure: Procedure, marked: Iterable[str] = ()) -> MapView:
    """Return the map of ``procedure``."""
    course = course_of(procedure, anatomy(library).in_approach(procedure))
    layout = _LaneLayout()
    layout.lay(outline(procedure), 1, 0, 0)
    words = _CourseWords(library, procedure, course)
    return MapView(
        course.columns,
        tuple(layout.line),
        tuple(layout.ways),
        tuple(words.bars()),
        tuple(words.sights()),
        frozenset(marked),
    )


def windowed(view: MapView, first: int, last: int) -> MapView:
    """Return the part of ``view`` from column ``first`` to ``last``, its columns numbered from 1."""
    off = first - 1

    def inside(columns: Iterable[int]) -> tuple[int, ...]:
        return tuple(column - off for column in columns if first <= column <= last)

    bars = (
        replace(
            bar, between=bar.between[off : last + 1], starts=inside(bar.starts), ends=inside(bar.ends),
            fate=bar.fate if last >= view.columns else "",
        )
        for bar in view.bars
    )  # fmt: skip
    ways = (
        replace(
            way, first=max(first, way.first) - off, last=min(last, way.last) - off, ends=way.ends and way.last <= last,
            is_cut=(way.first < first, way.last > last),
        )
        for way in view.ways
        if way.first <= last and max(way.first, way.last) >= first
    )  # fmt: skip
    return replace(
        view,
        columns=min(last, view.columns) - off,
        line=tuple(replace(entry, column=entry.column - off) for entry in view.line if first <= entry.column <= last),
        ways=tuple(ways),
        bars=tuple(bar for bar in bars if bar.starts or bar.ends or any(marks & IN for marks in bar.between)),
        sights=tuple(replace(one, column=one.column - off) for one in view.sights if first <= one.column <= last),
        goes_on=last < view.columns,
    )


class _LaneLayout:
    """Gives each step its column and lane."""

    def __init__(self) -> None:
        self.line: list[MapChoice | MapStep] = []
        self.ways: list[MapWay] = []

    def lay(self, blocks: Sequence[Block], column: int, lane: int, depth: int) -> tuple[int, int]:
        """Lay ``blocks`` from ``column`` on; return the column after them and the lowest lane that they take."""
        lowest = lane
        for block in blocks:
            if isinstance(block, StepBlock):
                self.line.append(_step(block, lane))
                column = column_of(block.number) + 1
            else:
                column, deepest = self._choice(block, column, lane, depth)
                lowest = max(lowest, deepest)
        return column, lowest

    def _choice(self, choice: ChoiceBlock, column: int, lane: int, depth: int) -> tuple[int, int]:
        can_be_passed = choice.kind == "option" or any(not branch.blocks for branch in choice.branches)
        lowest, after, is_first = lane, column, not can_be_passed
        self.line.append(MapChoice(column, _label(choice)))
        for branch in choice.branches:
            own = lane if is_first or not branch.blocks else lowest + 1
            is_first = False
            end, deepest = self.lay(branch.blocks, column, own, depth + 1)
            self.ways.append(MapWay(own, lane, column, end - 1, depth, _ends(branch)))
            lowest, after = max(lowest, deepest), max(after, end)
        return after, lowest


def _ends(branch: Branch) -> bool:
    last = branch.blocks[-1] if branch.blocks else None
    return isinstance(last, StepBlock) and last.step.ends


def _label(choice: ChoiceBlock) -> str:
    if choice.kind == "option":
        return gettext("If needed: %(title)s", title=uncapital(choice.title))
    options = {branch.letter: option_words(choice.title, branch.name) for branch in choice.branches if branch.blocks}
    if options and all(options.values()):  # it follows an option, which was named there
        return labelled(
            gettext("As chosen before"), series_or(f"{letter} {words}" for letter, words in options.items())
        )
    ways = (f"{branch.letter} {uncapital(branch_label(branch.name))}" for branch in choice.branches)
    return f"{choice.title}: {series_or(ways)}"


def _step(block: StepBlock, lane: int) -> MapStep:
    step = block.step
    guards = (*block.cautions, *block.reminders)
    counts = (str(name) for action in step.actions if action.verb is Verb.COUNT for name in action.objects)
    return MapStep(
        column_of(block.number),
        lane,
        block.number,
        step.title,
        block.anchor,
        step.critical,
        tuple(str(caution.hazard) for caution in guards if caution.signal is Signal.DANGER),
        tuple(dict.fromkeys(counts)),
    )


class _CourseWords:
    """Says what the course of an operation holds."""

    def __init__(self, library: Library, procedure: Procedure, course: Course) -> None:
        self.course = course
        self.numbers = [node.number for node in course.graph.nodes]
        concerning = (
            (item.id, care)
            for care in procedure.aftercare_items.values()
            if care.concerns and (item := library.items.find(care.concerns)) is not None
        )
        self.cares: dict[str, list[Aftercare]] = grouped(concerning)

    def sights(self) -> Iterator[MapSight]:
        """Yield what is seen, by the column in which it may first be seen."""
        seen = [MapSight(*self._first(one), name) for name, one in self._named(is_sight=True)]
        return iter(sorted(seen, key=lambda sight: sight.column))

    def _first(self, one: ThingCourse) -> tuple[int, tuple[str, ...]]:
        numbers = dict.fromkeys(self.numbers[at] for at in sorted({at for at, _ in one.spans}))
        return min(map(column_of, numbers)), tuple(numbers)

    def bars(self) -> Iterator[MapBar]:
        """Yield the bars, by where they begin."""
        bars = [self._bar(name, one) for name, one in self._named(is_sight=False)]
        return iter(sorted(bars, key=lambda bar: (bar.starts[0], bar.ends or (self.course.columns + 1,))))

    def _named(self, *, is_sight: bool) -> Iterator[tuple[str, ThingCourse]]:
        """Yield each thing that is ever in with its name; of one on both sides alike, one; else the side is named."""
        shown = [one for one in self.course.things if one.spans and one.thing.is_sight is is_sight]
        for (name, _), alike in grouped(((one.thing.name, one.thing.key[0]), one) for one in shown).items():
            if all(one.spans == alike[0].spans for one in alike):
                yield name, alike[0]
            else:
                yield from ((f"{name} {WORDS[one.thing.side]}".strip(), one) for one in alike)

    def _bar(self, name: str, one: ThingCourse) -> MapBar:
        ends = sorted({column_of(self.numbers[to]) for _, to in one.spans if to is not None})
        fate, becomes = self._fate(one)
        many = f"{one.most} × " if one.most > 1 and one.thing.key[0] != "held" else ""
        changes = ((gettext("more"), one.more), (gettext("some out"), one.fewer))
        more = [
            gettext("%(words)s at %(nodes)s", words=words, nodes=self._listed(nodes, series))
            for words, nodes in changes
            if nodes
        ]
        return MapBar(
            name=many + name,
            course="; ".join(filter(None, (self._spans(one), *more, becomes))),
            between=tuple(one.between),
            starts=tuple(sorted({column_of(self.numbers[at]) for at, _ in one.spans})),
            ends=tuple(ends),
            fate=fate if one.between[-1] & IN else "",
        )

    def _spans(self, one: ThingCourse) -> str:
        """Return from where to where it is in; what ends alike is told together, unless it is so on some ways only."""
        ends: dict[int, list[int | None]] = grouped(sorted(one.spans, key=lambda span: (span[0], span[1] or 10**9)))
        parts: list[tuple[list[int], tuple[int | None, ...]]] = []
        alike = grouped(((tuple(to), self._is_in_one(at, to)), at) for at, to in ends.items())
        for (to, _), starts in alike.items():
            is_one = all(self._conditions([at]) for at in starts) or not any(self._conditions([at]) for at in starts)
            parts += [(group, to) for group in ([starts] if is_one else [[at] for at in starts])]
        return gettext(", or ").join(self._span(*part, is_all=len(parts) == 1) for part in parts)

    def _span(self, starts: list[int], to: tuple[int | None, ...], *, is_all: bool) -> str:
        begin, condition = self._listed(starts), self._conditions(starts)
        if to == (None,):
            words = gettext("from %(begin)s", begin=begin)
        elif all(self._is_in_one(at, to) for at in starts):
            words = (
                gettext("in %(begin)s only", begin=begin)
                if is_all and not condition
                else gettext("in %(begin)s", begin=begin)
            )
        else:
            inner = [self.numbers[at] for at in to if at is not None]
            words = gettext(
                "%(begin)s to %(end)s",
                begin=begin,
                end=series_or(dict.fromkeys((*inner, *([gettext("the end")] if None in to else [])))),
            )
        return words + (gettext(", only if %(condition)s", condition=condition) if condition else "")

    def _is_in_one(self, start: int, to: Iterable[int | None]) -> bool:
        """Tell whether what comes in at ``start`` goes out in the same step."""
        return {self.numbers[at] for at in to if at is not None} == {self.numbers[start]}

    def _listed(self, nodes: Iterable[int], listing: Callable[[Iterable[str]], str] = series_or) -> str:
        return listing(dict.fromkeys(self.numbers[at] for at in sorted(nodes)))

    def _conditions(self, nodes: Iterable[int]) -> str:
        """Return the choices that all of ``nodes`` lie within, in words; "" for none."""
        within = [dict.fromkeys(self.course.graph.within[at]) for at in nodes]
        shared = (made for made in within[0] if all(made in other for other in within))
        return series(self._condition(choice, branch) for choice, branch in shared)

    def _condition(self, choice: str, branch: str) -> str:
        entry = self.course.graph.choices.get(choice)
        title = uncapital(str((entry and entry.title) or choice.replace("-", " ")))
        if isinstance(entry, Option):
            return title if branch == "taken" else gettext("without %(title)s", title=title)
        return f"{title}: {uncapital(branch_label(branch))}"

    def _fate(self, one: ThingCourse) -> tuple[str, str]:
        """Return what becomes of what is in when a walk ends, and in words; "" where it is out on every walk."""
        thing = one.thing
        if all(to is not None for _, to in one.spans):
            return "", ""
        cares = self.cares.get(thing.item.id, []) if thing.item and thing.lasting else []
        if cares:
            return _ON_WARD, gettext("on the ward %(until)s", until=series_or(dict.fromkeys(map(_until, cares))))
        if not thing.lasting:
            return _NOT_SAID, gettext("no step takes it out")
        if thing.comes_out:
            return _NOT_SAID, gettext("nothing says when it comes out")
        is_suture = thing.item is not None and thing.item.kind is ItemKind.SUTURE
        return STAYS, gettext("stays in, not taken out") if is_suture else gettext("stays for good")


def _until(care: Aftercare) -> str:
    return how_long(str(care.when.until or gettext("somebody takes it out"))) + (
        f" {care.only_if.words}" if care.only_if else ""
    )

"""Several experts' texts of one operation laid side by side: steps matched by what they do, and who said what.

A step is known by its deeds (verb and object, by the catalogue's name) and by the words of its title. What only one of
them says is what the others left out, perhaps without noticing; so each such point keeps the names of who said it.
"""

from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from functools import cached_property
from typing import TypeVar

from builder.facts.stems import senses, stem_of
from builder.findings.message_words import counted, listed
from builder.model.action import Action, Verb
from builder.model.catalogue import plain_name
from builder.model.fields import is_not_said
from builder.model.library import Library
from builder.model.pages import Aftercare, Caution, Procedure, Signal, Step
from builder.model.sequence import StepEntry

T = TypeVar("T")
P = TypeVar("P", Caution, Aftercare)
Deed = tuple[str, str]
"""A kind of deed and what it is done to."""

_KINDS = {
    Verb.OPEN: "cut", Verb.DIVIDE: "cut", Verb.EXCISE: "cut", Verb.IDENTIFY: "see", Verb.EXPOSE: "see",
    Verb.INSPECT: "see", Verb.TIE: "close", Verb.SUTURE: "close", Verb.CLOSE: "close", Verb.REMOVE: "remove",
    Verb.RELEASE: "remove",
}  # fmt: skip
"""Verbs that one expert uses for what another says with a second verb."""
_ALIKE = 0.34
"""Two steps are one where they share this much of deeds and title, less for standing far apart."""
_OF_DEEDS, _OF_TITLE_ALONE = 0.65, 0.75
_FAR = 0.3
_INSIDE = 0.6
"""A second step of one expert belongs to a row where so much of its deeds are in it."""
_SAME_TEXT = 0.4
_SIGNALS = frozenset(signal.value for signal in Signal)
STEP_TEXTS = ("cue", "if_not", "why", "error", "recovery", "call", "order_matters", "stops_here")
"""Texts of a step that one expert may have and another leave out."""
_TOLD_AS = {
    "cue": "go on when", "if_not": "if not", "why": "reason", "error": "common slip", "recovery": "put it right",
    "call": "call", "order_matters": "why in this order", "stops_here": "the operation stops here",
}  # fmt: skip


@dataclass(frozen=True)
class Expert:
    """One text: the ``name`` it goes by, and the procedure in its library."""

    name: str
    library: Library
    procedure: Procedure

    @cached_property
    def steps(self) -> tuple[Step, ...]:
        """The steps in their order, each once."""
        ids = dict.fromkeys(str(one.step) for one in self.procedure.entries if isinstance(one, StepEntry))
        return tuple(self.procedure.steps[id] for id in ids if id in self.procedure.steps)

    def deeds(self, step: Step) -> frozenset[Deed]:
        """Return what ``step`` does."""
        return frozenset(deed for action in step.actions for deed in self.deeds_of(action))

    def deeds_of(self, action: Action) -> Iterator[Deed]:
        """Yield the deed for each object of ``action``."""
        for words in action.objects:
            yield _KINDS.get(action.verb, action.verb.value), self.named(str(words))

    def named(self, words: str) -> str:
        """Return what ``words`` mean: the name of the catalogue, else the words in small letters."""
        entry = self.library.structures.find(words) or self.library.items.find(words)
        return " ".join(map(stem_of, plain_name(str(entry.name) if entry else words).split("-")))


@dataclass
class LaidRow:
    """One step of the operation: what each expert has for it, by name."""

    steps: dict[str, list[Step]] = field(default_factory=dict)

    @property
    def title(self) -> str:
        """Its title, as the first who says it has it."""
        return str(next(iter(self.steps.values()))[0].title)


@dataclass(frozen=True, slots=True)
class Point:
    """One thing that was said: of which ``kind``, in ``row`` (-1 for none), by whom."""

    kind: str
    words: str
    row: int
    who: tuple[str, ...]


@dataclass(frozen=True)
class SideBySide:
    """Everything side by side: rows of steps in order, groups of the same caution and of the same aftercare."""

    experts: tuple[Expert, ...]
    rows: tuple[LaidRow, ...]
    cautions: tuple[dict[str, Caution], ...]
    aftercare: tuple[dict[str, Aftercare], ...]

    @cached_property
    def names(self) -> tuple[str, ...]:
        """The names of all, in order."""
        return tuple(expert.name for expert in self.experts)

    @cached_property
    def points(self) -> tuple[Point, ...]:
        """All that anybody said: steps, deeds, texts, cautions, aftercare; each once, with who said it."""
        return tuple(_points(self))

    def said_by_some(self, row: int) -> list[Point]:
        """Return the points of ``row`` that not all who have the step said."""
        having = tuple(self.rows[row].steps)
        return [one for one in self.points if one.row == row and one.kind != "step" and one.who != having]

    def left_out(self, name: str) -> list[Point]:
        """Return the points that ``name`` did not say."""
        return [point for point in self.points if name not in point.who]

    def gap_list(self) -> list[str]:
        """Return, for each expert, how many points were left out, and of which kinds."""
        lines = []
        for name in self.names:
            gaps = self.left_out(name)
            kinds = [kind for kind in KINDS if any(point.kind == kind for point in gaps)]
            told = listed(counted(sum(point.kind == kind for point in gaps), kind) for kind in kinds)
            of = f"{name} left out {len(gaps)} of {counted(len(self.points), 'point')}"
            lines.append(f"{of}: {told}" if gaps else of)
        return lines


KINDS = ("step", "sight", "deed", "text", "caution", "aftercare item")
"""Kinds of points, the gravest to leave out first among those of a step."""


def laid(experts: Iterable[Expert]) -> SideBySide:
    """Return the texts of ``experts``, of one operation, side by side."""
    everyone = tuple(experts)
    rows: list[LaidRow] = []
    for expert in everyone:
        _lay(rows, expert, everyone)
    cautions = _grouped(((one.name, one.procedure.cautions.values()) for one in everyone), _caution_words)
    aftercare = _grouped(((one.name, one.procedure.aftercare_items.values()) for one in everyone), _aftercare_words)
    return SideBySide(everyone, tuple(rows), cautions, aftercare)


def _lay(rows: list[LaidRow], expert: Expert, everyone: tuple[Expert, ...]) -> None:
    """Add the steps of ``expert`` to the rows they belong to, or as new ones after the step before."""
    by_name = {one.name: one for one in everyone}
    matched = _matched(rows, expert, by_name)
    for place, step in enumerate(expert.steps):
        row = matched.get(place) or _holding(rows, expert, step, by_name)
        if row is None:
            row = LaidRow()
            rows.insert(_place_for(rows, expert, matched, place), row)
        row.steps.setdefault(expert.name, []).append(step)


def _matched(rows: list[LaidRow], expert: Expert, by_name: Mapping[str, Expert]) -> dict[int, LaidRow]:
    """Return the row of each step of ``expert`` that has one, the surest pair first."""
    steps, many = max(1, len(expert.steps)), max(1, len(rows))
    scores = [
        (_score(expert, step, row, by_name) - _FAR * abs(place / steps - number / many), place, number)
        for place, step in enumerate(expert.steps)
        for number, row in enumerate(rows)
    ]
    matched: dict[int, LaidRow] = {}
    taken: set[int] = set()
    for score, place, number in sorted(scores, key=lambda one: (-one[0], one[1], one[2])):
        if score >= _ALIKE and place not in matched and number not in taken:
            matched[place] = rows[number]
            taken.add(number)
    return matched


def _place_for(rows: list[LaidRow], expert: Expert, matched: Mapping[int, LaidRow], place: int) -> int:
    """Return where a new row goes: before the row of the next step that has one, else after the last of ``expert``."""
    last = max((number for number, row in enumerate(rows) if expert.name in row.steps), default=-1)
    following = next((matched[later] for later in sorted(matched) if later > place), None)
    before = next((number for number, row in enumerate(rows) if row is following), -1)
    return before if before > last else last + 1


def _score(expert: Expert, step: Step, row: LaidRow, by_name: Mapping[str, Expert]) -> float:
    return max(_alike(expert, step, by_name[name], other) for name, steps in row.steps.items() for other in steps)


def _alike(one: Expert, step: Step, two: Expert, other: Step) -> float:
    title = _share(senses(str(step.title)), senses(str(other.title)))
    left, right = _with_heads(one.deeds(step)), _with_heads(two.deeds(other))
    if not (left and right):
        return title
    return max(_OF_DEEDS * _share(left, right) + (1 - _OF_DEEDS) * title, _OF_TITLE_ALONE * title)


def _with_heads(deeds: frozenset[Deed]) -> frozenset[Deed]:
    """Return ``deeds`` with what each is done to by its last word too: ``abdominal skin`` is skin."""
    return deeds | frozenset((kind, name.rpartition(" ")[2]) for kind, name in deeds)


def _share(left: frozenset[T], right: frozenset[T]) -> float:
    return 2 * len(left & right) / (len(left) + len(right)) if left or right else 0.0


def _holding(rows: list[LaidRow], expert: Expert, step: Step, by_name: Mapping[str, Expert]) -> LaidRow | None:
    """Return the row that another step of ``expert`` is in and that has most of what ``step`` does."""
    own = expert.deeds(step)
    for row in rows:
        others = [by_name[name].deeds(one) for name, steps in row.steps.items() if name != expert.name for one in steps]
        if own and expert.name in row.steps and len(own & frozenset().union(*others)) >= _INSIDE * len(own):
            return row
    return None


def _caution_words(caution: Caution) -> frozenset[str]:
    consequence = "" if is_not_said(str(caution.consequence)) else caution.consequence
    return senses(f"{caution.hazard} {consequence} {' '.join(caution.at_risk)}") - _SIGNALS


def _aftercare_words(item: Aftercare) -> frozenset[str]:
    return senses(f"{item.title} {item.concerns or ''}")


def _grouped(
    told: Iterable[tuple[str, Iterable[P]]], words_of: Callable[[P], frozenset[str]]
) -> tuple[dict[str, P], ...]:
    """Return the pages that mean the same together, by the name of who wrote each."""
    groups: list[dict[str, P]] = []
    for name, pages in told:
        for page in pages:
            likeness = {
                number: max(_share(words_of(page), words_of(other)) for other in group.values())
                for number, group in enumerate(groups)
                if name not in group
            }
            best = max(likeness, key=lambda number: likeness[number], default=-1)
            if best >= 0 and likeness[best] >= _SAME_TEXT:
                groups[best][name] = page
            else:
                groups.append({name: page})
    return tuple(groups)


def _points(side: SideBySide) -> Iterator[Point]:
    for number, row in enumerate(side.rows):
        yield Point("step", row.title, number, _in_order(side, row.steps))
        for deed, told in _deeds_of(side, row).items():
            kind = "sight" if deed[0] == "see" else "deed"
            yield Point(kind, next(iter(told.values())), number, _in_order(side, told))
        for key in STEP_TEXTS:
            said = {name: text for name, steps in row.steps.items() if (text := text_of(steps, key))}
            if said:
                yield Point("text", f"{_TOLD_AS[key]}: {next(iter(said.values()))}", number, _in_order(side, said))
    for group in side.cautions:
        hazard = str(next(iter(group.values())).hazard)
        if not is_not_said(hazard):
            yield Point("caution", hazard, -1, _in_order(side, group))
    for items in side.aftercare:
        yield Point("aftercare item", str(next(iter(items.values())).title), -1, _in_order(side, items))


def _deeds_of(side: SideBySide, row: LaidRow) -> dict[Deed, dict[str, str]]:
    """Return each deed of a row once, with the words of each who says it; ``skin`` is one with ``abdominal skin``."""
    by_name = {expert.name: expert for expert in side.experts}
    deeds: dict[Deed, dict[str, str]] = {}
    for name, steps in row.steps.items():
        for action in (action for step in steps for action in step.actions):
            for deed, words in zip(by_name[name].deeds_of(action), action.objects, strict=True):
                same = next((one for one in deeds if is_same_deed(one, deed)), deed)
                deeds.setdefault(same, {}).setdefault(name, f"{action.verb.value} {words}")
    return deeds


def is_same_deed(one: Deed, other: Deed) -> bool:
    """Tell whether two deeds are one, the one perhaps named more shortly than the other."""
    short, long = sorted((one[1].split(), other[1].split()), key=len)
    return one[0] == other[0] and long[len(long) - len(short) :] == short


def text_of(steps: Iterable[Step], key: str) -> str:
    """Return the text that the first of ``steps`` has under ``key``; "" where nobody said it."""
    texts = (str(getattr(step, key) or "") for step in steps)
    return next((text for text in texts if text and not is_not_said(text)), "")


def _in_order(side: SideBySide, who: Iterable[str]) -> tuple[str, ...]:
    named = set(who)
    return tuple(name for name in side.names if name in named)

"""The order in which a procedure is read: numbered steps, choices with their branches, each caution before its step.

A number counts positions along the way; a letter names the branch, so that 4A and 4B are alternatives and step 5
follows either; where only one branch has steps they bear none. A caution stands once, before the first step it guards;
where that step lies in one branch and another guarded step does not, the caution is lifted before the whole choice, so
that a reader of either branch meets it.
"""

from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, replace
from fractions import Fraction
from string import ascii_uppercase
from typing import TypeVar

from builder.compose.view.words import as_words
from builder.facts.times import hours_of
from builder.model.pages import Aftercare, Caution, Procedure, Signal, Step, When
from builder.model.sequence import LEFT_OUT, TAKEN, Choose, Entry, Follow, Option, Sequence, StepEntry


@dataclass(frozen=True, slots=True)
class StepBlock:
    """A step at its place: ``number`` as shown (``4`` or ``4A``), the cautions that stand before it for the first time,
    and ``reminders``: those that guard it and stand earlier. ``turn`` counts appearances of the same step from 1."""

    number: str
    step: Step
    cautions: tuple[Caution, ...] = ()
    reminders: tuple[Caution, ...] = ()
    turn: int = 1

    @property
    def anchor(self) -> str:
        """The id of the block in any document."""
        return f"step-{self.step.id}" if self.turn == 1 else f"step-{self.step.id}-{self.turn}"


@dataclass(frozen=True, slots=True)
class Branch:
    """One way on: its ``name``, the ``letter`` in step numbers ("" for an option), and its blocks."""

    name: str
    letter: str
    blocks: "tuple[Block, ...]"


@dataclass(frozen=True, slots=True)
class ChoiceBlock:
    """A place where the way parts. ``kind`` is choose, option or follow; ``cautions`` stand before all branches."""

    kind: str
    id: str
    title: str
    when: str
    branches: tuple[Branch, ...]
    cautions: tuple[Caution, ...] = ()


Block = StepBlock | ChoiceBlock
B = TypeVar("B")
GRAVITY = {signal: place for place, signal in enumerate(Signal)}
"""The gravest signal word first."""
_Spot = tuple[tuple[int, str], ...]
_BySpot = dict[_Spot, list[Caution]]
_LATER_THAN_ANY = Fraction(10**9)


def outline(procedure: Procedure) -> tuple[Block, ...]:
    """Return the blocks of ``procedure`` in reading order. Steps that are not there are left out."""
    blocks, _ = _Numberer(procedure).blocks(procedure.sequence, 1, "")
    return _with_cautions(blocks, procedure.cautions)


def every_block(blocks: Iterable[B]) -> Iterator[B]:
    """Yield every block in reading order, a choice before its branches; of an outline, or of a view made of one."""
    for block in blocks:
        yield block
        for branch in getattr(block, "branches", ()):
            yield from every_block(branch.blocks)


def step_blocks(blocks: Iterable[Block]) -> Iterator[StepBlock]:
    """Yield every step block in reading order."""
    return (block for block in every_block(blocks) if isinstance(block, StepBlock))


def cautions_met(procedure: Procedure, blocks: Iterable[Block]) -> tuple[Caution, ...]:
    """Return every caution of ``procedure`` once: as they first stand in ``blocks``, then those that stand nowhere."""
    standing = [caution for block in every_block(blocks) for caution in block.cautions]
    return tuple({str(caution.id): caution for caution in (*standing, *procedure.cautions.values())}.values())


def guarded_steps(caution: Caution, steps: Mapping[str, Step]) -> set[str]:
    """Return the ids of the steps that ``caution`` guards: those it names and those that name it."""
    return {str(id) for id in caution.guards} | {id for id, step in steps.items() if caution.id in step.cautions}


def in_time(items: Iterable[Aftercare]) -> tuple[Aftercare, ...]:
    """Return ``items`` by when they begin, then by when they end, but what goes with something longer (a rescue with
    what is taken by the clock) behind that; what begins with an event comes behind them, in the order in which it is
    written."""
    items = tuple(items)
    spans = {str(item.id): _span(item.when) for item in items}

    def place(item: Aftercare) -> tuple[Fraction, Fraction, Fraction]:
        begins, ends = spans[str(item.id)]
        beside = (spans[id] for id in item.goes_with if id in spans)
        longer = (end for start, end in beside if start == begins and ends < end < _LATER_THAN_ANY)
        return begins, max(longer, default=ends), -ends

    return tuple(sorted(items, key=place))


def _span(when: When) -> tuple[Fraction, Fraction]:
    begins = hours_of(when.start)
    if begins is None:
        return _LATER_THAN_ANY, Fraction(0)
    ends = hours_of(when.until) if when.until else None
    return begins, ends if ends is not None else _LATER_THAN_ANY


class _Numberer:
    """Numbers positions along the way; one instance a procedure."""

    def __init__(self, procedure: Procedure) -> None:
        self.procedure = procedure
        self.turns: dict[str, int] = {}
        self.choices = {str(entry.id): entry for entry in procedure.entries if isinstance(entry, Choose | Option)}

    def blocks(self, sequence: Sequence, number: int, letters: str) -> tuple[tuple[Block, ...], int]:
        """Return the blocks of ``sequence`` whose first position is ``number``, and the position behind it."""
        numbered: list[Block] = []
        for entry in sequence:
            block, number = self._block(entry, number, letters)
            if block is not None:
                numbered.append(block)
        return tuple(numbered), number

    def _block(self, entry: Entry, number: int, letters: str) -> tuple[Block | None, int]:
        if isinstance(entry, StepEntry):
            step = self.procedure.steps.get(entry.step)
            if step is None:
                return None, number
            self.turns[step.id] = self.turns.get(step.id, 0) + 1
            return StepBlock(f"{number}{letters}", step, turn=self.turns[step.id]), number + 1
        if isinstance(entry, Option):
            inner, after = self.blocks(entry.steps, number, letters)
            title = entry.title or as_words(entry.id)
            return ChoiceBlock("option", entry.id, title, entry.when or "", (Branch(TAKEN, "", inner),)), after
        return self._parted(entry, number, letters)

    def _parted(self, entry: Choose | Follow, number: int, letters: str) -> tuple[Block, int]:
        id = entry.id if isinstance(entry, Choose) else entry.choice
        written = entry.between if isinstance(entry, Choose) else entry.branches
        choice = self.choices.get(id)
        names = self._branch_names(choice) or list(written)
        branches: list[Branch] = []
        after = number
        parted = sum(map(bool, written.values())) > 1  # a letter stands only where another does
        for name in sorted(written, key=lambda name: names.index(name) if name in names else len(names)):
            letter = ascii_uppercase[names.index(name) % 26] if name in names else ""
            inner, end = self.blocks(written[name], number, letters + letter * parted)
            branches.append(Branch(name, letter, inner))
            after = max(after, end)
        kind = "choose" if isinstance(entry, Choose) else "follow"
        title = (choice.title if choice else None) or as_words(id)
        when = entry.when or "" if isinstance(entry, Choose) else ""
        return ChoiceBlock(kind, id, title, when, tuple(branches)), after

    @staticmethod
    def _branch_names(choice: Choose | Option | None) -> list[str]:
        if isinstance(choice, Choose):
            return [str(name) for name in choice.between]
        return [TAKEN, LEFT_OUT] if choice else []


def _with_cautions(blocks: tuple[Block, ...], cautions: Mapping[str, Caution]) -> tuple[Block, ...]:
    spots = list(_spots(blocks, ()))
    steps = {str(block.step.id): block.step for _, block in spots}
    standing: _BySpot = defaultdict(list)
    recalled: _BySpot = defaultdict(list)
    for caution in cautions.values():
        guarded = guarded_steps(caution, steps)
        places = [spot for spot, block in spots if block.step.id in guarded]
        if places:
            first = _lifted(places)
            standing[first].append(caution)
            for spot in places:
                if spot != first:
                    recalled[spot].append(caution)
    return _placed(blocks, (), standing, recalled)


def _spots(blocks: Iterable[Block], above: _Spot) -> Iterator[tuple[_Spot, StepBlock]]:
    """Yield each step block with its spot: ``(index, branch)`` pairs from the outside in; the last branch is ""."""
    for index, block in enumerate(blocks):
        if isinstance(block, StepBlock):
            yield (*above, (index, "")), block
        else:
            for branch in block.branches:
                yield from _spots(branch.blocks, (*above, (index, branch.name)))


def _lifted(places: list[_Spot]) -> _Spot:
    """Return where a caution stands: the first place, lifted out of each branch that another place lies outside of."""
    first = places[0]
    for depth in range(len(first) - 1):
        if any(spot[: depth + 1] != first[: depth + 1] for spot in places):
            return (*first[:depth], (first[depth][0], ""))
    return first


def _placed(blocks: Iterable[Block], above: _Spot, standing: _BySpot, recalled: _BySpot) -> tuple[Block, ...]:
    placed: list[Block] = []
    for index, block in enumerate(blocks):
        spot = (*above, (index, ""))
        cautions = tuple(sorted(standing.get(spot, ()), key=_gravity))
        if isinstance(block, StepBlock):
            again = tuple(sorted(recalled.get(spot, ()), key=_gravity))
            placed.append(replace(block, cautions=cautions, reminders=again) if cautions or again else block)
        else:
            branches = tuple(
                replace(branch, blocks=_placed(branch.blocks, (*above, (index, branch.name)), standing, recalled))
                for branch in block.branches
            )
            placed.append(replace(block, cautions=cautions, branches=branches))
    return tuple(placed)


def _gravity(caution: Caution) -> tuple[int, str]:
    return GRAVITY[caution.signal], caution.id

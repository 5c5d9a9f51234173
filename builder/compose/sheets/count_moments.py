"""When things are counted and what is counted then: the tables of the count and kit sheet."""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from math import ceil

from builder.compose.view.outline import Block, StepBlock, step_blocks
from builder.compose.view.words import structure_name, uncapital
from builder.facts.counts import BLADES, CATEGORIES, INSTRUMENTS, NEEDLES, PACKS, SWABS, categories, category
from builder.findings.message_words import listed
from builder.model.action import Action, Verb
from builder.model.library import Library
from builder.model.pages import Procedure, StructureKind

_GROUPS = {
    SWABS: "Swabs",
    PACKS: "Packs",
    NEEDLES: "Needles and sutures",
    BLADES: "Blades",
    INSTRUMENTS: "Instruments and other counted things",
}
_MOST_MM = 220.0  # of the 258 that a page has between its margins
_WORD_MM, _ROW_MM, _LINE_MM, _LINE_LETTERS = 7.0, 3.4, 4.9, 30
_DIGITS = re.compile(r"\d+")


@dataclass(frozen=True, slots=True)
class MomentView:
    """A moment at which everything in ``what`` is counted: its ``title`` and the ``steps`` that call it, in words."""

    anchor: str
    number: int
    title: str
    steps: str
    what: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class CountedView:
    """A counted thing: how many are laid out, and at which moments it is in the count."""

    name: str
    number: int
    counted: tuple[bool, ...]


@dataclass(frozen=True, slots=True)
class GroupView:
    """What is counted under one word."""

    id: str
    title: str
    rows: tuple[CountedView, ...]


def moments_of(library: Library, procedure: Procedure, blocks: Sequence[Block]) -> Iterator[MomentView]:
    """Yield the count before the start, then each count of the steps; alternatives are one moment."""
    moments: dict[tuple[str, int], list[tuple[StepBlock, Action, str]]] = {}
    order = list(step_blocks(blocks))
    for at, block in enumerate(order):
        places = [place for place, action in enumerate(block.step.actions) if action.verb is Verb.COUNT]
        for turn, place in enumerate(places):
            key = (_position(block), turn)
            title = _before_closing(library, order[at:], place)
            moments.setdefault(key, []).append((block, block.step.actions[place], title))
    laid = {category(item) for name in procedure.kit if (item := library.items.find(name))}
    yield MomentView("count-start", 1, "Before the start", "", tuple(word for word in CATEGORIES if word in laid))
    for number, calls in enumerate(moments.values(), start=2):
        objects = [name for _, action, _ in calls for name in action.objects]
        what = {word for name in objects for word in categories(name, library.items.find(name))}
        steps = list(dict.fromkeys(block.number for block, _, _ in calls))
        titles = dict.fromkeys(title for _, _, title in calls)
        yield MomentView(
            anchor=f"count-{number}",
            number=number,
            title=" or ".join(titles),
            steps=f"Step {' or '.join(steps)}",
            what=tuple(word for word in CATEGORIES if word in what),
        )


def _before_closing(library: Library, blocks: Sequence[StepBlock], place: int) -> str:
    """Return what the count at action ``place`` of the first block stands before: the next closing on every path."""
    here = _closing(library, blocks[0].step.actions[place + 1 :])
    if here:
        return here
    later = [(_position(block), _closing(library, block.step.actions)) for block in blocks[1:]]
    first = next((position for position, closing in later if closing), None)
    ways = dict.fromkeys(closing for position, closing in later if closing and position == first)
    if not ways:
        return "At the end"
    return " or ".join(way if at == 0 else uncapital(way) for at, way in enumerate(ways))


def _closing(library: Library, actions: Sequence[Action]) -> str:
    """Return the first closing of ``actions`` in words, "" where nothing is closed."""
    for action in actions:
        if action.verb is Verb.CLOSE:
            closed = [library.structures.find(name) for name in action.objects]
            if any(structure is not None and structure.kind is StructureKind.SKIN for structure in closed):
                return "At skin closure"
            return f"Before closing the {listed([structure_name(library, name) for name in action.objects])}"
    return ""


def _position(block: StepBlock) -> str:
    """Return the position of a step along the way, which alternatives share."""
    digits = _DIGITS.match(block.number)
    return digits.group() if digits else block.number


def groups_of(library: Library, procedure: Procedure, moments: Sequence[MomentView]) -> Iterator[GroupView]:
    """Yield what of the kit is counted, by the word under which it is counted."""
    rows: dict[str, list[CountedView]] = {}
    for name, number in procedure.kit.items():
        item = library.items.find(name)
        own = category(item) if item else None
        if item is not None and own is not None:
            counted = tuple(own in moment.what for moment in moments)
            rows.setdefault(own, []).append(CountedView(str(item.name), number, counted))
    for id in CATEGORIES:
        if id in rows:
            yield GroupView(id, _GROUPS[id], tuple(rows[id]))


def tables_of(groups: tuple[GroupView, ...]) -> tuple[tuple[GroupView, ...], ...]:
    """Return the groups that share a table: all, where that fits on a page; a table is never parted."""
    if sum(_height(group) for group in groups) <= _MOST_MM:
        return (groups,) if groups else ()
    return tuple((part,) for group in groups for part in _parts(group))


def _parts(group: GroupView) -> Iterator[GroupView]:
    rows: list[CountedView] = []
    for row in group.rows:
        if rows and _height(replace(group, rows=(*rows, row))) > _MOST_MM:
            yield replace(group, rows=tuple(rows))
            rows = []
        rows.append(row)
    yield replace(group, rows=tuple(rows))


def _height(group: GroupView) -> float:
    """Return about how many mm a group takes on the sheet, rather more than less."""
    return _WORD_MM + sum(_ROW_MM + _LINE_MM * ceil(len(row.name) / _LINE_LETTERS) for row in group.rows)

"""The count and kit sheet on two sides of A4: what is laid out, what is counted when, and what is in the patient after
each step. It is for practice: the record is that of the theatre, so there is no place for anything of a patient.

The first count is taken before the start (common practice); the others are those that the steps call. A count that is
called on either of two branches is one moment.
"""

import re
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import chain
from math import ceil

from builder.compose.document import Document, Must, Renderer, promised
from builder.compose.sheets.contents import After, AmountIn, Condition, Contents, Thing, contents
from builder.compose.sheets.what_now import kind_of
from builder.compose.view.head import CallView, call_of, head_of
from builder.compose.view.outline import Block, ChoiceBlock, StepBlock, every_block, guarded_steps, outline, step_blocks
from builder.compose.view.procedure_view import kit_of
from builder.compose.view.words import (
    branch_label,
    how_long,
    item_name,
    option_words,
    series,
    structure_name,
    thing_name,
    uncapital,
)
from builder.facts.counts import BLADES, CATEGORIES, INSTRUMENTS, NEEDLES, PACKS, SWABS, categories, category
from builder.findings.message_words import capital
from builder.grouping import grouped
from builder.load.program_words import gettext, noted
from builder.model.action import Action, Verb
from builder.model.library import Library
from builder.model.pages import Procedure, StructureKind

Mismatch = tuple[str, str, CallView | None]
"""What a caution says about a count that does not match: its anchor, what to do, and whom to call."""
_GROUPS = {
    SWABS: noted("Swabs"),
    PACKS: noted("Packs"),
    NEEDLES: noted("Needles and sutures"),
    BLADES: noted("Blades"),
    INSTRUMENTS: noted("Instruments and other counted things"),
}
_MOST_MM = 220.0  # of the 258 that a page has between its margins
_WORD_MM, _ROW_MM, _LINE_MM, _LINE_LETTERS = 6.0, 4.4, 4.4, 34
_DIGITS = re.compile(r"\d+")
_BEFORE_CUT = noted("Before the cut")


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


@dataclass(frozen=True, slots=True)
class ThingView:
    """A thing with its number, and the ``rest``: where it lies, and how many by path where that matters."""

    name: str
    rest: str

    def __str__(self) -> str:
        return f"{self.name} {self.rest}".strip()


@dataclass(frozen=True, slots=True)
class AfterView:
    """What is in or on the patient after the step of ``block``: what must come out, and what it leaves to stay.

    ``out`` is what it takes out; ``same_as`` is the number of the step before it where the same is in, "" where it is
    not.
    """

    block: StepBlock
    lead: str
    same_as: str
    comes_out: tuple[ThingView, ...]
    stays: tuple[ThingView, ...]
    out: str
    counts: bool


def compose(library: Library, procedure: Procedure, renderer: Renderer) -> Document:
    """Return the count and kit sheet of ``procedure``."""
    template = "sheets/count_sheet.html.j2"
    head = head_of(library, procedure, renderer.look.paper_mark(procedure, template))
    blocks = outline(procedure)
    kit = tuple(item for item in kit_of(library, procedure) if not item.counted)
    words = _Words(library, blocks)
    held = contents(library, procedure, blocks)
    moments = tuple(moments_of(library, procedure, blocks))
    groups = tuple(groups_of(library, procedure, moments))
    after = tuple(words.after(held.after))
    leaving = tuple(_leaving(library, procedure, words, held))
    mismatch = tuple(_mismatches(library, procedure, blocks))
    values = {"tables": tables_of(groups), "after": after, "leaving": leaving, "mismatch": mismatch}
    return Document.about(
        procedure,
        "count-sheet",
        "count-sheet.pdf",
        renderer.render(template, head=head, kit=kit, moments=moments, **values),
        musts=(
            *head.musts,
            *_count_musts(moments, groups, mismatch),
            *(Must("kit", f"kit-{at}", f"{item.number} {item.name}") for at, item in enumerate(kit)),
            *_after_musts(after, leaving),
        ),
        explained={"counts": len(moments)},
    )


class _Words:
    """Says things, places and conditions as a reader of one procedure knows them."""

    def __init__(self, library: Library, blocks: Sequence[Block]) -> None:
        self.library = library
        self.titles = {block.id: block.title for block in every_block(blocks) if isinstance(block, ChoiceBlock)}

    def after(self, visits: Iterable[After]) -> Iterator[AfterView]:
        """Yield what is in after each of ``visits``; what is in as before is not told again."""
        before: tuple[ThingView, ...] = ()
        number = ""
        for visit in visits:
            things = dict(visit.things)
            comes_out = tuple(self.thing(thing, amounts) for thing, amounts in visit.things if not thing.stays)
            same = number if comes_out and comes_out == before else ""
            yield AfterView(
                block=visit.block,
                lead=capital(self.condition(visit.within)),
                same_as=same,
                comes_out=() if same else comes_out,
                stays=tuple(self.thing(thing, things[thing]) for thing in visit.fresh if thing in things),
                out=", ".join(_taken_out(self.library, visit.block)),
                counts=any(action.verb is Verb.COUNT for action in visit.block.step.actions),
            )
            before, number = comes_out, same or visit.block.number

    def thing(self, thing: Thing, amounts: Sequence[AmountIn]) -> ThingView:
        """Return a thing with its place and number, by path where that matters."""
        name, place = item_name(self.library, thing.item), self._place(thing)
        numbers = {amount.number for amount in amounts}
        if len(numbers) > 1:
            by_path = "; ".join(f"{amount.number} {self.condition(amount.when)}" for amount in amounts)
            return ThingView(name, f"{place}: {by_path}".lstrip(": "))
        number, at_most = amounts[0].number, amounts[0].at_most
        ways = gettext(", or ").join(self.condition(amount.when) for amount in amounts)
        many = f"{number} × " if number > 1 or at_most else ""
        many = gettext("at most %(number)s", number=many) if at_most else many
        return ThingView(f"{many}{name}", f"{place}, {ways}".strip(", "))

    def _place(self, thing: Thing) -> str:
        inside = gettext("in %(place)s", place=thing_name(self.library, thing.inside)) if thing.inside else ""
        on = gettext("on %(place)s", place=thing_name(self.library, thing.on)) if thing.on else ""
        return f"{inside} {on}".strip()

    def condition(self, when: Condition) -> str:
        """Return the branches that must have been taken, in words; "" for every path."""
        said = []
        for choice, branch in when:
            own = option_words(self.titles.get(choice, choice), branch)
            said.append(own or gettext("if %(branch)s", branch=uncapital(branch_label(branch))))
        return gettext(" and ").join(said)


def _taken_out(library: Library, block: StepBlock) -> Iterator[str]:
    """Yield each item that the step of ``block`` takes out, with how many."""
    for action in block.step.actions:
        if action.verb is Verb.REMOVE:
            many = f"{action.number} × " if action.number > 1 else ""
            yield from (f"{many}{item.name}" for name in action.objects if (item := library.items.find(name)))


def _leaving(library: Library, procedure: Procedure, words: _Words, held: Contents) -> Iterator[tuple[ThingView, str]]:
    """Yield what the patient leaves with, and until when by the aftercare, "" where it says nothing."""
    until = {}
    for aftercare in procedure.aftercare_items.values():
        item = library.items.find(aftercare.concerns) if aftercare.concerns else None
        if item is not None and aftercare.when.until:
            until[str(item.id)] = how_long(str(aftercare.when.until))
    for thing, amounts in held.end:
        yield words.thing(thing, amounts), until.get(thing.item, "")


def _mismatches(library: Library, procedure: Procedure, blocks: Sequence[Block]) -> Iterator[Mismatch]:
    """Yield what each caution says that guards a count and whose sign is that something does not match."""
    order = list(step_blocks(blocks))
    counting = {
        str(block.step.id)
        for at, block in enumerate(order)
        if any(_stands_before(library, order, at, place) != gettext(_BEFORE_CUT) for place in _counts(block))
    }
    for caution in procedure.cautions.values():
        guards = guarded_steps(caution, procedure.steps) & counting
        if guards and caution.if_it_happens and kind_of(str(caution.sign or caution.hazard)).id == "match":
            yield f"mismatch-{caution.id}", str(caution.if_it_happens), call_of(library, caution.call)


def _count_musts(
    moments: Sequence[MomentView], groups: Sequence[GroupView], mismatches: Sequence[Mismatch]
) -> Iterator[Must]:
    for moment in moments:
        yield Must("count", moment.anchor, f"{moment.number} {moment.title} {moment.steps} {', '.join(moment.what)}")
    for anchor, act, call in mismatches:
        yield from promised("if-not", anchor, act, call)
    for group in groups:
        for at, row in enumerate(group.rows):
            yield Must("count-row", f"{group.id}-{at}", f"{row.name} {row.number}")


def _after_musts(after: Sequence[AfterView], leaving: Sequence[tuple[ThingView, str]]) -> Iterator[Must]:
    for view in after:
        block, lead = view.block, f"{view.lead}: " if view.lead else ""
        yield Must("step", block.anchor, f"{block.number} {lead}{block.step.title}")
        yield from promised(
            "in", block.anchor, view.same_as and gettext("As after step %(step)s", step=view.same_as), *view.comes_out
        )
        yield from promised("out", block.anchor, view.out)
        yield from promised("stays", block.anchor, *view.stays)
    for at, (thing, until) in enumerate(leaving, start=1):
        yield Must("leaves-with", f"leaves-{at}", f"{thing} {until}".strip())


def moments_of(library: Library, procedure: Procedure, blocks: Sequence[Block]) -> Iterator[MomentView]:
    """Yield the count before the cut, then each count of the steps; alternatives are one moment.

    Where no step asks for a count before the cut, the team counts before the start.
    """
    order = list(step_blocks(blocks))
    moments = grouped(
        ((_position(block), turn), (block, block.step.actions[place], _stands_before(library, order, at, place)))
        for at, block in enumerate(order)
        for turn, place in enumerate(_counts(block))
    )
    starts = all(title != gettext(_BEFORE_CUT) for calls in moments.values() for _, _, title in calls)
    if starts:
        laid = {category(item) for name in procedure.kit if (item := library.items.find(name))}
        yield MomentView(
            "count-start",
            1,
            gettext("Before the start"),
            "",
            tuple(gettext(word) for word in CATEGORIES if word in laid),
        )
    for number, calls in enumerate(moments.values(), start=2 if starts else 1):
        objects = [name for _, action, _ in calls for name in action.objects]
        what = {word for name in objects for word in categories(name, library.items.find(name))}
        steps = list(dict.fromkeys(block.number for block, _, _ in calls))
        titles = dict.fromkeys(title for _, _, title in calls)
        yield MomentView(
            anchor=f"count-{number}",
            number=number,
            title=gettext(" or ").join(titles),
            steps=gettext("Step %(steps)s", steps=gettext(" or ").join(steps)),
            what=tuple(gettext(word) for word in CATEGORIES if word in what),
        )


def _counts(block: StepBlock) -> list[int]:
    return [place for place, action in enumerate(block.step.actions) if action.verb is Verb.COUNT]


def _stands_before(library: Library, order: Sequence[StepBlock], at: int, place: int) -> str:
    """Return what the count at action ``place`` of ``order[at]`` stands before."""
    here = order[at].step.actions
    done = chain(*(block.step.actions for block in order[:at]), here[:place])
    to_do = chain(here[place:], *(block.step.actions for block in order[at + 1 :]))
    first, later = (any(action.verb is Verb.OPEN for action in actions) for actions in (done, to_do))
    if later and not first:
        return gettext(_BEFORE_CUT)
    return _before_closing(library, order[at:], place)


def _before_closing(library: Library, blocks: Sequence[StepBlock], place: int) -> str:
    """Return what the count at action ``place`` of the first block stands before: the next closing on every path."""
    here = _closing(library, blocks[0].step.actions[place + 1 :])
    if here:
        return here
    later = [(_position(block), _closing(library, block.step.actions)) for block in blocks[1:]]
    first = next((position for position, closing in later if closing), None)
    ways = dict.fromkeys(closing for position, closing in later if closing and position == first)
    if not ways:
        return gettext("At the end")
    return gettext(" or ").join(way if at == 0 else uncapital(way) for at, way in enumerate(ways))


def _closing(library: Library, actions: Sequence[Action]) -> str:
    """Return the first closing of ``actions`` in words, "" where nothing is closed."""
    for action in actions:
        if action.verb is Verb.CLOSE:
            closed = [library.structures.find(name) for name in action.objects]
            if any(structure is not None and structure.kind is StructureKind.SKIN for structure in closed):
                return gettext("At skin closure")
            names = series(structure_name(library, name) for name in action.objects)
            return gettext("Before closing the %(names)s", names=names)
    return ""


def _position(block: StepBlock) -> str:
    """Return the position of a step along the way, which alternatives share."""
    digits = _DIGITS.match(block.number)
    return digits.group() if digits else block.number


def groups_of(library: Library, procedure: Procedure, moments: Sequence[MomentView]) -> Iterator[GroupView]:
    """Yield what of the kit is counted, by the word under which it is counted."""
    rows = grouped(
        (own, CountedView(str(item.name), number, tuple(own in moment.what for moment in moments)))
        for name, number in procedure.kit.items()
        if (item := library.items.find(name)) and (own := category(item))
    )
    for id in CATEGORIES:
        if id in rows:
            yield GroupView(id, gettext(_GROUPS[id]), tuple(rows[id]))


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

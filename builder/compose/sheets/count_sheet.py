"""The count and kit sheet on A4: what is laid out, what is counted when, and what is in the patient after each step.

The first count is taken before the start (common practice); the others are those that the steps call. A count that is
called on either of two branches is one moment.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from builder.compose.document import Document
from builder.compose.render import Renderer
from builder.compose.sheets.contents import After, AmountIn, Condition, Contents, Thing, contents
from builder.compose.sheets.count_moments import GroupView, MomentView, groups_of, moments_of, tables_of
from builder.compose.sheets.sheet_head import CallView, call_of, head_musts, head_of
from builder.compose.sheets.signs import kind_of
from builder.compose.view.outline import Block, ChoiceBlock, every_block, guarded_steps, outline, step_blocks
from builder.compose.view.procedure_view import branch_label, kit_of
from builder.compose.view.view import KitView, Must
from builder.compose.view.words import item_name, thing_name
from builder.model.action import Verb
from builder.model.library import Library
from builder.model.pages import Procedure
from builder.model.sequence import LEFT_OUT, TAKEN


@dataclass(frozen=True, slots=True)
class ThingView:
    """A thing with its number, and the ``rest``: where it lies, and how many by path where that matters."""

    name: str
    rest: str

    def __str__(self) -> str:
        return f"{self.name} {self.rest}".strip()


@dataclass(frozen=True, slots=True)
class AfterView:
    """What is in or on the patient after a step: what must come out, and what this step leaves there to stay."""

    anchor: str
    number: str
    title: str
    critical: bool
    lead: str
    comes_out: tuple[ThingView, ...]
    stays: tuple[ThingView, ...]
    counts: bool


@dataclass(frozen=True, slots=True)
class LeavingView:
    """What the patient leaves with, and until when by the aftercare, "" where it says nothing."""

    thing: ThingView
    until: str


@dataclass(frozen=True, slots=True)
class MismatchView:
    """What the cautions say about a count that does not match."""

    anchor: str
    act: str
    call: CallView | None


def compose(library: Library, procedure: Procedure, renderer: Renderer) -> Document:
    """Return the count and kit sheet of ``procedure``."""
    head = head_of(library, procedure)
    blocks = outline(procedure)
    kit = kit_of(library, procedure)
    words = _Words(library, blocks)
    found = contents(library, procedure, blocks)
    moments = tuple(moments_of(library, procedure, blocks))
    groups = tuple(groups_of(library, procedure, moments))
    after = tuple(words.after(one) for one in found.after)
    leaving = tuple(_leaving(library, procedure, words, found))
    mismatch = tuple(_mismatches(library, procedure, blocks))
    values = {"tables": tables_of(groups), "after": after, "leaving": leaving, "mismatch": mismatch}
    return Document(
        kind="count-sheet",
        procedure=procedure.id,
        edition=procedure.edition,
        title=procedure.title,
        name=f"{procedure.id}/count-sheet.pdf",
        text=renderer.render("sheets/count_sheet.html.j2", head=head, kit=kit, moments=moments, **values),
        musts=(
            *head_musts(head),
            *_count_musts(moments, groups, mismatch),
            *_kit_musts(kit),
            *_after_musts(after, leaving),
        ),
        explained={"counts": len(moments)},
    )


class _Words:
    """Says things, places and conditions as a reader of one procedure knows them."""

    def __init__(self, library: Library, blocks: Sequence[Block]) -> None:
        self.library = library
        self.titles = {one.id: one.title for one in every_block(blocks) if isinstance(one, ChoiceBlock)}

    def after(self, after: After) -> AfterView:
        block = after.block
        out = [self.thing(thing, amounts) for thing, amounts in after.things if not thing.stays]
        stays = [self.thing(thing, dict(after.things)[thing]) for thing in after.fresh if thing in dict(after.things)]
        return AfterView(
            anchor=block.anchor,
            number=block.number,
            title=str(block.step.title),
            critical=block.step.critical,
            lead=_capital(self.condition(after.within)),
            comes_out=tuple(out),
            stays=tuple(stays),
            counts=any(action.verb is Verb.COUNT for action in block.step.actions),
        )

    def thing(self, thing: Thing, amounts: Sequence[AmountIn]) -> ThingView:
        """Return a thing with its place and number, by path where that matters."""
        name, place = item_name(self.library, thing.item), self._place(thing)
        if len(amounts) == 1:
            one = amounts[0]
            number = f"{one.number} × " if one.number > 1 or one.at_most else ""
            rest = f"{place}, {self.condition(one.when)}".lstrip(", ") if one.when else place
            return ThingView(f"{'at most ' if one.at_most else ''}{number}{name}", rest)
        if len({one.number for one in amounts}) == 1:
            number = f"{amounts[0].number} × " if amounts[0].number > 1 else ""
            by_path = ", or ".join(self.condition(one.when) for one in amounts)
            return ThingView(f"{number}{name}", f"{place}, {by_path}".lstrip(", "))
        by_path = "; ".join(f"{one.number} {self.condition(one.when)}" for one in amounts)
        return ThingView(name, f"{place}: {by_path}".lstrip(": "))

    def _place(self, thing: Thing) -> str:
        inside = f"in {thing_name(self.library, thing.inside)}" if thing.inside else ""
        on = f"on {thing_name(self.library, thing.on)}" if thing.on else ""
        return f"{inside} {on}".strip()

    def condition(self, when: Condition) -> str:
        """Return the branches that must have been taken, in words; "" for every path."""
        said = []
        for choice, branch in when:
            title = _uncapital(self.titles.get(choice, choice))
            own = {TAKEN: f"if {title}", LEFT_OUT: f"without {title}"}
            said.append(own.get(branch) or f"if {_uncapital(branch_label(branch))}")
        return " and ".join(said)


def _uncapital(text: str) -> str:
    return text if text[1:2].isupper() else text[:1].lower() + text[1:]


def _capital(text: str) -> str:
    return text[:1].upper() + text[1:]


def _leaving(library: Library, procedure: Procedure, words: _Words, found: Contents) -> Iterator[LeavingView]:
    until = {}
    for one in procedure.aftercare_items.values():
        item = library.items.find(one.concerns) if one.concerns else None
        if item is not None and one.when.until:
            until[str(item.id)] = str(one.when.until).removeprefix("until ")
    for thing, amounts in found.end:
        out = until.get(thing.item)
        yield LeavingView(words.thing(thing, amounts), f"until {out}" if out else "")


def _mismatches(library: Library, procedure: Procedure, blocks: Sequence[Block]) -> Iterator[MismatchView]:
    """Yield what each caution says that guards a count and whose sign is that something does not match."""
    counting = {
        str(block.step.id)
        for block in step_blocks(blocks)
        if any(action.verb is Verb.COUNT for action in block.step.actions)
    }
    for caution in procedure.cautions.values():
        guards = guarded_steps(caution, procedure.steps) & counting
        if guards and caution.if_it_happens and kind_of(str(caution.sign or caution.hazard)).id == "match":
            call = call_of(library, str(caution.call)) if caution.call else None
            yield MismatchView(f"mismatch-{caution.id}", str(caution.if_it_happens), call)


def _kit_musts(kit: Sequence[KitView]) -> Iterator[Must]:
    for at, one in enumerate(kit):
        yield Must("kit", f"kit-{at}", f"{one.number} {one.name}{' counted' if one.counted else ''}")


def _count_musts(
    moments: Sequence[MomentView], groups: Sequence[GroupView], mismatch: Sequence[MismatchView]
) -> Iterator[Must]:
    for moment in moments:
        yield Must("count", moment.anchor, f"{moment.number} {moment.title} {moment.steps} {', '.join(moment.what)}")
    for one in mismatch:
        yield Must("if-not", one.anchor, one.act)
        if one.call:
            yield Must("if-not", one.anchor, f"{one.call.role} {one.call.number}")
    for group in groups:
        for at, row in enumerate(group.rows):
            yield Must("count-row", f"{group.id}-{at}", f"{row.name} {row.number}")


def _after_musts(after: Sequence[AfterView], leaving: Sequence[LeavingView]) -> Iterator[Must]:
    for one in after:
        lead = f"{one.lead}: " if one.lead else ""
        yield Must("step", one.anchor, f"{one.number} {lead}{one.title}{' Critical' if one.critical else ''}")
        yield from (Must("in", one.anchor, str(thing)) for thing in one.comes_out)
        yield from (Must("stays", one.anchor, str(thing)) for thing in one.stays)
    for at, left in enumerate(leaving, start=1):
        yield Must("leaves-with", f"leaves-{at}", f"{left.thing} {left.until}".strip())

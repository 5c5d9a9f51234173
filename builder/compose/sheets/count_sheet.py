"""The count and kit sheet on A4: what is laid out, what is counted when, and what is in the patient after each step.

The first count is taken before the start (common practice); the others are those that the steps call. A count that is
called on either of two branches is one moment.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from builder.compose.document import Document, Must, promised
from builder.compose.render import Renderer
from builder.compose.sheets.contents import After, AmountIn, Condition, Contents, Thing, contents
from builder.compose.sheets.count_moments import GroupView, MomentView, groups_of, moments_of, tables_of
from builder.compose.sheets.signs import kind_of
from builder.compose.view.head import CallView, call_of, head_of
from builder.compose.view.outline import Block, ChoiceBlock, StepBlock, every_block, guarded_steps, outline, step_blocks
from builder.compose.view.procedure_view import kit_of
from builder.compose.view.words import branch_label, capital, item_name, option_words, thing_name, uncapital
from builder.model.action import Verb
from builder.model.library import Library
from builder.model.pages import Procedure


@dataclass(frozen=True, slots=True)
class ThingView:
    """A thing with its number, and the ``rest``: where it lies, and how many by path where that matters."""

    name: str
    rest: str

    def __str__(self) -> str:
        return f"{self.name} {self.rest}".strip()


@dataclass(frozen=True, slots=True)
class AfterView:
    """What is in or on the patient after the step of ``block``: what must come out, and what it leaves to stay."""

    block: StepBlock
    lead: str
    comes_out: tuple[ThingView, ...]
    stays: tuple[ThingView, ...]
    counts: bool


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
    held = contents(library, procedure, blocks)
    moments = tuple(moments_of(library, procedure, blocks))
    groups = tuple(groups_of(library, procedure, moments))
    after = tuple(map(words.after, held.after))
    leaving = tuple(_leaving(library, procedure, words, held))
    mismatch = tuple(_mismatches(library, procedure, blocks))
    values = {"tables": tables_of(groups), "after": after, "leaving": leaving, "mismatch": mismatch}
    return Document.about(
        procedure,
        "count-sheet",
        "count-sheet.pdf",
        renderer.render("sheets/count_sheet.html.j2", head=head, kit=kit, moments=moments, **values),
        musts=(
            *head.musts,
            *_count_musts(moments, groups, mismatch),
            *(
                Must("kit", f"kit-{at}", f"{item.number} {item.name}{' counted' * item.counted}")
                for at, item in enumerate(kit)
            ),
            *_after_musts(after, leaving),
        ),
        explained={"counts": len(moments)},
    )


class _Words:
    """Says things, places and conditions as a reader of one procedure knows them."""

    def __init__(self, library: Library, blocks: Sequence[Block]) -> None:
        self.library = library
        self.titles = {block.id: block.title for block in every_block(blocks) if isinstance(block, ChoiceBlock)}

    def after(self, after: After) -> AfterView:
        block = after.block
        things = dict(after.things)
        return AfterView(
            block=block,
            lead=capital(self.condition(after.within)),
            comes_out=tuple(self.thing(thing, amounts) for thing, amounts in after.things if not thing.stays),
            stays=tuple(self.thing(thing, things[thing]) for thing in after.fresh if thing in things),
            counts=any(action.verb is Verb.COUNT for action in block.step.actions),
        )

    def thing(self, thing: Thing, amounts: Sequence[AmountIn]) -> ThingView:
        """Return a thing with its place and number, by path where that matters."""
        name, place = item_name(self.library, thing.item), self._place(thing)
        numbers = {amount.number for amount in amounts}
        if len(numbers) > 1:
            by_path = "; ".join(f"{amount.number} {self.condition(amount.when)}" for amount in amounts)
            return ThingView(name, f"{place}: {by_path}".lstrip(": "))
        number, at_most = amounts[0].number, amounts[0].at_most
        ways = ", or ".join(self.condition(amount.when) for amount in amounts)
        many = f"{'at most ' if at_most else ''}{number} × " if number > 1 or at_most else ""
        return ThingView(f"{many}{name}", f"{place}, {ways}".strip(", "))

    def _place(self, thing: Thing) -> str:
        inside = f"in {thing_name(self.library, thing.inside)}" if thing.inside else ""
        on = f"on {thing_name(self.library, thing.on)}" if thing.on else ""
        return f"{inside} {on}".strip()

    def condition(self, when: Condition) -> str:
        """Return the branches that must have been taken, in words; "" for every path."""
        said = []
        for choice, branch in when:
            own = option_words(self.titles.get(choice, choice), branch)
            said.append(own or f"if {uncapital(branch_label(branch))}")
        return " and ".join(said)


def _leaving(library: Library, procedure: Procedure, words: _Words, held: Contents) -> Iterator[tuple[ThingView, str]]:
    """Yield what the patient leaves with, and until when by the aftercare, "" where it says nothing."""
    until = {}
    for aftercare in procedure.aftercare_items.values():
        item = library.items.find(aftercare.concerns) if aftercare.concerns else None
        if item is not None and aftercare.when.until:
            until[str(item.id)] = str(aftercare.when.until).removeprefix("until ")
    for thing, amounts in held.end:
        out = until.get(thing.item)
        yield words.thing(thing, amounts), f"until {out}" if out else ""


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
            yield MismatchView(f"mismatch-{caution.id}", str(caution.if_it_happens), call_of(library, caution.call))


def _count_musts(
    moments: Sequence[MomentView], groups: Sequence[GroupView], mismatches: Sequence[MismatchView]
) -> Iterator[Must]:
    for moment in moments:
        yield Must("count", moment.anchor, f"{moment.number} {moment.title} {moment.steps} {', '.join(moment.what)}")
    for mismatch in mismatches:
        yield from promised("if-not", mismatch.anchor, mismatch.act, mismatch.call)
    for group in groups:
        for at, row in enumerate(group.rows):
            yield Must("count-row", f"{group.id}-{at}", f"{row.name} {row.number}")


def _after_musts(after: Sequence[AfterView], leaving: Sequence[tuple[ThingView, str]]) -> Iterator[Must]:
    for view in after:
        block, lead = view.block, f"{view.lead}: " if view.lead else ""
        critical = " Critical" if block.step.critical else ""
        yield Must("step", block.anchor, f"{block.number} {lead}{block.step.title}{critical}")
        yield from promised("in", block.anchor, *view.comes_out)
        yield from promised("stays", block.anchor, *view.stays)
    for at, (thing, until) in enumerate(leaving, start=1):
        yield Must("leaves-with", f"leaves-{at}", f"{thing} {until}".strip())

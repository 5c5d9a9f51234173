"""The view of a whole procedure, in the reading order that page and handout share.

Everything is made in the order in which it is read, because numbers of references and figures follow first appearance.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from typing import Any

from builder.compose.view.musts import musts_of
from builder.compose.view.outline import Block, StepBlock, outline, step_blocks
from builder.compose.view.parts_view import PartsWriter, figures_of
from builder.compose.view.references import References
from builder.compose.view.rendered_prose import LinkTarget, ProseWriter
from builder.compose.view.timeline import in_time
from builder.compose.view.view import BranchView, ChoiceView, KitView, ProcedureView, StepView
from builder.compose.view.words import SIDES, STATUS_MARKS, USUAL_CAUTION, day, item_name
from builder.model.library import Library
from builder.model.pages import Procedure, Status
from builder.model.sequence import LEFT_OUT, TAKEN

_BRANCH_WORDS = {TAKEN: "Done", LEFT_OUT: "Left out"}


def view_of(library: Library, procedure: Procedure) -> ProcedureView:
    """Return the view of ``procedure`` for a document that shows all of it."""
    blocks = outline(procedure)
    references = References(library.sources, library.department.style)
    writer = PartsWriter(library, procedure, ProseWriter(_targets(library, procedure, blocks), references), references)
    body = writer.prose.html(procedure.body, heading=3)
    cites = references.backing(procedure.evidence, procedure.common_practice)
    figures = writer.figures(procedure.figure)
    shown = tuple(_block(writer, block) for block in blocks)
    aftercare = tuple(writer.aftercare(item) for item in in_time(procedure.aftercare_items.values()))
    listed = references.listed()
    return ProcedureView(
        id=procedure.id,
        title=procedure.title,
        specialty=procedure.specialty,
        summary=procedure.summary or "",
        setting=procedure.setting or "",
        side=SIDES[procedure.side],
        edition=procedure.edition,
        status=procedure.status.value,
        status_mark=STATUS_MARKS[procedure.status],
        owner=f"{procedure.owner.name}, {procedure.owner.role}",
        review_by=day(procedure.review_by) if procedure.review_by else "",
        review_overdue=is_overdue(library, procedure),
        department=library.department.name,
        site=(library.department.site or "").rstrip("/"),
        language=library.department.language,
        call=numbers_for(library, procedure),
        before_you_start=tuple(str(line) for line in procedure.before_you_start),
        kit=kit_of(library, procedure),
        figures=figures,
        body_html=body,
        cites_html=cites,
        blocks=shown,
        aftercare=aftercare,
        references=listed,
        usual_caution=USUAL_CAUTION,
        musts=musts_of(library, shown, aftercare, listed, procedure),
    )


def is_overdue(library: Library, procedure: Procedure) -> bool:
    """Tell whether the review of ``procedure`` was due before today. A withdrawn one needs no review."""
    due = procedure.review_by
    return due is not None and due < library.today and procedure.status is not Status.WITHDRAWN


def kit_of(library: Library, procedure: Procedure) -> tuple[KitView, ...]:
    """Return the kit list in the order it is written."""
    return tuple(
        KitView(number, item_name(library, name), bool((item := library.items.find(name)) and item.counted))
        for name, number in procedure.kit.items()
    )


def numbers_for(library: Library, procedure: Procedure) -> tuple[tuple[str, str], ...]:
    """Return role and number of whom ``procedure`` speaks of and of those always shown, as the department lists them.

    A reader in trouble must not look through the numbers of other operations. Where it names nobody, all are shown.
    """
    told = " ".join(str(words) for words in _words_of(procedure)).casefold()
    listed = library.department.call
    named = [one for one in listed if str(one.role).casefold() in told]
    shown = [one for one in listed if one in named or one.always] if named else listed
    return tuple((str(one.role), str(one.number)) for one in shown)


def _words_of(procedure: Procedure) -> Iterator[object]:
    yield procedure.body.source
    yield from procedure.before_you_start
    for step in procedure.steps.values():
        yield from (step.call, step.if_not, step.recovery, step.body.source)
        yield from (words for action in step.actions for words in (*action.objects, action.what))
    for caution in procedure.cautions.values():
        yield from (caution.call, caution.avoid, caution.if_it_happens, caution.body.source)
    for item in procedure.aftercare_items.values():
        yield from (item.who, item.patient_text, item.body.source)


def _targets(library: Library, procedure: Procedure, blocks: Iterable[Block]) -> dict[tuple[str, str], LinkTarget]:
    """Return what links of the prose lead to, where the whole procedure is shown."""
    found = _Targets(library)
    for block in step_blocks(blocks):
        key = ("step", str(block.step.id))
        found.setdefault(key, LinkTarget(f"#{block.anchor}", block.step.title, f"step {block.number}"))
    for caution in procedure.cautions.values():
        found["caution", caution.id] = LinkTarget(f"#caution-{caution.id}", caution.hazard)
    for item in procedure.aftercare_items.values():
        found["aftercare", item.id] = LinkTarget(f"#aftercare-{item.id}", item.title)
    for number, figure in enumerate(figures_of(procedure, blocks), start=1):
        found["figure", figure.id] = LinkTarget(f"#figure-{figure.id}", figure.caption or "", f"Figure {number}")
    return found


class _Targets(dict[tuple[str, str], LinkTarget]):
    """What links lead to. Other procedures are looked up when one is linked to: each may be linked to from each."""

    def __init__(self, library: Library) -> None:
        super().__init__()
        self.library = library

    def get(self, key: tuple[str, str], default: Any = None) -> Any:
        kind, id = key
        other = self.library.by_id.get(id) if kind == "procedure" else None
        return LinkTarget("", other.title) if other else super().get(key, default)


def _blocks(writer: PartsWriter, blocks: Iterable[Block]) -> tuple[StepView | ChoiceView, ...]:
    return tuple(_block(writer, one) for one in blocks)


def _block(writer: PartsWriter, block: Block) -> StepView | ChoiceView:
    if isinstance(block, StepBlock):
        return writer.step(block)
    cautions = tuple(writer.caution(one) for one in block.cautions)
    branches = tuple(
        BranchView(branch.name, branch.letter, branch_label(branch.name), _blocks(writer, branch.blocks))
        for branch in block.branches
    )
    return ChoiceView(block.kind, block.id, block.title, block.when, cautions, branches)


def branch_label(name: str) -> str:
    """Return the words for a branch as it is written in the sequence."""
    return _BRANCH_WORDS.get(name) or name.replace("-", " ").capitalize()

"""The view of a whole procedure, in the reading order that page and handout share.

Everything is made in the order in which it is read, because numbers of references and figures follow first appearance.
"""

from collections.abc import Iterable, Iterator

from builder.compose.view.head import head_of
from builder.compose.view.local_view import local_views
from builder.compose.view.outline import Block, every_block, in_time, outline, step_blocks
from builder.compose.view.parts_view import KitView, PartsWriter, ProcedureView, StepView, figures_of
from builder.compose.view.rendered_prose import FindTarget, LinkTarget, ProseWriter, References
from builder.compose.view.words import SIDES, USUAL_CAUTION, item_name
from builder.load.program_words import gettext
from builder.model.library import Library
from builder.model.pages import Procedure


def view_of(library: Library, procedure: Procedure) -> ProcedureView:
    """Return the view of ``procedure`` for a document that shows all of it."""
    blocks, head = outline(procedure), head_of(library, procedure)
    references = References(library.sources, library.department.style)
    writer = PartsWriter(library, procedure, ProseWriter(_targets(library, procedure, blocks), references), references)
    body = writer.prose.html(procedure.body, heading=3)
    cites = references.backing(procedure.evidence, procedure.common_practice)
    figures = writer.figures(procedure.figure)
    shown = writer.blocks(blocks)
    aftercare = tuple(writer.aftercare(item) for item in in_time(procedure.aftercare_items.values()))
    listed = references.listed()
    return ProcedureView(
        procedure,
        summary=procedure.summary or "",
        setting=procedure.setting or "",
        side=gettext(SIDES[procedure.side]),
        status=head.status,
        owner=head.owner,
        review_by=head.due,
        department=head.department,
        site=(library.department.site or "").rstrip("/"),
        language=head.language,
        call=numbers_for(library, procedure),
        before_you_start=tuple(str(line) for line in procedure.before_you_start),
        kit=kit_of(library, procedure),
        figures=figures,
        body_html=body,
        cites_html=cites,
        blocks=shown,
        aftercare=aftercare,
        references=listed,
        usual_caution=gettext(USUAL_CAUTION),
        local=local_views(library, procedure),
    )


def picture_paths(view: ProcedureView) -> tuple[str, ...]:
    """Return the files of the department's folder that a document of ``view`` shows, each once."""
    steps = (block for block in every_block(view.blocks) if isinstance(block, StepView))
    figures = (*view.figures, *(figure for step in steps for figure in step.figures))
    return tuple(dict.fromkeys(figure.path for figure in figures))


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
    named = [contact for contact in listed if str(contact.role).casefold() in told]
    shown = [contact for contact in listed if contact in named or contact.always] if named else listed
    return tuple((str(contact.role), str(contact.number)) for contact in shown)


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


def _targets(library: Library, procedure: Procedure, blocks: Iterable[Block]) -> FindTarget:
    """Return what finds where a link of the prose leads, where the whole procedure is shown."""
    targets: dict[tuple[str, str], LinkTarget] = {}
    for block in step_blocks(blocks):
        key = ("step", str(block.step.id))
        targets.setdefault(
            key, LinkTarget(f"#{block.anchor}", block.step.title, gettext("step %(number)s", number=block.number))
        )
    for caution in procedure.cautions.values():
        targets["caution", caution.id] = LinkTarget(f"#caution-{caution.id}", caution.hazard)
    for item in procedure.aftercare_items.values():
        targets["aftercare", item.id] = LinkTarget(f"#aftercare-{item.id}", item.title)
    for number, figure in enumerate(figures_of(procedure, blocks), start=1):
        targets["figure", figure.id] = LinkTarget(
            f"#figure-{figure.id}", figure.caption or "", gettext("Figure %(number)s", number=number)
        )

    def find(kind: str, id: str) -> LinkTarget | None:
        # Other procedures are looked up when one is linked to: each may be linked to from each.
        other = library.by_id.get(id) if kind == "procedure" else None
        return LinkTarget("", other.title) if other else targets.get((kind, id))

    return find

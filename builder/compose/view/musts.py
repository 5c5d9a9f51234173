"""What a document that shows a whole procedure promises to show: read back from the finished artefact."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from builder.compose.view.view import AftercareView, CautionView, ChoiceView, Must, ReferenceView, StepView
from builder.compose.view.words import sentence
from builder.model.action import Verb
from builder.model.library import Library
from builder.model.pages import Procedure

Blocks = Iterable[StepView | ChoiceView]


def musts_of(
    library: Library,
    blocks: Blocks,
    aftercare: Iterable[AftercareView],
    references: Iterable[ReferenceView],
    procedure: Procedure,
) -> tuple[Must, ...]:
    """Return, in reading order, every caution, step, count, dose, item of aftercare and reference."""
    counts = {
        str(step.id): [sentence(library, one) for one in step.actions if one.verb is Verb.COUNT]
        for step in procedure.steps.values()
    }
    return (
        *(must for block in blocks for must in _of_block(block, counts)),
        *(must for item in aftercare for must in _of_aftercare(item)),
        *(Must("reference", one.key, str(one.number)) for one in references),
    )


def _of_block(block: StepView | ChoiceView, counts: dict[str, list[str]]) -> Iterator[Must]:
    for caution in block.cautions:
        yield _caution(caution)
    if isinstance(block, StepView):
        yield Must("step", block.anchor, block.title)
        for text in counts.get(block.id, ()):
            yield Must("count", block.anchor, text)
        for dose in block.doses:
            yield Must("dose", block.anchor, dose.drug)
        return
    for branch in block.branches:
        for inner in branch.blocks:
            yield from _of_block(inner, counts)


def _of_aftercare(item: AftercareView) -> Iterator[Must]:
    yield Must("aftercare", item.id, item.title)
    for dose in item.doses:
        yield Must("dose", item.id, dose.drug)


def _caution(caution: CautionView) -> Must:
    return Must("caution", caution.id, caution.hazard)

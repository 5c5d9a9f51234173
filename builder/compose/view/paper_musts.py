"""What a whole procedure on paper must show, line by line, in the order of ``handout/handout.html.j2``.

Finer than the musts of a view: a template that lost one line of a caution must not pass.
"""

from __future__ import annotations

from collections.abc import Iterator

from builder.compose.view.rendered_prose import plain
from builder.compose.view.view import (
    AftercareView,
    CautionView,
    ChoiceView,
    DoseView,
    FigureView,
    Must,
    ProcedureView,
    ReferenceView,
    StepView,
)

_SEEN = (
    "inside the margins, in type of at least 7 pt and a contrast of at least 4.5 to 1, in colour and in grey. A paper "
    "that fails is not published."
)
READ_BACK = (
    "Read back before publishing: every caution, dose, step, count and reference must be found, once and in order, "
    f"{_SEEN}"
)
"""Set before the proof runs, so it says what must be proved: true of the paper in hand, because a failed proof stops
the publish."""
READ_BACK_SHEET = f"Read back before publishing: every line that must be shown has to be found, in order, {_SEEN}"
READ_BACK_CARDS = "Read back before publishing: every card must show all of its lines, in order."
READ_BACK_BOOKLET = "Read back before publishing: every page whole."
READ_BACK_SHORT = "Read back before publishing."


def musts_of_view(view: ProcedureView) -> tuple[Must, ...]:
    """Return the musts of ``view`` in reading order."""
    counts = frozenset((must.id, must.text) for must in view.musts if must.kind == "count")
    return (
        *running_musts(mark_of(view)),
        *(must for figure in view.figures for must in _figure(figure)),
        *(Must("kit", f"kit-{at}", f"{one.number}{one.name}") for at, one in enumerate(view.kit)),
        *(must for block in view.blocks for must in _block(block, counts)),
        *(must for item in view.aftercare for must in _aftercare(item)),
        *(_reference(one) for one in view.references),
    )


def mark_of(view: ProcedureView) -> str:
    """Return what is marked on every page: no approved edition, or a review that is overdue."""
    overdue = f"Review overdue since {view.review_by}" if view.review_overdue else ""
    return ". ".join(part for part in (view.status_mark, overdue) if part)


def running_musts(*marks: str) -> Iterator[Must]:
    """Yield what must run along on every page: the marks that say that this is no approved edition."""
    for mark in marks:
        if mark:
            yield Must("running", "mark", mark)


def caution_musts(caution: CautionView) -> Iterator[Must]:
    """Yield the heading of a caution and each of its lines."""
    yield Must("caution", caution.anchor, f"{caution.signal_word} {caution.hazard}")
    for line in (caution.consequence, caution.avoid, caution.sign, caution.if_it_happens, caution.call):
        if line:
            yield Must("caution-line", caution.anchor, line)


def _block(block: StepView | ChoiceView, counts: frozenset[tuple[str, str]]) -> Iterator[Must]:
    for caution in block.cautions:
        yield from caution_musts(caution)
    if isinstance(block, StepView):
        yield from _step(block, counts)
        return
    for branch in block.branches:
        for inner in branch.blocks:
            yield from _block(inner, counts)


def _step(step: StepView, counts: frozenset[tuple[str, str]]) -> Iterator[Must]:
    critical = " Critical" if step.critical else ""
    yield Must("step", step.anchor, f"{step.number} {step.title}{critical}")
    for action in step.actions:
        yield Must("count" if (step.anchor, action) in counts else "action", step.anchor, action)
    for dose in step.doses:
        yield from _dose(dose, step.anchor)
    for kind, line in (("cue", step.cue), ("if-not", step.if_not)):
        if line:
            yield Must(kind, step.anchor, line)
    for line in (step.error, step.recovery, step.call):
        if line:
            yield Must("turn", step.anchor, line)
    for figure in step.figures:
        yield from _figure(figure)


def _dose(dose: DoseView, anchor: str) -> Iterator[Must]:
    yield Must("dose", anchor, f"Dose: {dose.drug}")
    for label, value in (*dose.lines, *dose.rows):
        yield Must("dose-line", anchor, f"{label} {value}")
    if dose.not_covered:
        yield Must("dose-line", anchor, dose.not_covered)


def _figure(figure: FigureView) -> Iterator[Must]:
    yield Must("figure", figure.anchor, figure.alt)
    for pointer in figure.pointers:
        yield Must("pointer", figure.anchor, f"{pointer.number} {pointer.name}")


def _aftercare(item: AftercareView) -> Iterator[Must]:
    yield Must("aftercare", item.anchor, item.title)
    for dose in item.doses:
        yield from _dose(dose, item.anchor)
    if item.patient_text:
        yield Must("patient", item.anchor, item.patient_text)


def _reference(reference: ReferenceView) -> Must:
    return Must("reference", reference.anchor, f"{reference.number} {plain(reference.html)}")

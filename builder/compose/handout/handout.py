"""The A4 handout: the whole procedure on paper, for reading and for the committee."""

import re
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import replace

from builder.compose.code_mark import mark_of
from builder.compose.document import Document, Must, PointedAt, Renderer, promised
from builder.compose.view.head import head_of
from builder.compose.view.outline import every_block
from builder.compose.view.parts_view import AftercareView, DoseView, FigureView, ProcedureView, StepView
from builder.compose.view.procedure_view import picture_paths, view_of
from builder.compose.view.words import plain
from builder.load.program_words import gettext
from builder.model.library import Library
from builder.model.pages import Procedure

_TEMPLATE = "handout/handout.html.j2"
_ANCHOR = re.compile(r'id="(cite-\d+-\d+)"')
Cited = tuple[tuple[str, str], ...]
"""``(anchor, place in words)`` of the first citation in each place, in reading order."""


def compose(library: Library, procedure: Procedure, renderer: Renderer) -> Document:
    """Return the handout of ``procedure`` as HTML for the typesetter."""
    view, code = view_of(library, procedure), mark_of(library, procedure)
    mark = head_of(library, procedure, renderer.look.paper_mark(procedure, _TEMPLATE)).mark
    values = {"view": view, "mark": mark, "code": code, "cited": cited_places(view)}
    return Document.about(
        procedure,
        "handout",
        "handout.pdf",
        renderer.render(_TEMPLATE, **values),
        resources=picture_paths(view),
        pointed=tuple(_pointed(view)),
        musts=(*code.musts, *promised("running", "mark", mark), *_musts(view)),
    )


def compose_word(library: Library, procedure: Procedure, renderer: Renderer) -> Document:
    """Return the handout of ``procedure`` for a word processor: the same words."""
    return replace(compose(library, procedure, renderer), name=f"{procedure.id}/handout.docx", pointed=())


def cited_places(view: ProcedureView) -> Mapping[str, Cited]:
    """Return, by key of the reference, the places that cite it: a page number would need the page to be set first."""
    words = {anchor: place for place, html in _cites(view) for anchor in _ANCHOR.findall(html)}
    cited = {}
    for reference in view.references:
        first: dict[str, str] = {}
        for anchor in reference.cited_at:
            if anchor in words:
                first.setdefault(words[anchor], anchor)
        cited[reference.key] = tuple((anchor, place) for place, anchor in first.items())
    return cited


def _cites(view: ProcedureView) -> Iterator[tuple[str, str]]:
    """Yield each text that may cite a source, with its place in words."""
    yield gettext("head"), view.cites_html
    yield gettext("why and when"), view.body_html
    for block in every_block(view.blocks):
        place = (
            gettext("step %(number)s", number=block.number)
            if isinstance(block, StepView)
            else gettext("before the choice %(title)s", title=block.title)
        )
        yield from ((place, caution.cites_html + caution.body_html) for caution in block.cautions)
        if isinstance(block, StepView):
            yield from ((place, html) for html in _cites_of(block))
    for item in view.aftercare:
        yield from ((gettext("aftercare"), html) for html in _cites_of(item))


def _cites_of(part: StepView | AftercareView) -> tuple[str, ...]:
    return part.cites_html, part.body_html, *(dose.cites_html for dose in part.doses)


# Line by line, in the order of ``handout/handout.html.j2``: a template that lost one line of a caution must not pass.


def _musts(view: ProcedureView) -> Iterator[Must]:
    yield from (must for change in view.local for must in change.musts)
    yield from _figure_musts(view.figures)
    for at, kit in enumerate(view.kit):
        yield Must("kit", f"kit-{at}", f"{kit.number}{kit.name}")
    for block in every_block(view.blocks):
        for caution in block.cautions:
            page = caution.page
            lines = (page.consequence, page.avoid, page.sign, page.if_it_happens, caution.call)
            yield Must("caution", caution.anchor, f"{caution.signal_word} {page.hazard}")
            yield from promised("caution-line", caution.anchor, *lines)
        if isinstance(block, StepView):
            yield from _step_musts(block)
    for item in view.aftercare:
        yield Must("aftercare", item.anchor, item.page.title)
        yield from promised("patient", item.anchor, item.page.patient_text)
        yield from _dose_musts(item.doses, item.anchor)
    for reference in view.references:
        yield Must("reference", reference.anchor, f"{reference.number} {plain(reference.html)}")


def _step_musts(step: StepView) -> Iterator[Must]:
    page = step.page
    critical = f" {gettext('Critical')}" if page.critical else ""
    yield Must("step", step.anchor, f"{step.number} {page.title}{critical}")
    for action in step.actions:
        yield Must("count" if action in step.counts else "action", step.anchor, action)
    yield from _dose_musts(step.doses, step.anchor)
    yield from promised("cue", step.anchor, page.cue)
    yield from promised("if-not", step.anchor, page.if_not)
    yield from promised("turn", step.anchor, page.error, page.recovery, step.call)
    yield from _figure_musts(step.figures)


def _dose_musts(doses: Iterable[DoseView], anchor: str) -> Iterator[Must]:
    for dose in doses:
        yield Must("dose", anchor, gettext("Dose: %(drug)s", drug=dose.drug))
        yield from (Must("dose-line", anchor, f"{label} {value}") for label, value in (*dose.lines, *dose.rows))
        yield from promised("dose-line", anchor, dose.not_covered)


def _pointed(view: ProcedureView) -> Iterator[PointedAt]:
    steps = (block for block in every_block(view.blocks) if isinstance(block, StepView))
    for figure in (*view.figures, *(figure for step in steps for figure in step.figures)):
        for pointer in figure.pointers:
            yield PointedAt(figure.alt, pointer.number, float(pointer.x), float(pointer.y))


def _figure_musts(figures: Iterable[FigureView]) -> Iterator[Must]:
    for figure in figures:
        yield Must("figure", figure.anchor, figure.alt)
        for pointer in figure.pointers:
            yield Must("pointer", figure.anchor, f"{pointer.number} {pointer.name}")

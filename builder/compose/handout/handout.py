"""The A4 handout: the whole procedure on paper, for reading and for the committee."""

from __future__ import annotations

from collections.abc import Iterator

from builder.compose import code_mark
from builder.compose.document import Document
from builder.compose.render import Renderer
from builder.compose.view.cited import cited_places
from builder.compose.view.paper_musts import READ_BACK, mark_of, musts_of_view
from builder.compose.view.procedure_view import view_of
from builder.compose.view.view import ChoiceView, FigureView, ProcedureView, StepView
from builder.model.library import Library
from builder.model.pages import Procedure


def compose(library: Library, procedure: Procedure, renderer: Renderer) -> Document:
    """Return the handout of ``procedure`` as HTML for the typesetter."""
    view = view_of(library, procedure)
    code = code_mark.mark_of(library, procedure)
    return Document(
        kind="handout",
        procedure=procedure.id,
        edition=procedure.edition,
        title=view.title,
        name=f"{procedure.id}/handout.pdf",
        text=renderer.render(
            "handout/handout.html.j2",
            view=view,
            mark=mark_of(view),
            read_back=READ_BACK,
            code=code,
            cited=cited_places(view),
        ),
        resources=tuple(dict.fromkeys(figure.path for figure in _figures(view))),
        musts=(*code.musts, *musts_of_view(view)),
    )


def _figures(view: ProcedureView) -> Iterator[FigureView]:
    yield from view.figures
    for block in view.blocks:
        yield from _block_figures(block)


def _block_figures(block: StepView | ChoiceView) -> Iterator[FigureView]:
    if isinstance(block, StepView):
        yield from block.figures
        return
    for branch in block.branches:
        for inner in branch.blocks:
            yield from _block_figures(inner)

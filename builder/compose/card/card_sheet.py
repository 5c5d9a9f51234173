"""Pocket cards on A4, to be printed on any mono printer, cut and folded.

Four A6 cards tile an A4 sheet, so that two straight cuts part them; the card itself keeps 5 mm free at each edge, which
no shared printer reaches.
"""

from __future__ import annotations

from dataclasses import replace

from builder.compose.card import card
from builder.compose.document import Document, Placed
from builder.compose.render import Renderer
from builder.model.library import Library
from builder.model.pages import Procedure

_CARD_MM = (105.0, 148.5)  # a cell; the card itself is half a millimetre lower
_FRONT, _BACK = 1, 2
_READ_BACK = "Read back before publishing: every card must show all of its lines, in order."


def fold(library: Library, procedure: Procedure, renderer: Renderer) -> Document:
    """Return one side of A4 with two cards: cut across the middle, fold each so that it is printed outside."""
    width, height = _CARD_MM
    placed = tuple(
        Placed(1, page, column * width, row * height) for row in (0, 1) for column, page in enumerate((_BACK, _FRONT))
    )
    return _sheet(library, procedure, renderer, "fold", placed)


def duplex(library: Library, procedure: Procedure, renderer: Renderer) -> Document:
    """Return two sides of A4 with four cards, for a printer that flips on the long edge.

    Turned over its long edge, a sheet's left column lies behind its right one, heads up: every back is placed in the
    column across from its front.
    """
    width, height = _CARD_MM
    placed = tuple(
        Placed(page, page, (column if page == _FRONT else 1 - column) * width, row * height)
        for page in (_FRONT, _BACK)
        for row in (0, 1)
        for column in (0, 1)
    )
    return _sheet(library, procedure, renderer, "duplex", placed)


def _sheet(
    library: Library, procedure: Procedure, renderer: Renderer, layout: str, placed: tuple[Placed, ...]
) -> Document:
    single = card.compose(library, procedure, renderer)
    title = f"{procedure.title}: pocket cards to {'fold' if layout == 'fold' else 'print on both sides'}"
    values = {"title": title, "language": library.department.language, "layout": layout, "read_back": _READ_BACK}
    return replace(
        single,
        kind="card-sheet",
        title=title,
        name=f"{procedure.id}/card-sheet-{layout}.pdf",
        text=renderer.render("card/card-sheet.html.j2", **values),
        explained={"layout": layout, "cards": len(placed) // 2, "of": single.name},
        of=single,
        placed=placed,
    )

"""Pocket cards on A4, to be printed on any mono printer, cut or folded.

Four A6 sides tile an A4 sheet; the card itself keeps 5 mm free at each edge, which no shared printer reaches. How to
print and fold is told on a page of its own, so that no word but those of the card is on the card.
"""

from collections.abc import Mapping
from dataclasses import replace

from builder.compose.card import card
from builder.compose.card.card_fit import FOLDED, SINGLE
from builder.compose.document import Document, Placed, Renderer
from builder.compose.view.head import head_of
from builder.load.program_words import gettext, noted
from builder.model.library import Library
from builder.model.pages import Procedure

_TEMPLATE = "card/card-sheet.html.j2"
_WIDTH_MM, _HEIGHT_MM = 105.0, 148.5  # a cell; the card itself is half a millimetre lower
_Cells = tuple[tuple[tuple[int, ...], ...], ...]
# Of each sheet its rows of sides. A negative one stands on its head: folded in twice, it is upright to the reader.
_CELLS: Mapping[tuple[str, int], _Cells] = {
    ("fold", SINGLE): (((2, 1), (2, 1)),),
    ("fold", FOLDED): (((-3, -2), (4, 1)),),
    # Turned over its long edge, a sheet's left column lies behind its right one, heads up.
    ("duplex", SINGLE): (((1, 1), (1, 1)), ((2, 2), (2, 2))),
    ("duplex", FOLDED): (((4, 1), (4, 1)), ((2, 3), (2, 3))),
}
_TOLD = {
    ("fold", SINGLE): (
        noted("Print page 1 only, on one side, at 100 %%, not fitted to the page."),
        noted("Cut along the solid line. Fold each card along the dashed line, printed side out."),
    ),
    ("fold", FOLDED): (
        noted("Print page 1 only, on one side, at 100 %%, not fitted to the page."),
        noted(
            "Fold along the line across the middle, printed side out. Then fold along the line down "
            "the middle, with side 1 in front."
        ),
    ),
    ("duplex", SINGLE): (
        noted("Print pages 1 and 2 on both sides, flipped on the long edge, at 100 %%, not fitted to the page."),
        noted("Cut along the solid lines: four cards."),
    ),
    ("duplex", FOLDED): (
        noted("Print pages 1 and 2 on both sides, flipped on the long edge, at 100 %%, not fitted to the page."),
        noted("Cut along the solid line. Fold each card along the dashed line, with side 1 in front."),
    ),
}


def fold(library: Library, procedure: Procedure, renderer: Renderer) -> Document:
    """Return one side of A4: two cards of two sides, or one of four, which is folded twice."""
    return _sheet(library, procedure, renderer, "fold")


def duplex(library: Library, procedure: Procedure, renderer: Renderer) -> Document:
    """Return two sides of A4, for a printer that flips on the long edge: four cards of two sides, or two of four."""
    return _sheet(library, procedure, renderer, "duplex")


def placed_sides(layout: str, sides: int) -> tuple[Placed, ...]:
    """Return where each side lies on the sheets of a ``layout``."""
    return tuple(
        Placed(sheet, abs(side), column * _WIDTH_MM, row * _HEIGHT_MM, turned=side < 0)
        for sheet, rows in enumerate(_CELLS[layout, sides], start=1)
        for row, cells in enumerate(rows)
        for column, side in enumerate(cells)
    )


def _sheet(library: Library, procedure: Procedure, renderer: Renderer, layout: str) -> Document:
    single = card.compose(library, procedure, renderer)
    sides = SINGLE if single.explained["sides"] <= SINGLE else FOLDED
    is_folded = layout == "fold"
    title = (
        gettext("%(title)s: pocket cards to fold", title=procedure.title)
        if is_folded
        else gettext("%(title)s: pocket cards to print on both sides", title=procedure.title)
    )
    head = head_of(library, procedure, renderer.look.paper_mark(procedure, _TEMPLATE))
    folds = {"across": is_folded and sides == FOLDED, "down": is_folded or sides == FOLDED}
    values = {
        "title": title,
        "language": library.department.language,
        "folds": folds,
        "sheets": len(_CELLS[layout, sides]),
        "told": [gettext(line) for line in _TOLD[layout, sides]],
        "mark": head.mark,
    }
    placed = tuple(spot for spot in placed_sides(layout, sides) if spot.page <= single.explained["sides"])
    return replace(
        single,
        kind="card-sheet",
        title=title,
        name=f"{procedure.id}/card-sheet-{layout}.pdf",
        text=renderer.render(_TEMPLATE, **values),
        explained={"layout": layout, "cards": len(placed) // sides, "of": single.name},
        of=single,
        placed=placed,
    )

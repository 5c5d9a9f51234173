"""Pocket cards on A4, to be printed on any mono printer, cut and folded; and the fold-up booklet on one A4.

Four A6 cards tile an A4 sheet, so that two straight cuts part them; the card itself keeps 5 mm free at each edge, which
no shared printer reaches.

The booklet has eight A7 pages on one side, one cut and no staple. It has the lines of the pocket card on nearly twice
the room, so it says more, and in larger type where all of it still fits; pages that are left over are for notes. The
eight pages form a ring round the middle of the sheet, so that each page shares an edge with the next one::

    7 6 5 4   (on their heads)
    8 1 2 3

The cut runs along the middle of the ring, between 6 and 1, and between 5 and 2.
"""

from collections.abc import Mapping, Sequence
from dataclasses import replace
from functools import cache
from typing import Any

from builder.compose.card import card
from builder.compose.card.card import lines_left_out, place_musts, places_of
from builder.compose.card.card_fit import SIZES, Density, guessed_height, likely
from builder.compose.card.card_lines import CardLine, lines_of
from builder.compose.code_mark import mark_of
from builder.compose.document import Document, Placed, Renderer
from builder.compose.view.head import head_of
from builder.compose.view.outline import outline
from builder.findings.finding import Finding, Refused
from builder.findings.message_words import quoted
from builder.findings.register import finding
from builder.model.library import Library
from builder.model.pages import Procedure, Signal

PAGES = 8
WIDTH_MM, HEIGHT_MM = 74.25, 105.0
_TOP, _BOTTOM = (7, 6, 5, 4), (8, 1, 2, 3)
_ROW_MM, _PAGE_MM = 56.0, 72.0  # of a row of text, and about what a page holds beside headings and what stays free
_CARD_MM = (105.0, 148.5)  # a cell; the card itself is half a millimetre lower
_FRONT, _BACK = 1, 2
_Choice = Mapping[str, int]


def fold(library: Library, procedure: Procedure, renderer: Renderer) -> Document:
    """Return one side of A4 with two cards: cut across the middle, fold each so that it is printed outside."""
    width, height = _CARD_MM
    placed = tuple(
        Placed(1, page, column * width, row * height) for row in (0, 1) for column, page in enumerate((_BACK, _FRONT))
    )
    return _cards(library, procedure, renderer, "fold", placed)


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
    return _cards(library, procedure, renderer, "duplex", placed)


def _cards(
    library: Library, procedure: Procedure, renderer: Renderer, layout: str, placed: tuple[Placed, ...]
) -> Document:
    single = card.compose(library, procedure, renderer)
    title = f"{procedure.title}: pocket cards to {'fold' if layout == 'fold' else 'print on both sides'}"
    read_back = "Read back before publishing: every card must show all of its lines, in order."
    values = {"title": title, "language": library.department.language, "layout": layout, "read_back": read_back}
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


def booklet(library: Library, procedure: Procedure, renderer: Renderer) -> Document:
    """Return the sheet that is folded to a booklet.

    Raises Refused where what must be in it does not fit on eight pages in the smallest type.
    """
    pages = _Pages(library, procedure, renderer).document()
    title = f"{procedure.title}: booklet to fold"
    read_back = "Read back before publishing: every page whole."
    values = {"title": title, "language": library.department.language, "read_back": read_back}
    return replace(
        pages,
        title=title,
        name=f"{procedure.id}/card-sheet-booklet.pdf",
        text=renderer.render("card/booklet_sheet.html.j2", **values),
        explained={"layout": "booklet", "cards": 1, **pages.explained},
        of=pages,
        placed=placed_pages(),
    )


def placed_pages() -> tuple[Placed, ...]:
    """Return where each page lies on the sheet, the upper row on its head."""
    return tuple(
        Placed(1, page, at * WIDTH_MM, row * HEIGHT_MM, turned=row == 0, width_mm=WIDTH_MM, height_mm=HEIGHT_MM)
        for row, pages in enumerate((_TOP, _BOTTOM))
        for at, page in enumerate(pages)
    )


class _Pages:
    """Sets the eight pages of one procedure: in the largest type in which everything fits, else with less of it."""

    def __init__(self, library: Library, procedure: Procedure, renderer: Renderer) -> None:
        self.library = library
        self.procedure = procedure
        self.renderer = renderer
        self.head = head_of(library, procedure)
        self.code = mark_of(library, procedure)
        self.lines = lines_of(library, procedure, outline(procedure))
        self.choices = _choices(self.lines)
        self._pages = cache(self._counted)  # each is set once

    def document(self) -> Document:
        """Return the pages as a document of their own, eight of them."""
        choice, at, apart = self._fitted()
        chosen, density, notes = self.choices[choice], SIZES[at], PAGES - self._pages(choice, at, apart)
        return Document.about(
            self.procedure,
            "card-sheet",
            "booklet-pages.pdf",
            self._html(chosen, density, apart, notes),
            musts=(*self.head.musts, *place_musts(places_of(self.lines, chosen, self.library)), *self.code.musts),
            left_out=lines_left_out(self.lines, chosen),
            explained={
                "density": density.name,
                "type_pt": density.pt,
                "readable_to_cm": density.readable_cm(),
                "pages_of_notes": notes,
            },
        )

    def _fitted(self) -> tuple[int, int, bool]:
        """Return the places of the choice and of the type, and whether groups start a page of their own."""
        for choice in range(len(self.choices)):
            at = self._largest(choice)
            if at is not None:
                return choice, at, self._fits(choice, at, apart=True)
        raise Refused(_too_long(self.procedure, self._pages(len(self.choices) - 1, 0, False)))

    def _largest(self, choice: int) -> int | None:
        """Return the place of the largest type among ``SIZES`` in which a choice fits; None where none does.

        It begins with the type that the length of the texts makes likely: what fits with groups apart fits without.
        """
        chosen = self.choices[choice]
        lines = [line for line in self.lines if line.id in chosen]

        def may_fit(density: Density) -> bool:
            return sum(guessed_height(line, chosen[line.id], density, _ROW_MM) for line in lines) <= PAGES * _PAGE_MM

        at = likely(may_fit)
        if self._fits(choice, at, apart=at > 0) or self._fits(choice, at, apart=False):
            while at + 1 < len(SIZES) and self._fits(choice, at + 1, apart=False):
                at += 1
            return at
        return next((size for size in range(at - 1, -1, -1) if self._fits(choice, size, apart=False)), None)

    def _fits(self, choice: int, at: int, apart: bool) -> bool:
        return self._pages(choice, at, apart) <= PAGES

    def _counted(self, choice: int, at: int, apart: bool) -> int:
        """Return how many pages a choice takes in the type at place ``at`` of ``SIZES``."""
        return len(self.renderer.measure(self._html(self.choices[choice], SIZES[at], apart, 0)))

    def _html(self, chosen: _Choice, density: Density, apart: bool, notes: int) -> str:
        values: dict[str, Any] = {"density": density, "apart": apart, "notes": notes}
        places = places_of(self.lines, chosen, self.library)
        return self.renderer.render("card/booklet.html.j2", head=self.head, code=self.code, places=places, **values)


def _choices(lines: Sequence[CardLine]) -> tuple[_Choice, ...]:
    """Return what can stand in the booklet, most first: all in full; the gravest in full; all short; the must alone."""
    full = {line.id: len(line.forms) - 1 for line in lines}
    is_grave = {line.id: line.signal == Signal.DANGER or (line.section == "steps" and line.must) for line in lines}
    grave = {id: form if is_grave[id] else 0 for id, form in full.items()}
    short = dict.fromkeys(full, 0)
    least = {line.id: 0 for line in lines if line.must or line.wanted}
    return full, grave, short, least


def _too_long(procedure: Procedure, pages: int) -> Finding:
    message = (
        f"{quoted(procedure.title)} does not fit its fold-up booklet: with only what must be in it, in the smallest "
        f"type, it takes {pages} of {PAGES} pages"
    )
    hint = "Shorten titles of steps, and hazard and `avoid` of cautions."
    return finding("booklet-too-long", procedure.id.at, message, hint)

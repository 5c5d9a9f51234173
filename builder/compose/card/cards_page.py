"""Print my card: the page on which a reader finds the card of the way and the side, made at publish time."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from builder.compose.card.card_ways import FOLDER, SIDES, Ticket, tickets_of
from builder.compose.card.ways import MOST, NONE, titles_of, ways_of, words_of
from builder.compose.document import Must
from builder.compose.render import Renderer
from builder.compose.site.offers import Offer
from builder.compose.site.web import WebPage, page_text
from builder.compose.view.head import page_marks
from builder.compose.view.words import branch_label
from builder.model.library import Library
from builder.model.pages import Procedure

NAME = "cards.html"
_NOT_MET = "–"


@dataclass(frozen=True, slots=True)
class CardLink:
    """A card: its address, the word that is shown, and all that it says of itself to who hears the page."""

    href: str
    label: str
    spoken: str


@dataclass(frozen=True, slots=True)
class WayRow:
    """One way: what is taken at each choice, in the order of the columns, and its cards."""

    picks: tuple[str, ...]
    links: tuple[CardLink, ...]


def compose(library: Library, procedure: Procedure, renderer: Renderer, offers: Sequence[Offer] = ()) -> WebPage | None:
    """Return the page that leads to the cards among ``offers``, or None where there is nothing to tell.

    Where the ways are too many, the page says so and leads to the general card, if that was made.
    """
    ways = ways_of(procedure)
    made = {offer.href.removeprefix(f"{procedure.id}/") for offer in offers}
    tickets = [ticket for ticket in tickets_of(procedure, ways) if _href(ticket) in made]
    general = "card.pdf" in made
    if not tickets and not (general and ways.kind == NONE):
        return None
    parted = {id for ticket in tickets for id in ticket.way.choices}
    titles = {id: title for id, title in titles_of(procedure).items() if id in parted}
    rows = tuple(_rows(procedure, tickets, tuple(titles)))
    html = renderer.render(
        "site/cards.html.j2",
        procedure=procedure,
        marks=page_marks(library, procedure),
        titles=tuple(titles.values()),
        rows=rows,
        general="card.pdf" if general else "",
        most=MOST,
        kind=ways.kind,
        sided=any(ticket.side for ticket in tickets),
    )
    title = f"Print my card: {procedure.title}"
    return WebPage.about(
        procedure,
        "page",
        NAME,
        page_text(library, title, "A pocket card for one way and one side", html),
        title=title,
        musts=tuple(Must("card", row.links[0].href, _said(row)) for row in rows),
        explained=(
            {"parted_by": NONE, "why": f"more than {MOST} ways", "cards": 0}
            if ways.kind == NONE
            else {"parted_by": ways.kind, "ways": len(ways.ways), "cards": len(tickets)}
        ),
    )


def _href(ticket: Ticket) -> str:
    return f"{FOLDER}/{ticket.name}.pdf"


def _rows(procedure: Procedure, tickets: Sequence[Ticket], columns: tuple[str, ...]) -> list[WayRow]:
    ways: dict[str, list[Ticket]] = {}
    for ticket in tickets:
        ways.setdefault(ticket.way.name, []).append(ticket)
    rows = []
    for here in ways.values():
        choices = here[0].way.choices
        picks = tuple(branch_label(choices[id]) if id in choices else _NOT_MET for id in columns)
        words = words_of(procedure, choices)
        rows.append(WayRow(picks, tuple(_link(ticket, words) for ticket in here)))
    return rows


def _link(ticket: Ticket, words: str) -> CardLink:
    label = SIDES[ticket.side] if ticket.side else "Card"
    return CardLink(_href(ticket), label, f"{' side' if ticket.side else ''}. {words}" if words else "")


def _said(row: WayRow) -> str:
    """Return the words of a row as they stand on the page."""
    return " ".join((*row.picks, *(f"{link.label}{link.spoken}" for link in row.links)))

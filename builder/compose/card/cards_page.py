"""Print my card: the page on which a reader finds the card of the way and the side, made at publish time."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from builder.compose.card.card_ways import FOLDER, SIDES, Ticket, tickets_of
from builder.compose.render import Renderer
from builder.compose.site.offers import Offer
from builder.compose.site.web import WebPage, as_markdown
from builder.compose.view.procedure_view import branch_label, is_overdue
from builder.compose.view.view import Must
from builder.compose.view.ways import MOST, NONE, Ways, titles_of, ways_of, words_of
from builder.compose.view.words import STATUS_MARKS, day
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
    made = {offer.href for offer in offers}
    tickets = [one for one in tickets_of(procedure, ways) if _path(procedure, one) in made]
    general = f"{procedure.id}/card.pdf" in made
    if not tickets and not (general and ways.kind == NONE):
        return None
    titles = _columns(procedure, tickets)
    rows = tuple(_rows(procedure, tickets, tuple(titles)))
    due = day(procedure.review_by) if procedure.review_by and is_overdue(library, procedure) else ""
    html = renderer.render(
        "site/cards.html.j2",
        procedure=procedure,
        marks=[one for one in (STATUS_MARKS[procedure.status], f"Review was due by {due}" if due else "") if one],
        titles=tuple(titles.values()),
        rows=rows,
        general="card.pdf" if general else "",
        most=MOST,
        kind=ways.kind,
        sided=any(one.side for one in tickets),
    )
    title = f"Print my card: {procedure.title}"
    return WebPage(
        kind="page",
        procedure=procedure.id,
        edition=procedure.edition,
        title=title,
        name=f"{procedure.id}/{NAME}",
        text=as_markdown(f"{title} · {library.department.name}", "A pocket card for one way and one side", html),
        musts=tuple(Must("card", row.links[0].href, _said(row)) for row in rows),
        explained=_told(ways, tickets),
    )


def _path(procedure: Procedure, ticket: Ticket) -> str:
    return f"{procedure.id}/{FOLDER}/{ticket.name}.pdf"


def _columns(procedure: Procedure, tickets: Sequence[Ticket]) -> dict[str, str]:
    """Return the titles of the choices that part the ways, by id."""
    parted = {id for ticket in tickets for id in ticket.way.choices}
    return {id: title for id, title in titles_of(procedure).items() if id in parted}


def _rows(procedure: Procedure, tickets: Sequence[Ticket], columns: tuple[str, ...]) -> list[WayRow]:
    ways: dict[str, list[Ticket]] = {}
    for ticket in tickets:
        ways.setdefault(ticket.way.name, []).append(ticket)
    found = []
    for here in ways.values():
        choices = here[0].way.choices
        picks = tuple(branch_label(choices[id]) if id in choices else _NOT_MET for id in columns)
        words = words_of(procedure, choices)
        found.append(WayRow(picks, tuple(_link(ticket, words) for ticket in here)))
    return found


def _link(ticket: Ticket, words: str) -> CardLink:
    label = SIDES[ticket.side] if ticket.side else "Card"
    return CardLink(f"{FOLDER}/{ticket.name}.pdf", label, f"{' side' if ticket.side else ''}. {words}" if words else "")


def _said(row: WayRow) -> str:
    """Return the words of a row as they stand on the page."""
    return " ".join((*row.picks, *(f"{link.label}{link.spoken}" for link in row.links)))


def _told(ways: Ways, tickets: Sequence[Ticket]) -> dict[str, object]:
    if ways.kind == NONE:
        return {"parted_by": NONE, "why": f"more than {MOST} ways", "cards": 0}
    return {"parted_by": ways.kind, "ways": len(ways.ways), "cards": len(tickets)}

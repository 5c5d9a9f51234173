"""Print my card: a pocket card for each way through a procedure, and for each side of one that is done on either.

All cards of a procedure share their lines, so the lines are set and measured once for all. A card for the left and one
for the right differ in nothing but that word, so a way is laid out once. The general card, for every way and the side
marked on the patient, is ``card``'s.

A card of a way is the card of a reduced procedure. Above 16 ways only choices part the cards, above 16 of those
nothing does. The page on which a reader finds the card of the way and the side is made at publish time.
"""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cache

from builder.compose.card.card import Setter
from builder.compose.card.card_fit import Fit, Heights, fit
from builder.compose.card.card_plan import plan_of
from builder.compose.card.ways import CHOICES, MOST, NONE, Way, Ways, titles_of, way_of, ways_of, words_of
from builder.compose.document import Document, LeftOut, Must, Renderer, SetAlike
from builder.compose.site.own_look import SCREEN
from builder.compose.site.own_page import own_page
from builder.compose.site.web import Offer, WebPage
from builder.compose.view.head import page_marks
from builder.compose.view.words import branch_label
from builder.facts.remembered import once_per_library
from builder.grouping import grouped
from builder.load.program_words import gettext, noted
from builder.model.action import Side
from builder.model.library import Library
from builder.model.pages import Procedure
from builder.model.sequence import LEFT_OUT, TAKEN

FOLDER, PAGE_NAME = "cards", "cards.html"
_NOT_MET = "–"
SIDES = {Side.LEFT: noted("Left"), Side.RIGHT: noted("Right")}


@dataclass(frozen=True, slots=True)
class Ticket:
    """A card that is made: the ``name`` of its file, its way, and its side where the procedure is done on either."""

    name: str
    way: Way
    side: Side | None


def tickets_of(procedure: Procedure, ways: Ways | None = None) -> tuple[Ticket, ...]:
    """Return the cards made of ``procedure``; none where its one way and one side are those of the general card."""
    sides = tuple(SIDES) if procedure.side is Side.EITHER else (None,)
    return tuple(
        Ticket("-".join(part for part in (way.name, side.value if side else "") if part), way, side)
        for way in (ways or ways_of(procedure)).ways
        for side in sides
        if way.name or side
    )


def names_of(procedure: Procedure) -> tuple[str, ...]:
    """Return the names of the cards made of ``procedure``."""
    return tuple(ticket.name for ticket in tickets_of(procedure))


def compose(library: Library, procedure: Procedure, renderer: Renderer, name: str) -> Document:
    """Return the card of ``procedure`` that ``names_of`` calls ``name``.

    Raises Refused where what must stand on it does not fit on two sides.
    """
    return _Cards(library, procedure, renderer).card(name)


@once_per_library  # to fit text means to measure it
class _Cards:
    """The cards of one procedure: what they share, and the fit of each way once for both sides."""

    def __init__(self, library: Library, procedure: Procedure, renderer: Renderer) -> None:
        self.library = library
        self.procedure = procedure
        self.renderer = renderer
        self.kind = ways_of(procedure).kind
        self.tickets = {ticket.name: ticket for ticket in tickets_of(procedure)}
        self.ways = {ticket.way.name: ticket.way for ticket in self.tickets.values()}
        self.plans = {name: plan_of(library, procedure, way.choices) for name, way in self.ways.items()}
        self._heights = cache(self._measured)
        self._fit = cache(self._fitted)
        self._made = cache(self._composed)
        self.first = next(iter(SIDES)) if procedure.side is Side.EITHER else None

    def card(self, name: str) -> Document:
        ticket = self.tickets[name]
        way = ticket.way
        said, made = self._made(way.name, ticket.side)
        laid, first = self._made(way.name, self.first)
        alike = None if made is first else SetAlike(first.text, dict(zip(laid, said, strict=True)))
        told = {
            "way": words_of(self.procedure, way.choices),
            "side": ticket.side.value if ticket.side else "",
            "parted_by": self.kind,
            "choices": dict(way.choices),
        }
        return replace(
            made,
            name=f"{self.procedure.id}/{FOLDER}/{name}.pdf",
            left_out=(*made.left_out, *self._not_met(way)),
            explained={**made.explained, **told},
            alike=alike,
        )

    def _composed(self, name: str, side: Side | None) -> tuple[tuple[str, ...], Document]:
        """Return what the card of a way says of its ``side``, and the card."""
        setter = self._setter(side, self._words(self.ways[name]))
        return setter.said, setter.document(self.plans[name], self._fit(name))

    def _setter(self, side: Side | None, words: Sequence[str]) -> Setter:
        sides = [gettext(SIDES[one]) for one in dict.fromkeys((side, *SIDES)) if one and side]
        return Setter(self.library, self.procedure, self.renderer, sides or [""], words)

    def _words(self, way: Way) -> tuple[str, ...]:
        words = words_of(self.procedure, way.choices)
        if not words:
            return ()
        if self.kind == CHOICES:
            return (gettext("This way only. %(words)s. Options stay as options.", words=words),)
        return (gettext("This way only. %(words)s.", words=words),)

    def _fitted(self, way: str) -> Fit:
        return fit(self.plans[way], lambda pt: self._heights(pt)[way], single=True)

    def _measured(self, pt: float) -> Mapping[str, Heights]:
        """Return the heights for each way by its name; every line of every way is set once."""
        words = [text for way in self.ways.values() for text in self._words(way)]
        return self._setter(self.first, words).measured(self.plans, pt)

    def _not_met(self, way: Way) -> Iterator[LeftOut]:
        """Yield the parts of the procedure that this way does not meet, so that none is lost silently."""
        whole, walked = self.procedure, way_of(self.procedure, way.choices, self.library.items)
        for kind, parts, met in (
            ("step", whole.steps, walked.steps),
            ("caution", whole.cautions, walked.cautions),
            ("aftercare", whole.aftercare_items, walked.aftercare_items),
        ):
            yield from (LeftOut(kind, id, "not on this way") for id in parts if id not in met)


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

    @property
    def words(self) -> str:
        """The words of the row as they stand on the page."""
        return " ".join((*self.picks, *(f"{link.label}{link.spoken}" for link in self.links)))


def page(library: Library, procedure: Procedure, renderer: Renderer, offers: Sequence[Offer] = ()) -> WebPage | None:
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
    values = {
        "procedure": procedure,
        "marks": page_marks(library, procedure),
        "titles": tuple(titles.values()),
        "rows": rows,
        "general": "card.pdf" if general else "",
        "most": MOST,
        "kind": ways.kind,
        "sided": any(ticket.side for ticket in tickets),
    }
    html, look = own_page(procedure, renderer, "site/cards.html.j2", SCREEN, values)
    title = gettext("Print my card: %(title)s", title=procedure.title)
    return WebPage.about(
        procedure,
        "page",
        PAGE_NAME,
        html,
        title=title,
        description=gettext("A pocket card for one way and one side"),
        musts=(*look, *(Must("card", row.links[0].href, row.words) for row in rows)),
        explained=(
            {"parted_by": NONE, "why": f"more than {MOST} ways", "cards": 0}
            if ways.kind == NONE
            else {"parted_by": ways.kind, "ways": len(ways.ways), "cards": len(tickets)}
        ),
    )


def _href(ticket: Ticket) -> str:
    return f"{FOLDER}/{ticket.name}.pdf"


def _rows(procedure: Procedure, tickets: Sequence[Ticket], columns: tuple[str, ...]) -> list[WayRow]:
    rows = []
    for here in grouped((ticket.way.name, ticket) for ticket in tickets).values():
        choices = here[0].way.choices
        picks = tuple(_picked(choices[id]) if id in choices else _NOT_MET for id in columns)
        words = words_of(procedure, choices)
        rows.append(WayRow(picks, tuple(_link(ticket, words) for ticket in here)))
    return rows


def _picked(branch: str) -> str:
    return {TAKEN: gettext("Yes"), LEFT_OUT: gettext("No")}.get(branch) or branch_label(branch)


def _link(ticket: Ticket, words: str) -> CardLink:
    label = gettext(SIDES[ticket.side]) if ticket.side else gettext("Card")
    return CardLink(
        _href(ticket),
        label,
        (gettext(" side. %(words)s", words=words) if ticket.side else f". {words}") if words else "",
    )

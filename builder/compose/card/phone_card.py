"""The phone card: the whole plan of the card on one page that a phone keeps, larger, and without anything to fetch."""

from builder.compose.card.card_plan import LABELS, LEVELS, TITLES, CardLine, labels_in, plan_of
from builder.compose.code_mark import mark_of
from builder.compose.document import Document, Must, Renderer, promised
from builder.compose.site.hosting import still_policy
from builder.compose.site.own_page import own_page
from builder.compose.view.head import head_of
from builder.compose.view.words import signal_word
from builder.grouping import grouped
from builder.load.program_words import gettext
from builder.model.library import Library
from builder.model.pages import Procedure

STYLE = "card/phone_card.css"
MOST_BYTES = 60_000


def compose(library: Library, procedure: Procedure, renderer: Renderer) -> Document:
    """Return the phone card of ``procedure``, with every way."""
    head, code = head_of(library, procedure), mark_of(library, procedure)
    lines = plan_of(library, procedure)
    good_until = (
        gettext("Good until %(day)s", day=head.due)
        if head.due
        else gettext("No day is set until which this card is good")
    )
    style = renderer.templates[STYLE].strip()
    values = {
        "head": head,
        "code": code,
        "good_until": good_until,
        "places": [(section, gettext(TITLES[section]), signal_word(section), here) for section, here in _places(lines)],
        "labels": labels_in(LABELS),
        "style": style,
        "policy": still_policy(style),
    }
    html, look = own_page(procedure, renderer, "card/phone_card.html.j2", STYLE, values)
    return Document.about(
        procedure,
        "phone-card",
        "phone-card.html",
        html,
        musts=(
            *promised("status", "status", head.mark),
            *look,
            Must("good-until", "good-until", good_until),
            *(must for line in lines for must in line.musts(LEVELS[-1])),
            Must("code", "code", code.code),
        ),
        explained={"lines": len(lines), "good_until": head.due},
    )


def _places(lines: tuple[CardLine, ...]) -> list[tuple[str, list[CardLine]]]:
    return list(grouped((line.section, line) for line in lines).items())

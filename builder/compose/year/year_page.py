"""The page of the year at a glance."""

from builder.compose.document import Must, Renderer
from builder.compose.site.web import WebPage
from builder.compose.view.words import day
from builder.compose.year import edition_feed, review_calendar, supervision
from builder.compose.year.year_view import Signed, YearTable, year_tables
from builder.load.program_words import gettext, ngettext, noted
from builder.model.library import Library

FOLDER = "year"
NAME = f"{FOLDER}/index.html"
TITLE = noted("The year at a glance")


def summary_of(tables: tuple[YearTable, ...]) -> str:
    """Return in a sentence what waits for somebody."""
    waiting = [f"{table.title.lower()}: {table.waiting}" for table in tables if table.waiting]
    many = sum(table.waiting for table in tables)
    return (
        ngettext(
            "%(num)s thing to see to (%(waiting)s).",
            "%(num)s things to see to (%(waiting)s).",
            many,
            waiting=", ".join(waiting),
        )
        if many
        else gettext("Nothing is waiting for anybody.")
    )


def compose(library: Library, renderer: Renderer, signed: Signed) -> WebPage:
    """Return the page; it shows the same tables as ``prescrub year``."""
    tables = year_tables(library, signed)
    calendar = (review_calendar.NAME, gettext("Calendar of the review dates (iCalendar)"))
    files = (
        *([calendar] if review_calendar.review_calendar(library) else []),
        (edition_feed.NAME, gettext("Feed of new, replaced and withdrawn editions (Atom)")),
        (supervision.NAME, gettext(supervision.TITLE)),
    )
    links = [(name.removeprefix(f"{FOLDER}/"), words) for name, words in files]
    text = renderer.render(
        "year/year.html.j2",
        title=gettext(TITLE),
        summary=summary_of(tables),
        tables=tables,
        links=links,
        today=day(library.today),
    )
    musts = [Must("summary", "summary", summary_of(tables))]
    for table in tables:
        told = [" ".join(row.cells) for row in table.rows] or [table.nothing]
        musts += [Must("row", f"{table.id}-{number}", words) for number, words in enumerate(told)]
    return WebPage(
        "year",
        gettext(TITLE),
        NAME,
        text,
        musts=tuple(musts),
        description=gettext("What is due, missing or in circulation"),
    )

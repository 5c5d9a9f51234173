"""The days of review as a calendar that a department can subscribe to (RFC 5545)."""

from datetime import UTC, datetime, time, timedelta
from uuid import NAMESPACE_URL, uuid5

from builder.load.program_words import gettext
from builder.model.library import Library
from builder.model.pages import Status

NAME = "year/reviews.ics"


def review_calendar(library: Library) -> str:
    """Return the calendar: one event of a whole day for each procedure that is to be reviewed; "" where there is none.

    A calendar without an event would not be one (RFC 5545, 3.6).
    """
    # Imported here because it takes a tenth of the time in which a process starts, and only this needs it.
    from icalendar import Calendar, Event  # noqa: PLC0415

    calendar = Calendar()
    calendar.add("prodid", "-//prescrub//reviews//EN")
    calendar.add("version", "2.0")
    for procedure in library.procedures:
        if procedure.review_by is None or procedure.status is Status.WITHDRAWN:
            continue
        event = Event()
        event.add("uid", f"{named(library, 'review', str(procedure.id))}")
        event.add("dtstamp", datetime.combine(library.today, time(), UTC))
        event.add("dtstart", procedure.review_by)
        event.add("dtend", procedure.review_by + timedelta(days=1))
        event.add("summary", gettext("Review due: %(title)s", title=procedure.title))
        told = gettext(
            "Edition %(edition)s. Owner: %(name)s, %(role)s.",
            edition=procedure.edition,
            name=procedure.owner.name,
            role=procedure.owner.role,
        )
        event.add("description", told)
        event.add("transp", "TRANSPARENT")
        if library.department.site:
            event.add("url", f"{str(library.department.site).rstrip('/')}/{procedure.id}/index.html")
        calendar.add_component(event)
    return str(calendar.to_ical().decode("utf-8")) if calendar.subcomponents else ""


def named(library: Library, *words: str) -> str:
    """Return an identifier that is the same on every publish, and another one in every other department."""
    home = str(library.department.site or library.department.name)
    return str(uuid5(NAMESPACE_URL, "/".join((home, *words))))

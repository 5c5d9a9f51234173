"""What stands at the head and foot of every theatre sheet: title, edition, review, marks, and whom to call."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from builder.compose.view.paper_musts import READ_BACK_SHEET, READ_BACK_SHORT
from builder.compose.view.procedure_view import is_overdue
from builder.compose.view.view import Must
from builder.compose.view.words import STATUS_MARKS, USUAL_CAUTION, day
from builder.model.library import Library
from builder.model.pages import Procedure

_NO_NUMBER = "no local number written"


@dataclass(frozen=True, slots=True)
class Head:
    """Head and foot of a sheet; ``mark`` says what is not approved or overdue, "" where nothing is; ``read_back`` what
    must be proved before it is published, at length and in short."""

    title: str
    department: str
    language: str
    edition: str
    status: str
    review_by: str
    owner: str
    mark: str
    usual_caution: str
    read_back: str
    read_back_short: str


@dataclass(frozen=True, slots=True)
class CallView:
    """Whom to call: the ``role`` and the local ``number`` in words."""

    role: str
    number: str


def head_of(library: Library, procedure: Procedure) -> Head:
    """Return the head of a sheet of ``procedure``."""
    due = day(procedure.review_by) if procedure.review_by else ""
    overdue = f"Review overdue since {due}" if is_overdue(library, procedure) else ""
    return Head(
        title=procedure.title,
        department=library.department.name,
        language=library.department.language,
        edition=procedure.edition,
        status=procedure.status.value,
        review_by=due or "not set",
        owner=f"{procedure.owner.name}, {procedure.owner.role}",
        mark=". ".join(part for part in (STATUS_MARKS[procedure.status], overdue) if part),
        usual_caution=USUAL_CAUTION,
        read_back=READ_BACK_SHEET,
        read_back_short=READ_BACK_SHORT,
    )


def head_musts(head: Head) -> Iterator[Must]:
    """Yield what the head of every page promises."""
    if head.mark:
        yield Must("running", "mark", head.mark)


def call_of(library: Library, role: str) -> CallView:
    """Return ``role`` with its local number, as the department lists it."""
    for one in library.department.call:
        if str(one.role).casefold() == role.casefold():
            return CallView(str(one.role), str(one.number))
    return CallView(role, _NO_NUMBER)

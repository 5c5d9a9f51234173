"""What stands at the head and foot of every output: title, edition, review, marks, and whom to call."""

from collections.abc import Iterator
from dataclasses import dataclass

from builder.compose.document import Must, promised
from builder.compose.view.local_view import PARENT_CHANGED, parent_has_changed
from builder.compose.view.words import SHORT_CAUTION, STATUS_MARKS, USUAL_CAUTION, day, status_word
from builder.facts.calls import contact
from builder.load.program_words import gettext, noted
from builder.model.library import Library
from builder.model.pages import Procedure, Status

_NO_NUMBER = noted("no local number written")


@dataclass(frozen=True, slots=True)
class Head:
    """Head and foot of a paper: ``due`` is the day of its review, "" where none is set; ``mark`` says what is not
    approved or overdue, "" where nothing is; ``edition_line`` names the status only where no mark does."""

    title: str
    department: str
    language: str
    edition: str
    edition_line: str
    status: str
    due: str
    owner: str
    mark: str

    @property
    def usual_caution(self) -> str:
        """What holds of all teaching material."""
        return gettext(USUAL_CAUTION)

    @property
    def short_caution(self) -> str:
        """The same where there is little room."""
        return gettext(SHORT_CAUTION)

    @property
    def musts(self) -> Iterator[Must]:
        """What must run along on every page: the mark that says that this is no approved edition."""
        return promised("running", "mark", self.mark)


@dataclass(frozen=True, slots=True)
class CallView:
    """Whom to call: the ``role`` and the local ``number`` in words."""

    role: str
    number: str

    def __str__(self) -> str:
        return f"{self.role} {self.number}"


def head_of(library: Library, procedure: Procedure, look: str = "") -> Head:
    """Return the head of a paper about ``procedure``; ``look`` says what is not proved of it."""
    return Head(
        title=procedure.title,
        department=library.department.name,
        language=library.department.language,
        edition=procedure.edition,
        edition_line=_edition_line(procedure),
        status=status_word(procedure.status),
        due=day(procedure.review_by) if procedure.review_by else "",
        owner=f"{procedure.owner.name}, {procedure.owner.role}",
        mark=". ".join(filter(None, (paper_mark(library, procedure), look))),
    )


def _edition_line(procedure: Procedure) -> str:
    edition = procedure.edition
    due = day(procedure.review_by) if procedure.review_by else gettext("not set")
    if _status_mark(procedure):
        return gettext("Edition %(edition)s, review by %(day)s", edition=edition, day=due)
    status = status_word(procedure.status)
    return gettext("Edition %(edition)s, %(status)s, review by %(day)s", edition=edition, status=status, day=due)


def is_overdue(library: Library, procedure: Procedure) -> bool:
    """Tell whether the review of ``procedure`` was due before today. A withdrawn one needs no review."""
    due = procedure.review_by
    return due is not None and due < library.today and procedure.status is not Status.WITHDRAWN


def paper_mark(library: Library, procedure: Procedure, *, dated: bool = True) -> str:
    """Return what is marked on every sheet that is not approved and current, "" on any other."""
    overdue = ""
    if is_overdue(library, procedure):
        since = day(procedure.review_by) if dated and procedure.review_by else ""
        overdue = gettext("Review overdue since %(day)s", day=since) if since else gettext("Review overdue")
    return ". ".join(mark for mark in (_status_mark(procedure), overdue, _parent_mark(library, procedure)) if mark)


def _status_mark(procedure: Procedure) -> str:
    mark = STATUS_MARKS[procedure.status]
    return gettext(mark) if mark else ""  # gettext keeps its header under ""


def _parent_mark(library: Library, procedure: Procedure) -> str:
    return gettext(PARENT_CHANGED) if parent_has_changed(library, procedure) else ""


def page_marks(library: Library, procedure: Procedure) -> list[str]:
    """Return what a page of the site says of ``procedure`` where it is not approved and current."""
    due = procedure.review_by
    overdue = gettext("Review was due by %(day)s", day=day(due)) if due and is_overdue(library, procedure) else ""
    return [mark for mark in (_status_mark(procedure), overdue, _parent_mark(library, procedure)) if mark]


def call_of(library: Library, role: str | None) -> CallView | None:
    """Return ``role`` with its local number, as the department lists it; None where nobody is to be called."""
    if not role:
        return None
    listed = contact(library, role)
    if listed is not None:
        return CallView(str(listed.role), str(listed.number))
    return CallView(str(role), gettext(_NO_NUMBER))

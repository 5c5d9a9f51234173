"""The year at a glance: the same tables for the terminal and for the page of the department.

A passed check is not approval, and nothing here says that a text is right: it says what waits for somebody.
"""

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from datetime import date

from builder.compose.changes.approval_view import last_approval
from builder.compose.code_mark import page_name
from builder.compose.site.status import NOT_ISSUED, standings
from builder.compose.view.words import day, series, series_or, status_word, time_words
from builder.facts.approvals import standing_approvals
from builder.facts.claims import resting
from builder.facts.coverage import ProcedureCoverage, coverage, data_of, excuses
from builder.facts.source_register import months_old, notice_lists, notices_on
from builder.findings.message_words import capital
from builder.load.ledger import UNSIGNED, Approved
from builder.load.program_words import gettext, ngettext
from builder.load.signature import SignatureState
from builder.load.sources.notices import NoticeKind
from builder.model.library import Library
from builder.model.pages import Approval, Procedure, Status

_SOON_DAYS = 62
"""A review that is due within two months is due soon: that long it takes to find a day for the committee."""
_FALLEN = (NoticeKind.RETRACTED, NoticeKind.CONCERN, NoticeKind.SUPERSEDED)
Signed = Callable[[Approved], str]


@dataclass(frozen=True, slots=True)
class YearRow:
    """A row: its ``cells``, the address its first cell leads to ("" = none), and whether it waits for somebody."""

    cells: tuple[str, ...]
    href: str = ""
    waits: bool = False


@dataclass(frozen=True, slots=True)
class YearTable:
    """One table: ``id`` and ``title``, its ``head``, its ``rows``, and what is said where there is none."""

    id: str
    title: str
    head: tuple[str, ...]
    rows: tuple[YearRow, ...]
    nothing: str

    @property
    def waiting(self) -> int:
        """How many of its rows wait for somebody."""
        return sum(row.waits for row in self.rows)


def as_written(approved: Approved) -> str:
    """Return what a line of the ledger says of its signature, which was not checked."""
    return SignatureState.UNSIGNED if approved.signature == UNSIGNED else SignatureState.UNKNOWN


def year_tables(library: Library, signed: Signed = as_written) -> tuple[YearTable, ...]:
    """Return the tables of the year as of ``library.today``; ``signed`` says what is known of a signature."""
    used = library.in_use
    found = {str(procedure.id): coverage(library, procedure) for procedure in used}
    return (
        YearTable(
            "reviews",
            gettext("Reviews"),
            (gettext("Procedure"), gettext("Edition"), gettext("Review by"), gettext("State")),
            tuple(_reviews(library, used)),
            gettext("There is nothing to review."),
        ),
        YearTable(
            "approvals",
            gettext("Approvals"),
            (gettext("Procedure"), gettext("State"), gettext("Approved by")),
            tuple(_approvals(library, used, signed)),
            gettext("There is nothing to approve."),
        ),
        YearTable(
            "sources",
            gettext("Sources retracted or superseded"),
            (gettext("Source"), gettext("What happened"), gettext("Procedures that cite it"), gettext("When")),
            tuple(_sources(library)),
            gettext("No source that is cited has been retracted, doubted or superseded."),
        ),
        YearTable(
            "notices",
            gettext("Lists of retractions"),
            (gettext("List"), gettext("Dated"), gettext("State")),
            tuple(_notices(library)),
            gettext("There is no list of retractions, so nobody knows whether the sources still stand."),
        ),
        YearTable(
            "drafts",
            gettext("Drafts"),
            (gettext("Procedure"), gettext("What it waits for")),
            tuple(_drafts(library, used, found)),
            gettext("No draft is unfinished."),
        ),
        YearTable(
            "copies",
            gettext("Copies in circulation"),
            (gettext("Code"), gettext("Procedure"), gettext("Edition"), gettext("Issued"), gettext("State")),
            tuple(_copies(library)),
            gettext("No code has been issued yet."),
        ),
        YearTable(
            "coverage",
            gettext("How much there was to check"),
            (gettext("Procedure"), gettext("Steps that say what is done"), gettext("Not checked or excused")),
            tuple(_coverage(used, found)),
            gettext("There is nothing to check."),
        ),
    )


def due_words(due: date, today: date) -> str:
    """Return how long it is until the day ``due``, in words."""
    days = (due - today).days
    if days < 0:
        return gettext("overdue by %(time)s", time=time_words(f"{-days} days"))
    if days <= _SOON_DAYS:
        return gettext("due in %(time)s", time=time_words(f"{days} days")) if days else gettext("due today")
    return gettext("due in %(time)s", time=time_words(f"{months_old(today, due)} months"))


def _page(procedure: Procedure) -> str:
    return f"../{procedure.id}/index.html"


def _reviews(library: Library, used: tuple[Procedure, ...]) -> Iterator[YearRow]:
    for procedure in sorted(used, key=lambda one: (one.review_by or date.min, str(one.title))):
        due = procedure.review_by
        told = (day(due), due_words(due, library.today)) if due else (gettext("not set"), gettext("no day is set"))
        waits = due is None or (due - library.today).days <= _SOON_DAYS
        yield YearRow((str(procedure.title), str(procedure.edition), *told), _page(procedure), waits)


def _approvals(library: Library, used: tuple[Procedure, ...], signed: Signed) -> Iterator[YearRow]:
    needed = max(1, library.department.approvals_needed)
    for procedure in sorted(used, key=lambda one: (one.status is Status.APPROVED, str(one.title))):
        given = standing_approvals(library, procedure)
        last = last_approval(library, procedure)
        if procedure.status is Status.APPROVED:
            state = gettext("approved")
        elif procedure.id in library.lapsed and last:
            state = gettext("a draft again: changed since it was approved on %(day)s", day=day(last.on))
        elif given:
            state = gettext("%(given)s of %(needed)s approvals", given=len(given), needed=needed)
        else:
            state = gettext("%(status)s, not approved", status=status_word(procedure.status))
        by = "; ".join(_by(library, procedure, approval, signed) for approval in given)
        waits = procedure.status is not Status.APPROVED or gettext(SignatureState.WRONG) in by
        yield YearRow((str(procedure.title), state, by or gettext("nobody")), _page(procedure), waits)


def _by(library: Library, procedure: Procedure, approval: Approval, signed: Signed) -> str:
    content = approval.content.strip().casefold()
    lines = library.ledger.approvals_of(str(procedure.id))
    line = next((line for line in reversed(lines) if line.content == content and line.by == approval.by), None)
    state = gettext(signed(line) if line else "not in the ledger")
    return f"{approval.by}, {approval.role}, {day(approval.on)} ({state})"


def _sources(library: Library) -> Iterator[YearRow]:
    by_key = resting(library)
    for key, notices in notices_on(library).items():
        ids = dict.fromkeys(id for claim, _ in by_key.get(key, ()) for id in claim.procedures)
        citing = [library.by_id[id] for id in ids if id in library.by_id]
        for notice in notices:
            if notice.kind not in _FALLEN or not citing:
                continue
            approved = [max(one.on for one in procedure.approval) for procedure in citing if procedure.approval]
            is_new = any(notice.date > on.isoformat()[: len(notice.date)] for on in approved)
            what = capital(gettext(notice.kind.value)) + (
                gettext("; replaced by %(successor)s", successor=notice.successor) if notice.successor else ""
            )
            when = gettext("%(day)s, after an approval", day=notice.date) if is_new else notice.date
            titles = series(str(procedure.title) for procedure in citing)
            yield YearRow((key, what, titles, when), "../sources/index.html", True)


def _notices(library: Library) -> Iterator[YearRow]:
    most = library.department.notices_months
    for notices in notice_lists(library):
        name = notices.at.file.rpartition("/")[2]
        if notices.dated is None:
            yield YearRow((name, gettext("no date"), gettext("nobody knows how old it is")), waits=True)
            continue
        months = months_old(notices.dated, library.today)
        is_old = months >= most
        state = (
            gettext(
                "old: %(age)s; %(most)s allowed", age=time_words(f"{months} months"), most=time_words(f"{most} months")
            )
            if is_old
            else gettext("fresh enough")
        )
        yield YearRow((name, day(notices.dated), state), waits=is_old)


def _drafts(library: Library, used: tuple[Procedure, ...], found: dict[str, ProcedureCoverage]) -> Iterator[YearRow]:
    for procedure in used:
        if procedure.status is Status.DRAFT and procedure.id not in library.lapsed:
            covered = found[str(procedure.id)]
            parts = next((things.number for things in covered.things if things.name == "part of a draft"), 0)
            waits = (
                [ngettext("%(num)s part to be read and confirmed", "%(num)s parts to be read and confirmed", parts)]
                if parts
                else []
            )
            if covered.silent:
                waits.append(
                    ngettext("%(num)s step without actions", "%(num)s steps without actions", len(covered.silent))
                )
            yield YearRow(
                (str(procedure.title), "; ".join(waits) or gettext("to be put into review")),
                _page(procedure),
                waits=True,
            )


def _copies(library: Library) -> Iterator[YearRow]:
    known = [standing for standing in standings(library) if standing.kind != NOT_ISSUED]
    for standing in sorted(known, key=lambda one: (one.line.title, one.line.on, one.line.code)):
        line = standing.line
        cells = (line.code, line.title, line.edition, day(line.on), standing.headline)
        yield YearRow(cells, f"../{page_name(line.code)}", standing.overdue is not None)


def _coverage(used: tuple[Procedure, ...], found: dict[str, ProcedureCoverage]) -> Iterator[YearRow]:
    for procedure in used:
        covered = found[str(procedure.id)]
        said = covered.steps - len(covered.silent) - len(covered.unread) - len(covered.excused)
        empty = data_of(covered)["nothing_to_look_at"]
        told = [gettext("there is no %(things)s", things=series_or(map(gettext, empty)))] if empty else []
        told += [excuses(covered)] if excuses(covered) else []
        cells = (
            str(procedure.title),
            gettext("%(said)s of %(steps)s", said=said, steps=covered.steps),
            "; ".join(told) or gettext("nothing"),
        )
        yield YearRow(cells, _page(procedure), bool(covered.silent))

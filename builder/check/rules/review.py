"""What a department must have settled: review date, approval, numbers to call, whose preference, what to do then."""

import re
from calendar import monthrange
from collections.abc import Iterator
from datetime import date

from builder.check.hit import Hit, finds
from builder.facts.approvals import approvers_of, folded_role, writer_named
from builder.facts.calls import contact, has_number
from builder.facts.walk import pages
from builder.findings.finding import SecondPlace, Severity
from builder.findings.message_words import listed, quoted
from builder.model.fields import Page
from builder.model.library import Library
from builder.model.pages import Basis, Caution, Overdue, Status, Step, is_shared
from builder.place import Where


@finds("review-date-missing")
def without_review(library: Library) -> Iterator[Hit]:
    """Yield each procedure without a review date."""
    for procedure in library.in_use:
        if procedure.review_by is None:
            yield Hit(
                procedure.where.value("title"),
                f"{quoted(procedure.title)} has no review date",
                "Add `review_by:` with a day, for instance `review_by: 2028-05-31`.",
            )


@finds("review-overdue")
def review_overdue(library: Library) -> Iterator[Hit]:
    """Yield each procedure whose review date has passed; the department says whether that blocks publishing."""
    blocks = library.department.review.overdue is Overdue.BLOCK
    for procedure in library.in_use:
        due = procedure.review_by
        if due is not None and due < library.today:
            days = (library.today - due).days
            late = "1 day" if days == 1 else f"{days} days"
            yield Hit(
                procedure.where.value("review_by"),
                f"{quoted(str(due))} has passed: the review is {late} overdue",
                "Review the procedure, then write the next `review_by:` and a new `edition:`.",
                severity=Severity.ERROR if blocks else None,
            )


@finds("review-too-far-away")
def review_too_far(library: Library) -> Iterator[Hit]:
    """Yield each review date that lies further away than the department allows.

    Counted from the approval where there is one, else from the day of the build.
    """
    if library.is_broken("department", "department"):
        return
    months = library.department.review.months
    for procedure in library.in_use:
        due = procedure.review_by
        start = max((approval.on for approval in procedure.approval), default=library.today)
        if due is not None and due > months_after(start, months):
            count = "1 month" if months == 1 else f"{months} months"
            since = "after its approval" if procedure.approval else "from today"
            latest = months_after(start, months)
            yield Hit(
                procedure.where.value("review_by"),
                f"{quoted(str(due))} is more than {count} {since}",
                f"Write a day no later than {latest}, or change `review:` in content/department.md.",
            )


def months_after(day: date, months: int) -> date:
    """Return the day ``months`` calendar months after ``day``; the last of the month where that day does not exist."""
    count = day.year * 12 + day.month - 1 + months
    year, month = min(count // 12, date.max.year), count % 12 + 1
    return date(year, month, min(day.day, monthrange(year, month)[1]))


@finds("approval-missing")
def approved_without_approval(library: Library) -> Iterator[Hit]:
    """Yield each procedure that calls itself approved and does not name as many approvers as the department asks."""
    needed = max(1, library.department.approvals_needed)
    for procedure in library.procedures:
        people = len(approvers_of(procedure.approval))
        if procedure.status is Status.APPROVED and people < needed:
            hint = f"Let somebody approve it with `prescrub approve {procedure.id}`, or write `status: in review`."
            some = f"only {people} of the {needed} people needed {'has' if people == 1 else 'have'} approved it"
            missing = some if people else "the approver is not named"
            yield Hit(procedure.where.value("status"), f"'approved' is the status, but {missing}", hint)


@finds("approver-without-authority")
def approved_by_another_role(library: Library) -> Iterator[Hit]:
    """Yield each approval by a role that the department does not let approve; silent where it names none."""
    allowed = [str(role) for role in library.department.approvers]
    if not allowed or library.is_broken("department", "department"):
        return
    roles = {folded_role(role) for role in allowed}
    for approval in (approval for procedure in library.procedures for approval in procedure.approval):
        if folded_role(approval.role) not in roles:
            yield Hit(
                approval.role.at,
                f"{quoted(approval.role)} is not a role that may approve here",
                f"Have {listed(allowed, 'or')} approve it, or add the role to `approvers:` in content/department.md.",
            )


@finds("approved-by-owner")
def approved_by_owner(library: Library) -> Iterator[Hit]:
    """Yield each approval by somebody who owns or wrote the procedure: nobody approves a text of their own."""
    for procedure in library.procedures:
        for approval in procedure.approval:
            if writer := writer_named(procedure, approval.by):
                person, why, part = writer
                message = f"{quoted(approval.by)} {why} this procedure and cannot approve it"
                also = (SecondPlace(person.name.at, part),)
                yield Hit(approval.by.at, message, "Ask somebody else who may approve to look at it.", also)


@finds("day-in-the-future")
def days_in_the_future(library: Library) -> Iterator[Hit]:
    """Yield each day on which something is said to have been done and that has not come yet."""
    for where, key, day in _days_done(library):
        if day is not None and day > library.today:
            message = f"{quoted(day.isoformat())} is in the future, so this cannot have been done on it"
            yield Hit(where.value(key), message, "Correct the day.")


def _days_done(library: Library) -> Iterator[tuple[Where, str, date | None]]:
    for procedure in library.procedures:
        for act in (*procedure.approval, procedure.withdrawn):
            if act is not None:
                yield act.where, "on", act.on
    for consent in library.consents:
        yield consent.where, "given", consent.given
        yield consent.where, "withdrawn", consent.withdrawn


@finds("call-without-number")
def calls_without_number(library: Library) -> Iterator[Hit]:
    """Yield each role that a step or caution says to call and that has no number in the department's list."""
    department = library.department
    for listed_call in department.call:
        if not has_number(listed_call):
            message = f"{quoted(listed_call.number)} is not a number: nobody can call the {listed_call.role} on it"
            yield Hit(listed_call.where.value("number"), message, "Write the number to dial.")
    if library.is_broken("department", "department"):
        return
    for _, page in pages(library):
        role = page.call if isinstance(page, Step | Caution) else None
        if role is not None and contact(library, role) is None:
            hint = "Add it with its number to `call:` in content/department.md, or name a role that is there."
            yield Hit(role.at, f"{quoted(role)} has no number in content/department.md", hint)
        yield from _called_in_prose(library, page)


_ON_CALL = re.compile(r"\b(?:call|ring|phone|bleep) the (?P<role>[a-z ]{3,40}? on call)\b", re.IGNORECASE)


def _called_in_prose(library: Library, page: Page) -> Iterator[Hit]:
    """Yield each role that prose says to call, in the form of a role, and that is not in the department's list."""
    for match in (
        _ON_CALL.finditer(page.body.source) if library.department.call and "on call" in page.body.source else ()
    ):
        if contact(library, match["role"]) is None:
            hint = "Add it with its number to `call:` in content/department.md, or name a role that is there."
            at = page.body.place(match.start("role"))
            yield Hit(
                at, f"{quoted(match['role'])} has no number in content/department.md", hint, severity=Severity.NOTE
            )


@finds("site-address-missing")
def without_site_address(library: Library) -> Iterator[Hit]:
    """Yield the department that gives no address of its site: a card can then not be asked whether it is current."""
    at = library.department.where.value("name")
    # Where there is no department at all it has no place, and is named already; nor is there a card before a procedure.
    is_there = at.file and library.procedures and not library.is_broken("department", "department")
    if library.department.site is None and is_there:
        yield Hit(
            at,
            f"{quoted(library.department.name)} gives no address for its site, so cards and handouts have no QR code",
            "Add `site:` with the address the site will have, for instance `site: https://surgery.example.org/`.",
        )


@finds("preference-without-name")
def preference_of_nobody(library: Library) -> Iterator[Hit]:
    """Yield each step that is somebody's preference and does not say whose."""
    for procedure in library.procedures:
        for step in procedure.steps.values():
            if step.basis is Basis.PREFERENCE and step.whose is None:
                hint = "Add `whose:` with the role, for instance `whose: consultant surgeon`."
                yield Hit(step.where.value("basis"), "'preference' does not say whose it is", hint)


@finds("caution-without-if-it-happens")
def caution_without_way_out(library: Library) -> Iterator[Hit]:
    """Yield each caution that does not say what to do if it happens."""
    own = [one for procedure in library.procedures for one in procedure.parts.cautions.values() if not is_shared(one)]
    for caution in (*library.shared_cautions.values(), *own):
        if caution.if_it_happens is None:
            hint = "Add `if_it_happens:` with what to do first and whom to call."
            yield Hit(caution.hazard.at, f"{quoted(caution.hazard)} does not say what to do if it happens", hint)

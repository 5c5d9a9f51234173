"""Approval against the content it was given for, editions against what was issued, and the ledger itself."""

from collections.abc import Iterator

from builder.check.hit import Hit, finds
from builder.facts.coverage import coverage, excuses
from builder.findings.finding import SecondPlace, Severity
from builder.findings.message_words import quoted
from builder.load.ledger import Issued
from builder.model.edition import code_of, edition_key, edition_of, is_whole
from builder.model.library import Library
from builder.model.pages import Status


@finds("approval-outdated")
def approval_outdated(library: Library) -> Iterator[Hit]:
    """Yield each procedure that was changed after its approval; it is a draft again until the approver has looked."""
    for procedure in library.procedures:
        if procedure.id not in library.lapsed:
            continue
        content = edition_of(library, procedure).content
        for approval in procedure.approval:
            if approval.content.strip().casefold() == content:
                continue
            message = f"{quoted(approval.content)} is not the code of the present content, so this is a draft again"
            again = f'prescrub approve {procedure.id} --as "{approval.role}"'
            hint = f"Ask {approval.by} to look at what changed and to approve it again: `{again}`."
            if told := excuses(coverage(library, procedure)):
                hint += f" Tell them what is excused: {told}."
            yield Hit(approval.where.value("content"), message, hint)


@finds("edition-not-raised")
def edition_not_raised(library: Library) -> Iterator[Hit]:
    """Yield each procedure whose content is not that of its edition as it was issued.

    Two texts would go under one edition.
    """
    for procedure in library.in_use if is_whole(library) else ():  # else what it says is not there to be compared
        lines = library.ledger.of(str(procedure.id))
        if not lines:
            continue
        now = edition_of(library, procedure)
        label, key = str(procedure.edition), edition_key(procedure.edition)
        later = [one for one in lines if edition_key(one.edition) > key]
        twins = [one for one in lines if one.code != now.code and one.edition.split() == label.split()]
        if later:
            highest = max(later, key=lambda one: edition_key(one.edition))
            message = f"{quoted(label)} is lower than {quoted(highest.edition)}, which was issued on {highest.on}"
        elif twins:
            highest = twins[-1]
            message = f"{quoted(label)} was issued on {highest.on} with other content"
        else:
            continue
        also = (SecondPlace(highest.at, f"the line of code {highest.code}"),)
        hint = f"Write a higher edition, for instance `edition: {quoted(_next(lines))}`."
        yield Hit(procedure.where.value("edition"), message, hint, also)


def _next(lines: tuple[Issued, ...]) -> str:
    """Return an edition above all that were issued."""
    highest = max((edition_key(one.edition) for one in lines), default=())
    return ".".join(str(number) for number in (*highest[:-1], highest[-1] + 1)) if highest else "2"


@finds("ledger-line-unreadable")
def ledger_unreadable(library: Library) -> Iterator[Hit]:
    """Yield each line of the ledger that cannot be used: its code would answer nothing."""
    for fault in library.ledger.faults:
        if not fault.altered:
            hint = "Restore the line from the history of the repository. Never write a line by hand."
            yield Hit(fault.at, fault.message, hint)


@finds("ledger-line-altered")
def ledger_altered(library: Library) -> Iterator[Hit]:
    """Yield each line of the ledger that is not as it was written."""
    hint = "Restore the line from the history of the repository. A new edition gets a line of its own."
    for fault in library.ledger.faults:
        if fault.altered:
            yield Hit(fault.at, fault.message, hint)
    for one in library.ledger.issued:
        if code_of(one.procedure, one.edition, ((part.kind, part.id, part.digest) for part in one.parts)) != one.code:
            yield Hit(one.at, f"{quoted(one.code)} is not the code that belongs to its line", hint)


@finds("issued-procedure-gone")
def issued_procedure_gone(library: Library) -> Iterator[Hit]:
    """Yield each procedure that has issued codes and is no longer there to answer for them."""
    present = {str(one.id) for one in library.procedures}
    seen: set[str] = set()
    for one in library.ledger.issued:
        id = one.procedure
        if id in present or id in seen or library.is_broken("procedure", id, id):
            continue
        seen.add(id)
        hint = f"Keep content/procedures/{id}/ with `status: withdrawn` and `withdrawn: {{on: ..., because: ...}}`."
        yield Hit(one.at, f"{quoted(id)} has issued codes, but its folder is gone, so they cannot say why", hint)


@finds("withdrawn-without-reason")
def withdrawn_without_reason(library: Library) -> Iterator[Hit]:
    """Yield each withdrawn procedure that does not say since when and why; an error where copies are in pockets."""
    for procedure in library.procedures:
        if procedure.status is Status.WITHDRAWN and procedure.withdrawn is None:
            severity = Severity.ERROR if library.ledger.of(str(procedure.id)) else None
            hint = f"Add `withdrawn: {{on: {library.today}, because: ...}}` with the reason in one sentence."
            message = "'withdrawn' does not say when and why"
            yield Hit(procedure.where.value("status"), message, hint, severity=severity)

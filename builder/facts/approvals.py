"""Who may approve a procedure, who has, and why somebody may not."""

from collections.abc import Iterable
from typing import NamedTuple

from builder.facts.staff import PersonName, person_name
from builder.findings.message_words import listed, quoted
from builder.model.edition import approvals_of, edition_of, is_whole
from builder.model.library import Library
from builder.model.pages import Approval, Person, Procedure, Status


class Approver(NamedTuple):
    """Somebody who approves: the name ``by`` which, and the ``role``."""

    by: str
    role: str


def approvers_of(approvals: Iterable[Approval]) -> list[PersonName]:
    """Return who gave ``approvals``, each person once."""
    people: list[PersonName] = []
    for approval in approvals:
        name = person_name(approval.by)
        if not any(name.is_same(other) for other in people):
            people.append(name)
    return people


def folded_role(role: str) -> str:
    """Return ``role`` as roles are compared."""
    return " ".join(role.casefold().split())


def writer_named(procedure: Procedure, name: str) -> tuple[Person, str, str] | None:
    """Return the owner or author of ``procedure`` who is ``name``, with what they did and what they are."""
    writers = [(procedure.owner, "owns", "the owner")]
    writers += [(author, "wrote", "an author") for author in procedure.authors]
    return next((one for one in writers if person_name(name).is_same(person_name(one[0].name))), None)


def standing_approvals(library: Library, procedure: Procedure) -> tuple[Approval, ...]:
    """Return the approvals of ``procedure`` that were given for its content as it stands, those of a person once."""
    known: list[Approval] = []
    for approval in approvals_of(procedure, edition_of(library, procedure).content):
        if len(approvers_of([*known, approval])) > len(known):
            known.append(approval)
    return tuple(known)


def not_ready(library: Library, procedure: Procedure) -> str:
    """Return why nobody can approve ``procedure`` as it stands, and what to do; "" where somebody can."""
    if not is_whole(library):
        return "A file cannot be read, so nobody knows what would be approved. Put right what `prescrub check` names."
    if procedure.status is Status.WITHDRAWN:
        return f"{quoted(procedure.title)} is withdrawn, and cannot be approved."
    if procedure.status is Status.DRAFT and procedure.id not in library.lapsed:
        return f"{quoted(procedure.title)} is a draft. Write `status: in review` once it is ready to be looked at."
    return ""


def may_not_approve(library: Library, procedure: Procedure, approver: Approver) -> str:
    """Return why ``approver`` may not approve ``procedure``, and what to do; "" where they may."""
    roles = {folded_role(role): str(role) for role in library.department.approvers}
    if roles and folded_role(approver.role) not in roles:
        return f"{quoted(approver.role)} is not a role that may approve here. Use {listed([*roles.values()], 'or')}."
    if writer := writer_named(procedure, approver.by):
        return f"{quoted(approver.by)} {writer[1]} this procedure and cannot approve it. Ask somebody else who may."
    for approval in standing_approvals(library, procedure):
        if person_name(approval.by).is_same(person_name(approver.by)):
            return f"{quoted(approver.by)} has approved this content already, on {approval.on}. Nothing is missing."
    return ""

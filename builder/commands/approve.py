"""``prescrub approve``: show what would be approved, ask, and write who approved it."""

from __future__ import annotations

import argparse
import sys
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

from builder.commands.common import (
    ERRORS_FOUND,
    NOTHING_BLOCKS,
    CalledWrongly,
    as_text,
    asks_here,
    empty,
    examined,
    lines_asked,
    procedure_named,
    shown_in,
)
from builder.commands.formats.terminal import one_line
from builder.findings.finding import Finding, Severity
from builder.findings.message_words import counted

if TYPE_CHECKING:
    from builder.compose.changes.approval_view import ApprovalView
    from builder.facts.approvals import Approver
    from builder.model.library import Library
    from builder.model.pages import Procedure


def run(arguments: argparse.Namespace) -> int:
    """Show what is approved, ask, and write it; nothing is written where an error is open."""
    from builder.check.blocking import at_approval  # noqa: PLC0415  # takes longer than to be told of a wrong call
    from builder.facts.approvals import not_ready  # noqa: PLC0415
    from builder.write.approving import still_missing  # noqa: PLC0415

    library, findings = examined(arguments.folder)
    procedure = procedure_named(library, arguments.procedure)
    if why := not_ready(library, procedure):
        raise CalledWrongly(why)
    own = at_approval(library, procedure, findings)
    sys.stdout.write(_shown(library, procedure, own))
    if errors := [made for made in own if made.severity is Severity.ERROR]:
        sys.stderr.write(f"{counted(len(errors), 'error')} must be put right before this can be approved.\n")
        return ERRORS_FOUND
    if not still_missing(library, procedure):
        sys.stdout.write("It is approved as it stands. Nothing is missing.\n")
        return NOTHING_BLOCKS
    approver = _approver(library, procedure, arguments)
    if not (arguments.yes or _says_yes(approver)):
        sys.stdout.write("Nothing was approved.\n")
        return NOTHING_BLOCKS
    sys.stdout.write(_written(library, procedure, approver, arguments.key_file))
    return NOTHING_BLOCKS


def _approver(library: Library, procedure: Procedure, arguments: argparse.Namespace) -> Approver:
    from builder.facts.approvals import Approver, folded_role, may_not_approve  # noqa: PLC0415

    def refused(line: str) -> str:
        return empty(line) or may_not_approve(library, procedure, Approver(line, arguments.role))

    if arguments.name:
        name = " ".join(arguments.name.split())
        if why := refused(name):
            raise CalledWrongly(why)
    else:
        lines, _ = lines_asked("Who are you? Your name stands on the approval.", False, "Add --name NAME", refused)
        if not lines:
            raise CalledWrongly("Nobody was named, so nothing was approved.")
        name = lines[0]
    named = (str(role) for role in library.department.approvers if folded_role(role) == folded_role(arguments.role))
    return Approver(name, next(named, " ".join(arguments.role.split())))


def _says_yes(approver: Approver) -> bool:
    if not asks_here():
        raise CalledWrongly("There is no terminal to ask you on. Read what is shown, then add --yes.")
    question = f"Do you, {approver.by}, approve this as {approver.role}? [y/N] "
    return input(question).strip().lower() in ("y", "yes")


def _shown(library: Library, procedure: Procedure, own: list[Finding]) -> str:
    from builder.compose.changes.approval_view import approval_view  # noqa: PLC0415
    from builder.write.approving import as_approved_last  # noqa: PLC0415

    with as_approved_last(library, procedure) as before:
        view = approval_view(library, procedure, shown_in(library, own), before)
    return "".join(f"{line}\n" for line in _lines(view, library.root))


def _lines(view: ApprovalView, root: Path) -> Iterator[str]:
    yield f"{one_line(view.title)}, edition {one_line(view.edition)}"
    for heading, lines in ((view.since, view.changes), ("What was checked", view.checked)):
        yield ""
        yield heading
        yield from (f"  {line}" for line in lines)
    if view.given:
        yield ""
        yield "Approved already by"
        yield from (f"  {one_line(given)}" for given in view.given)
    yield ""
    yield f"Still open: {counted(len(view.open), 'finding')}" if view.open else "Still open: nothing."
    if view.open:
        yield as_text(list(view.open), root, sys.stdout).rstrip()
    if any(made.severity is Severity.ERROR for made in view.open):
        return
    yield ""
    yield f"You approve the content with the code {view.content}, pictures included. A passed check is not approval."
    yield ""


def _written(library: Library, procedure: Procedure, approver: Approver, key: str | None) -> str:
    """Write the approval, of the text that was shown and no other, and return what to say of it."""
    from builder.load.folder import load  # noqa: PLC0415
    from builder.load.signature import CannotSign, signature_of  # noqa: PLC0415
    from builder.model.build import build  # noqa: PLC0415
    from builder.model.edition import edition_of  # noqa: PLC0415
    from builder.write.approving import approval_line, head_file, write_approval  # noqa: PLC0415

    now = build(load(library.root))[0]
    again = now.by_id.get(str(procedure.id))
    if again is None or edition_of(now, again) != edition_of(library, procedure):
        raise CalledWrongly("The procedure was changed while you looked at it. Nothing was approved: look again.")
    line = approval_line(library, procedure, approver)
    if key:
        try:
            line = replace(line, signature=signature_of(line, Path(key)))
        except CannotSign as error:
            raise CalledWrongly(str(error)) from None
    missing = write_approval(now, again, line)
    signed = "signed" if key else "unsigned"
    more = f"{counted(missing, 'more approval')} needed before it counts." if missing else "It is approved."
    return f"{head_file(now, again)}: approved by {approver.by}, {approver.role} ({signed}). {more}\n"

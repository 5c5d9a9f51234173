"""Writing an approval: into the procedure, and as a line of the ledger, both or neither."""

import re
from collections.abc import Iterator
from contextlib import ExitStack, contextmanager, suppress

from builder.compose.changes.approval_view import last_approval
from builder.compose.site.status import line_now
from builder.edit.file_change import FileChange, Put, Value
from builder.edit.operations import edited, new_text
from builder.facts.approvals import Approver, standing_approvals
from builder.load.files import open_file
from builder.load.folder import kind_of, load
from builder.load.ledger import APPROVED_NAME, Approved
from builder.load.past import NotFoundInPast, past_with
from builder.model.build import build
from builder.model.edition import edition_of
from builder.model.library import Library
from builder.model.pages import Procedure, Status
from builder.write.ledger_lines import LEDGER_FILES, with_lines_added
from builder.write.writer import CONTENT, write_files

_FILES = re.compile(f"{CONTENT.pattern}|{LEDGER_FILES.pattern}")


@contextmanager
def as_approved_last(library: Library, procedure: Procedure) -> Iterator[Library | None]:
    """Provide the department as ``procedure`` was approved last; None where git does not have it."""
    last = last_approval(library, procedure)
    if last is None:
        yield None
        return
    content, id = str(last.content).strip().casefold(), str(procedure.id)
    with ExitStack() as opened:
        before = None
        with suppress(NotFoundInPast):
            file = head_file(library, procedure)
            folder = opened.enter_context(past_with(library.root, str(last.content), file, id))
            before = build(load(folder))[0]
        then = before.by_id.get(id) if before else None
        yield before if before and then and edition_of(before, then).content == content else None


def head_file(library: Library, procedure: Procedure) -> str:
    """Return the file that holds edition, owner and approval of ``procedure``: of one of the parent's, the page of what
    was changed in it."""
    return f"content/local/{procedure.id}.md" if procedure.file in library.lent else str(procedure.file)


def approval_line(library: Library, procedure: Procedure, approver: Approver) -> Approved:
    """Return the line of the ledger by which ``approver`` approves ``procedure`` today, not signed yet."""
    now = line_now(library, procedure)
    return Approved(
        now.procedure, now.title, now.edition, approver.by, approver.role, library.today, now.content, now.parts
    )


def still_missing(library: Library, procedure: Procedure) -> int:
    """Return how many people have yet to approve ``procedure`` as it stands."""
    return max(0, max(1, library.department.approvals_needed) - len(standing_approvals(library, procedure)))


def write_approval(library: Library, procedure: Procedure, line: Approved) -> int:
    """Write the approval that ``line`` tells; return how many more the department asks for.

    ``library`` is the department as it stands. What was approved of another content goes. Raises CannotEdit, Refused
    and NotWritten; then nothing was written.
    """
    missing = still_missing(library, procedure) - 1
    told = [(str(one.by), str(one.role), one.on, str(one.content)) for one in standing_approvals(library, procedure)]
    told.append((line.by, line.role, line.on, line.content))
    rows: list[Value] = [dict(zip(("by", "role", "on", "content"), map(str, row), strict=True)) for row in told]
    status = Status.IN_REVIEW if missing > 0 else Status.APPROVED
    file = head_file(library, procedure)
    head: dict[str, Value] = {"status": status.value, "approval": rows[0] if len(rows) == 1 else list(rows)}
    if (library.root / file).exists():
        opened = open_file(library.root, file)
        change = FileChange(
            edited(opened.text, kind_of(file)[0], [Put((key,), head[key]) for key in head]), opened.digest
        )
    else:
        change = FileChange(new_text("local", head), None)
    changes = {file: change, **with_lines_added(library.root, APPROVED_NAME, [line])}
    write_files(library.root, changes, names=_FILES)
    return max(0, missing)

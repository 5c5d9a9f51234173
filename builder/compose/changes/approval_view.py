"""What somebody is shown before they approve: what changed since the last approval, what was checked, what is open."""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from builder.compose.changes.change_notice import lines_of, notices_between
from builder.compose.site.status import changes_of, line_now
from builder.compose.view.outline import outline, step_blocks
from builder.compose.view.words import day
from builder.facts.approvals import standing_approvals
from builder.facts.coverage import coverage, data_of
from builder.findings.finding import Finding, Severity
from builder.findings.message_words import counted, listed
from builder.load.ledger import Approved
from builder.model.edition import edition_of
from builder.model.library import Library
from builder.model.pages import Approval, Procedure


@dataclass(frozen=True, slots=True)
class ApprovalView:
    """What is approved: the code ``content`` stands for all of it. ``since`` says what ``changes`` are counted from,
    ``given`` which approvals stand already, ``checked`` what there was to look at, ``open`` what was found."""

    title: str
    edition: str
    content: str
    since: str
    changes: tuple[str, ...]
    given: tuple[str, ...]
    checked: tuple[str, ...]
    open: tuple[Finding, ...]


def last_approval(library: Library, procedure: Procedure) -> Approved | Approval | None:
    """Return the approval of ``procedure`` that was given last: as the ledger has it, else as its own file says."""
    written = library.ledger.approvals_of(str(procedure.id))
    return written[-1] if written else max(procedure.approval, key=lambda approval: approval.on, default=None)


def approval_view(
    library: Library, procedure: Procedure, findings: Iterable[Finding], before: Library | None
) -> ApprovalView:
    """Return what is shown of ``procedure``; ``before`` is the department as approved last, where it is known."""
    edition = edition_of(library, procedure)
    last = last_approval(library, procedure)
    since = f"What changed since {last.by} approved it on {day(last.on)}" if last else "What is new"
    return ApprovalView(
        title=str(procedure.title),
        edition=str(procedure.edition),
        content=edition.content,
        since=since,
        changes=tuple(_changes(library, procedure, last, before)),
        given=tuple(f"{one.by}, {one.role}, on {day(one.on)}" for one in standing_approvals(library, procedure)),
        checked=tuple(_checked(library, procedure)),
        open=tuple(sorted(findings, key=lambda made: list(Severity).index(made.severity))),
    )


def _changes(
    library: Library, procedure: Procedure, last: Approved | Approval | None, before: Library | None
) -> Iterator[str]:
    if last is None:
        steps = len({str(block.step.id) for block in step_blocks(outline(procedure))})
        parts = [counted(steps, "step"), counted(len(procedure.cautions), "caution")]
        if procedure.aftercare_items:
            parts.append(counted(len(procedure.aftercare_items), "aftercare item"))
        yield f"Nothing was approved before, so all of it is new: {listed(parts)}."
    elif last.content.strip().casefold() == edition_of(library, procedure).content:
        yield "Nothing that a reader sees has changed."
    elif before is not None:
        for notice in notices_between(before, library, str(procedure.id)):
            yield from lines_of(notice)
    elif isinstance(last, Approved):
        yield "git does not have the text that was approved, so only the parts that changed can be named:"
        now = line_now(library, procedure).parts
        yield from (f"  {change.name} ({change.what})" for change in changes_of(last.parts, now))
    else:
        yield "Neither git nor the ledger has the text that was approved: read all of it."


def _checked(library: Library, procedure: Procedure) -> Iterator[str]:
    found = data_of(coverage(library, procedure))
    by_name = {name: told for things in found["looked_at"].values() for name, told in things.items()}
    yield from (str(told["words"]) for told in by_name.values() if told["number"])
    if found["nothing_to_look_at"]:
        yield f"not checked, because there is no {listed(found['nothing_to_look_at'], 'or')}"
    yield from found["told"]

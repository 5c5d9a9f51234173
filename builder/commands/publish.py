"""``prescrub publish``: site, handouts and pocket cards, or nothing."""

from __future__ import annotations

import argparse
import sys
from collections import Counter
from collections.abc import Callable, Collection
from pathlib import Path
from typing import TYPE_CHECKING, Any

from builder.check.blocking import with_blocking
from builder.commands.common import (
    CALLED_WRONGLY,
    ERRORS_FOUND,
    NOTHING_BLOCKS,
    TOOL_FAILED,
    CalledWrongly,
    as_text,
    examined,
    shown_in,
)
from builder.commands.formats import terminal
from builder.commands.progress import Bar
from builder.findings.finding import Finding, Refused, Severity
from builder.findings.message_words import quoted
from builder.load.ledger import NAME as LEDGER
from builder.load.templates import load_templates
from builder.model.pages import Engine
from builder.publish.publish_error import PublishError, WrongTarget

if TYPE_CHECKING:
    from builder.model.library import Library
    from builder.publish.build_report import Report


def run(arguments: argparse.Namespace) -> int:
    """Check, then publish. Errors stop it, and what stood in DIR stays as it was."""
    # Imported here because typesetter and site engine take most of a second to start, and a check needs neither.
    from builder.outputs import OUTPUTS  # noqa: PLC0415
    from builder.publish.publishing import Means  # noqa: PLC0415
    from builder.publish.site.withdrawing import at_once  # noqa: PLC0415

    only = arguments.only or OUTPUTS.usual
    refuse_unknown(only)
    means = Means(arguments.cluster or "", jobs=_number_of_processes(arguments.jobs))
    only = (*only, *OUTPUTS.sessions([int(minutes) for minutes in arguments.session or ()]))
    with Bar() as bar:
        bar.show(0, 0, "reading and checking")
        library, findings = examined(arguments.folder)
    findings = list(with_blocking(library, findings, issue=arguments.issue))
    errors = [finding for finding in findings if finding.severity is Severity.ERROR]
    try:
        if errors:
            done = at_once(library, errors, Path(arguments.to), engine_of(library))
            return _refused(shown_in(library, errors), arguments.to, library.root, done)
        with Bar() as bar:
            templates = load_templates(library.root)
            publish = engine_of(library)
            report = publish(
                library, Path(arguments.to), templates, bar.show,
                only=only, issue=arguments.issue, means=means,
            )  # fmt: skip
    except Refused as refusal:
        # Whole: its further places name what is too long.
        sys.stderr.write(f"{terminal.render([refusal.finding])}Nothing was published: {arguments.to} is as it was.\n")
        return ERRORS_FOUND
    except PublishError as error:
        sys.stderr.write(f"{error}\nNothing was published: {arguments.to} is as it was.\n")
        if isinstance(error, WrongTarget):
            return CALLED_WRONGLY
        return ERRORS_FOUND if error.is_content else TOOL_FAILED
    sys.stdout.write(_said(report, Path(arguments.to), findings))
    if arguments.issue:
        sys.stdout.write(_issued(library, report))
    return NOTHING_BLOCKS


def _number_of_processes(jobs: str | None) -> int:
    """Return how many were asked for, 0 where nobody asked."""
    if jobs is None:
        return 0
    if not (jobs.isdecimal() and int(jobs)):
        raise CalledWrongly(f"{jobs} is not a number of processes. Write a whole number from 1, or leave --jobs out.")
    return int(jobs)


def refuse_unknown(only: Collection[str]) -> None:
    """Raise CalledWrongly where ``only`` names what is no output."""
    from builder.outputs import OUTPUTS  # noqa: PLC0415  # as above

    if unknown := sorted(set(only) - set(OUTPUTS.usual)):
        raise CalledWrongly(f"There is no output {quoted(unknown[0])}. Use one of: {', '.join(OUTPUTS.usual)}.")


def engine_of(library: Library) -> Callable[..., Report]:
    """Return what publishes the department: the site is its own, or that of mkdocs."""
    if library.department.engine is Engine.MKDOCS:
        from builder.commands.mkdocs_engine import publish  # noqa: PLC0415
    else:
        from builder.pipeline import publish  # noqa: PLC0415
    return publish


def _refused(errors: list[Finding], to: str, root: Path, done: str = "") -> int:
    nothing = f"Nothing was published: {to} is as it was.\n"
    sys.stderr.write(f"{as_text(errors, root, sys.stderr)}{done or nothing}")
    return ERRORS_FOUND


def _said(report: Report, to: Path, findings: list[Any]) -> str:
    counts = Counter(artefact.kind for artefact in report.artefacts)
    made = "\n".join(f"  {count:>4}  {kind}" for kind, count in sorted(counts.items()))
    many = f"{len(findings)} findings do" if len(findings) > 1 else "1 finding does"
    noted = f"\n{many} not block; see prescrub check." if findings else ""
    pages = f"Open {to / 'index.html'} in a browser; " if (to / "index.html").exists() else ""
    ways = f"{pages}{to / 'build-report.json'} lists every file."
    return f"Published to {to}:\n{made}\n{ways}{noted}\n"


def _issued(library: Library, report: Report) -> str:
    """Say which codes are new in the ledger, and what was not issued."""
    known = {line.code for line in library.ledger.issued}
    told = [(made.procedure, made.explained) for made in report.artefacts if made.kind == "status" and made.explained]
    new = [
        f"  {explained['code']}  {name}"
        for name, explained in told
        if explained["issued"] and explained["code"] not in known
    ]
    waiting = [name for name, explained in told if explained["state"] == "not issued"]
    lines = [f"Issued, and written to {LEDGER}; commit that file:", *new] if new else ["No new code was issued."]
    if waiting:
        lines.append(f"Not issued, because not approved: {', '.join(waiting)}.")
    return "\n".join(lines) + "\n"

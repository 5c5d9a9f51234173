"""Runs the table of checks over a Library, applies what the department accepts, and gives the exit code."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from builder.check.accept import accepted
from builder.check.table import CHECKS
from builder.finding import Finding, Severity
from builder.load.folder import Loaded
from builder.model.build import build
from builder.model.library import Library


def examine(loaded: Loaded) -> tuple[Library, list[Finding]]:
    """Build the Library of what was loaded and return it with all findings, in order of place."""
    library, misfits = build(loaded)
    found = accepted(library, [*loaded.findings, *misfits, *_checked(library)])
    return library, sorted(found, key=Finding.sort_key)


def _checked(library: Library) -> Iterator[Finding]:
    for check in CHECKS:
        yield from check.run(library)


def exit_code(findings: Iterable[Finding]) -> int:
    """Return 1 where a finding blocks publishing, else 0."""
    return int(any(finding.severity is Severity.ERROR for finding in findings))

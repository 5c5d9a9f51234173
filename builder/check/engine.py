"""Runs the table of checks over a Library, and applies what the department accepts."""

from collections.abc import Iterator

from builder.check.accept import accepted
from builder.check.blocking import with_blocking
from builder.check.table import CHECKS
from builder.check.waiting import without_waiting
from builder.findings.finding import Finding, exit_code
from builder.load.folder import Loaded, collector_paused
from builder.model.build import build
from builder.model.library import Library

__all__ = ["examine", "exit_code"]


def examine(loaded: Loaded) -> tuple[Library, list[Finding]]:
    """Build the Library of what was loaded and return it with all findings, in order of place."""
    library, misfits = build(loaded)
    with collector_paused(set_aside=False):
        checked = list(_checked(library))
    found = accepted(library, [*loaded.findings, *misfits, *checked])
    return library, sorted(without_waiting(library, with_blocking(library, found)), key=Finding.sort_key)


def _checked(library: Library) -> Iterator[Finding]:
    for check in CHECKS:
        yield from check.run(library)

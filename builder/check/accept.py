"""Findings that a department accepts, with its reason, in the file where they stand."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from builder.finding import Finding, Severity
from builder.model.fields import Acceptance, Page
from builder.model.library import Library
from builder.model.pages import Procedure

UNUSED = ("AC01", "acceptance-unused", Severity.WARNING)


def accepted(library: Library, findings: Iterable[Finding]) -> Iterator[Finding]:
    """Yield the findings that are not accepted, and one for each acceptance that nothing needs.

    A file that could not be read accepts nothing: its acceptances are unknown.
    """
    waiting = {(page.file, str(acceptance.check)): acceptance for page in pages(library) for acceptance in page.accept}
    used: set[tuple[str, str]] = set()
    for finding in findings:
        keys = {(finding.at.file, finding.id), (finding.at.file, finding.name)} & waiting.keys()
        if keys:
            used |= keys
        else:
            yield finding
    for key, acceptance in waiting.items():
        if key not in used:
            yield _unused(acceptance)


def pages(library: Library) -> Iterator[Page]:
    """Yield every page of the Library once, shared ones too."""
    yield library.department
    seen: set[str] = set()
    shared = (*library.shared_cautions.values(), *library.shared_aftercare.values())
    for page in (*shared, *(page for one in library.procedures for page in (one, *_parts(one)))):
        if page.file not in seen:
            seen.add(page.file)
            yield page


def _parts(procedure: Procedure) -> Iterator[Page]:
    parts = procedure.parts
    yield from (*parts.steps.values(), *parts.cautions.values(), *parts.aftercare.values())


def _unused(acceptance: Acceptance) -> Finding:
    id, name, severity = UNUSED
    message = f"{str(acceptance.check)!r} is accepted here, but nothing of that kind is found in this file"
    return Finding(id, name, severity, acceptance.check.at, message, "Remove the acceptance.")

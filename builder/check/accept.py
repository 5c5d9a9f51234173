"""Findings that a department accepts, with its reason, in the file where they stand.

A catalogue, a .bib file or a figure has no front matter. What is found there is accepted in the file that answers for
it: a figure in its procedure.md, a catalogue or a list of sources in content/department.md.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator

from builder.check.table import CHECKS
from builder.facts.walk import mend, pages, quoted
from builder.findings.finding import Finding, Severity
from builder.load.problems import LOAD_FINDINGS
from builder.model.fields import Acceptance
from builder.model.library import Library
from builder.model.validation import MODEL_FINDINGS

UNUSED = ("AC01", "acceptance-unused", Severity.WARNING)

_DEPARTMENT = "content/department.md"
_FIGURE = re.compile(r"(?P<folder>content/procedures/[^/]+/)figures/[^/]+")


def accepted(library: Library, findings: Iterable[Finding]) -> Iterator[Finding]:
    """Yield the findings that are not accepted, and one for each acceptance that nothing needs.

    A file that could not be read accepts nothing: its acceptances are unknown.
    """
    waiting: dict[tuple[str, str], list[Acceptance]] = {}
    for _, page in pages(library):
        for acceptance in page.accept:
            waiting.setdefault((page.file, str(acceptance.check)), []).append(acceptance)
    used: set[tuple[str, str]] = set()
    for finding in findings:
        keys = _keys(finding) & waiting.keys() if waiting else set()
        used |= keys
        if not keys:
            yield finding
    for key, acceptances in waiting.items():
        # The first of two equal acceptances does the work; the second does none.
        for acceptance in acceptances[key in used :]:
            yield _unused(acceptance)


def _keys(finding: Finding) -> set[tuple[str, str]]:
    file = answering_file(finding.at.file)
    return {(file, finding.id), (file, finding.name)}


def answering_file(file: str) -> str:
    """Return the file in whose front matter a finding in ``file`` is accepted."""
    figure = _FIGURE.fullmatch(file)
    if figure:
        return f"{figure['folder']}procedure.md"
    return file if file.endswith(".md") else _DEPARTMENT


def _unused(acceptance: Acceptance) -> Finding:
    id, name, severity = UNUSED
    known = known_checks()
    written = acceptance.check
    if written in known:
        message = f"{quoted(written)} is accepted here, but nothing of that kind is found in this file"
        return Finding(id, name, severity, written.at, message, "Remove the acceptance.")
    hint = mend(written, known, "Write the id or the name of a check as a finding shows it, such as WD01.")
    return Finding(id, name, severity, written.at, f"{quoted(written)} is no check", hint)


def known_checks() -> frozenset[str]:
    """Return the ids and names of all checks."""
    rows = [(check.id, check.name) for check in CHECKS]
    rows += [(id, name) for id, (name, _) in (LOAD_FINDINGS | MODEL_FINDINGS).items()]
    return frozenset(word for row in rows for word in row)

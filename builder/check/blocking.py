"""What a finding blocks, now that it is known how far the procedure has come on its way from draft to issue.

The register says for each finding at which stage it begins to block; from there on it is an error. Whether a publish
goes ahead is then one question, asked of severities alone.
"""

import re
from collections.abc import Iterable, Iterator
from dataclasses import replace

from builder.findings.finding import Finding, Severity
from builder.findings.register import REGISTER, Blocks
from builder.model.library import Library
from builder.model.pages import Procedure, Status

_WAY = tuple(Blocks)
_REACHED = {Status.IN_REVIEW: Blocks.REVIEW, Status.APPROVED: Blocks.APPROVAL}
"""What a procedure asks for; a draft asks for nothing more, and one that is withdrawn asks for nothing at all."""

_SETTLED_BY_APPROVAL = ("approval-missing", "approval-outdated")

_OWN = re.compile(r"content/(?:procedures/([^/]+)/|local/(?!department\.md)([^/]+)\.md)")


def with_blocking(library: Library, findings: Iterable[Finding], *, issue: bool = False) -> Iterator[Finding]:
    """Yield ``findings``, as errors where they block what a procedure asks for: with ``issue``, a code too.

    A rule that gives a hit a severity of its own has decided this for itself.
    """
    shared = _shown_by(library)
    for made in findings:
        kind = REGISTER[made.name]
        if made.severity is not kind.severity or kind.blocks in (Blocks.DRAFT, Blocks.NOTHING):
            yield made
            continue
        asked = max((_asked(procedure, issue) for procedure in _concerned(library, made.at.file, shared)), default=0)
        yield replace(made, severity=Severity.ERROR) if asked >= _WAY.index(kind.blocks) else made


def at_approval(library: Library, procedure: Procedure, findings: Iterable[Finding]) -> list[Finding]:
    """Return those of ``findings`` that concern ``procedure``, as errors where they block its approval.

    What an approval that is given now would put right is left out.
    """
    shared = _shown_by(library)
    own = [
        made
        for made in findings
        if made.name not in _SETTLED_BY_APPROVAL and procedure in _concerned(library, made.at.file, shared)
    ]
    approved = procedure.model_copy(update={"status": Status.APPROVED})
    procedures = tuple(approved if one is procedure else one for one in library.procedures)
    return list(with_blocking(replace(library, procedures=procedures), own))


def _shown_by(library: Library) -> dict[str, list[Procedure]]:
    """Return the procedures that show each caution and aftercare item, by its file."""
    shared: dict[str, list[Procedure]] = {}
    for procedure in library.procedures:
        for page in (*procedure.cautions.values(), *procedure.aftercare_items.values()):
            shared.setdefault(page.file, []).append(procedure)
    return shared


def _concerned(library: Library, file: str, shared: dict[str, list[Procedure]]) -> Iterable[Procedure]:
    """Return the procedures that show what stands in ``file``; what is not a page of theirs concerns all.

    A source blocks where it is cited, not where it is listed.
    """
    if file.endswith(".bib"):
        return ()
    own = _OWN.match(file)
    if own:
        procedure = library.by_id.get(own[1] or own[2])
        return (procedure,) if procedure else ()
    return shared.get(file, ()) if file.startswith("content/shared/") else library.procedures


def _asked(procedure: Procedure, issue: bool) -> int:
    if issue and procedure.status is Status.APPROVED:
        return _WAY.index(Blocks.ISSUE)
    return _WAY.index(_REACHED.get(procedure.status, Blocks.DRAFT))

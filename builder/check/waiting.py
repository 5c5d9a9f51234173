"""What waits: of what was spoken, matters of style are told once all else in the procedure is settled.

A talk becomes whole sentences, and many of them are long. Whoever has just talked must first be shown what they left
out; hundreds of notes about the length of a sentence would hide it.
"""

from collections.abc import Iterable, Iterator

from builder.findings.finding import Finding, Severity
from builder.findings.register import ABBREVIATIONS_AND_POINTERS, INSTRUCTIONS, REGISTER
from builder.model.fields import Heard
from builder.model.library import Library
from builder.model.pages import Procedure, Status

_STYLE = (INSTRUCTIONS.name, ABBREVIATIONS_AND_POINTERS.name)


def without_waiting(library: Library, findings: Iterable[Finding]) -> Iterator[Finding]:
    """Yield ``findings`` without the style of what was spoken, where its draft has anything graver to be settled."""
    made = list(findings)
    unsettled = {"/".join(one.at.file.split("/")[:3]) for one in made if not _is_style(one)}
    waiting: set[str] = set()
    for procedure in library.procedures:
        heard = {page.file for page in _spoken(procedure) if page.heard_at}
        if procedure.status is Status.DRAFT and f"content/procedures/{procedure.id}" in unsettled:
            waiting |= heard
    return (one for one in made if not (_is_style(one) and one.at.file in waiting))


def _is_style(made: Finding) -> bool:
    return made.severity is Severity.NOTE and REGISTER[made.name].family.name in _STYLE


def _spoken(procedure: Procedure) -> Iterator[Heard]:
    yield from procedure.steps.values()
    yield from procedure.parts.cautions.values()
    yield from procedure.parts.aftercare.values()

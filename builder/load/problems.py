"""The findings this stage can make, in one table: id, name, severity."""

from __future__ import annotations

from builder.findings.finding import Finding, Refused, Severity
from builder.place import Place

LOAD_FINDINGS: dict[str, tuple[str, Severity]] = {
    "LD01": ("file-unreadable", Severity.ERROR),
    "LD02": ("file-not-utf8", Severity.ERROR),
    "LD03": ("file-too-large", Severity.ERROR),
    "LD04": ("link-not-followed", Severity.ERROR),
    "LD05": ("file-not-expected", Severity.WARNING),
    "LD06": ("file-name-not-an-id", Severity.ERROR),
    "LD07": ("front-matter-missing", Severity.ERROR),
    "LD08": ("front-matter-not-closed", Severity.ERROR),
    "LD09": ("front-matter-unreadable", Severity.ERROR),
    "LD10": ("key-written-twice", Severity.ERROR),
    "LD11": ("front-matter-too-large", Severity.ERROR),
    "LD12": ("sources-unreadable", Severity.ERROR),
    "LD13": ("source-key-written-twice", Severity.ERROR),
    "LD14": ("folder-incomplete", Severity.ERROR),
    "LD15": ("text-not-read", Severity.ERROR),
}


def finding(check: str, at: Place, message: str, hint: str) -> Finding:
    """Make the finding ``check`` of this stage at ``at``."""
    name, severity = LOAD_FINDINGS[check]
    return Finding(check, name, severity, at, message, hint)


def refuse(check: str, at: Place, message: str, hint: str) -> Refused:
    """Make the exception that carries the finding ``check``."""
    return Refused(finding(check, at, message, hint))

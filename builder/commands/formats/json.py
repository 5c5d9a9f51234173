"""Findings as JSON, for other programs. The keys are an interface and never change their meaning."""

import json
from collections.abc import Mapping, Sequence
from typing import Any

from builder.commands.formats.terminal import plain
from builder.findings.finding import Finding
from builder.findings.register import REGISTER
from builder.place import Place


def render(findings: Sequence[Finding], coverage: Mapping[str, Any] | None = None) -> str:
    """Return ``{"findings": [...], "coverage": {...}}``; lines and columns are counted from 1."""
    told = {"findings": [_entry(finding) for finding in findings], "coverage": dict(coverage or {})}
    return json.dumps(told, ensure_ascii=False, indent=2) + "\n"


def _entry(finding: Finding) -> dict[str, Any]:
    return {
        **_placed(finding.at),
        "severity": finding.severity.value,
        "name": finding.name,
        "message": plain(finding.message),
        "hint": plain(finding.hint),
        "also": [{**_placed(second.at), "message": plain(second.message)} for second in finding.also],
        "path": [plain(step) for step in finding.path],
        "blocks": REGISTER[finding.name].blocks.value,
    }


def _placed(at: Place) -> dict[str, Any]:
    return {"file": plain(at.file), "line": at.line, "column": at.column}

"""Findings as SARIF 2.1.0 (OASIS, Static Analysis Results Interchange Format), which editors and review tools read."""

import json
import re
from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from hashlib import sha256
from posixpath import normpath
from typing import Any
from urllib.parse import quote

from builder import __version__
from builder.commands.formats.terminal import plain
from builder.findings.finding import Finding, Severity
from builder.load.manual import finding_pages
from builder.place import Place

SCHEMA = "https://docs.oasis-open.org/sarif/sarif/v2.1.0/errata01/os/schemas/sarif-schema-2.1.0.json"
ROOT = "%SRCROOT%"
"""The name under which forges know the top of a repository (SARIF 2.1.0, 3.4.4 uriBaseId and 3.14.14)."""
IDENTITY = "prescrubFinding/v1"
"""The name of our fingerprint: the same finding in the next run, whichever line it has moved to (3.27.17)."""

_LEVELS = {Severity.ERROR: "error", Severity.WARNING: "warning", Severity.NOTE: "note"}
_TITLE = re.compile(r"^# (.+)$", re.MULTILINE)


def render(findings: Sequence[Finding], under: str = "") -> str:
    """Return one SARIF log with one run. The rules are those that were broken, each with its page as help.

    ``under`` is where the department lies in its repository, "" at its top: a forge looks for files from there.
    """
    pages = finding_pages()
    names = sorted({finding.name for finding in findings})
    driver = {"name": "prescrub", "version": __version__, "rules": [_rule(name, pages) for name in names]}
    run = {
        "tool": {"driver": driver},
        "columnKind": "unicodeCodePoints",
        "originalUriBaseIds": {
            ROOT: {"description": {"text": "The top of the repository; without one, the department's folder."}}
        },
        "results": [*_results(findings, names, under)],
    }
    return json.dumps({"$schema": SCHEMA, "version": "2.1.0", "runs": [run]}, ensure_ascii=False, indent=2) + "\n"


def _rule(name: str, pages: Mapping[str, str]) -> dict[str, Any]:
    page = pages[name]
    title = _TITLE.search(page)
    return {
        "id": name,
        "shortDescription": {"text": title[1] if title else name},
        "help": {"text": page, "markdown": page},
    }


def _results(findings: Sequence[Finding], names: Sequence[str], under: str) -> Iterator[dict[str, Any]]:
    told: Counter[tuple[str, str, str]] = Counter()
    for finding in findings:
        known = finding.name, finding.at.file, finding.message
        told[known] += 1
        digest = sha256("\0".join((*known, str(told[known]))).encode("utf-8", "surrogatepass")).hexdigest()
        yield {**_result(finding, names.index(finding.name), under), "partialFingerprints": {IDENTITY: digest[:32]}}


def _result(finding: Finding, rule: int, under: str) -> dict[str, Any]:
    hint = f"\n{finding.hint}" if finding.hint else ""
    result: dict[str, Any] = {
        "ruleId": finding.name,
        "ruleIndex": rule,
        "level": _LEVELS[finding.severity],
        "message": {"text": plain(finding.message + hint)},
    }
    if finding.at.file:
        result["locations"] = [{"physicalLocation": _physical(finding.at, under)}]
    if finding.also:
        result["relatedLocations"] = [
            {"id": id, "physicalLocation": _physical(second.at, under), "message": {"text": plain(second.message)}}
            for id, second in enumerate(finding.also, start=1)
        ]
    if finding.path:
        steps = [{"location": {"message": {"text": plain(step)}}} for step in finding.path]
        result["codeFlows"] = [{"threadFlows": [{"locations": steps}]}]
    return result


def _physical(at: Place, under: str) -> dict[str, Any]:
    address = quote(normpath(f"{under}/{at.file}" if under else at.file).encode("utf-8", "surrogateescape"), safe="/")
    return {
        "artifactLocation": {"uri": address, "uriBaseId": ROOT},
        "region": {"startLine": max(1, at.line), "startColumn": max(1, at.column)},
    }

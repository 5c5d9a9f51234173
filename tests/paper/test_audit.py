"""Every single document of the demonstration, and of the base department, against checkers that are not ours.

The demonstration is looked at by ``make audit``, which installs outloud from requirements-audit.lock.
"""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path

import page as page_validation
import pytest
from department import DEMO_IDS

_KINDS = {"card", "handout", "count-sheet", "what-now", "rehearsal", "patient-sheet", "slides", "map"}


_AUDITED = pytest.param(("whole_demo", *DEMO_IDS), marks=pytest.mark.audit, id="demonstration")


@pytest.fixture(scope="module")
def papers(request: pytest.FixtureRequest) -> list[Path]:
    """Every paper but the sheets that carry several copies: those are for the printer and have no tags."""
    name, *procedures = request.param
    site = request.getfixturevalue(name)
    made = json.loads((site / "build-report.json").read_text(encoding="utf-8"))["artefacts"]
    singles = [one for one in made if one["path"].endswith(".pdf") and one["kind"] != "card-sheet"]
    for procedure in procedures:
        assert {one["kind"] for one in singles if one["procedure"] == procedure} >= _KINDS
    return sorted(site / one["path"] for one in singles)


@pytest.mark.parametrize("papers", [pytest.param(("whole_base", "example"), id="base"), _AUDITED], indirect=True)
def test_page_validation_passes_every_single_document(papers: list[Path]) -> None:
    """page-validation (of the Python Package Index), rules of ISO 14289-1."""
    reports = {path: page_validation.validate_pdf_bytes(path.read_bytes(), profile="ua1") for path in papers}
    assert [path.name for path, one in reports.items() if not one.is_compliant or one.checks.failed] == []


@pytest.mark.parametrize("papers", [_AUDITED], indirect=True)
def test_outloud_has_no_error(papers: list[Path], tmp_path: Path) -> None:
    """outloud (of the Python Package Index): also reading order, running heads and what a page looks like."""
    pytest.importorskip("outloud", reason="`make audit` installs it")
    report = tmp_path / "report.json"
    program = [str(Path(sys.executable).with_name("outloud")), "--no-info", "--json", str(report)]
    done = subprocess.run([*program, *map(str, papers)], capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stdout[-4000:] + done.stderr[-2000:]
    read = report.read_text(encoding="utf-8")
    assert all(str(path.name) in read for path in papers)

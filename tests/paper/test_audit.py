"""Every single document of the demonstration, and of the base department, against checkers that are not ours.

The demonstration is looked at by ``make audit``, which installs outloud from requirements-audit.lock.
"""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import page as page_validation
import pytest
from department import BASE

from builder.check.engine import examine
from builder.load.folder import load
from builder.load.templates import load_templates
from builder.outputs import OUTPUTS
from builder.publish.jobs import Processes
from builder.publish.output import Publication
from builder.publish.publishing import printed

DEMONSTRATION = Path(__file__).parents[2]
_KINDS = {"card", "handout", "count-sheet", "what-now", "rehearsal", "patient-sheet", "slides", "map"}


_AUDITED = pytest.param(DEMONSTRATION, marks=pytest.mark.audit, id="demonstration")


@pytest.fixture(scope="module")
def papers(request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory) -> list[Path]:
    """Every paper but the sheets that carry several copies: those are for the printer and have no tags."""
    folder = tmp_path_factory.mktemp("papers")
    library, _ = examine(load(request.param))
    wanted = [row.name for row in OUTPUTS.files if row.format.viewable and not row.session]
    publication = Publication(library, load_templates(request.param), OUTPUTS, folder, None)
    with Processes(publication) as workers:
        made = [one for _, one, _ in printed(publication, workers, wanted)]
    singles = [one for one in made if one.kind != "card-sheet"]
    for procedure in library.procedures:
        assert {one.kind for one in singles if one.procedure == procedure.id} >= _KINDS
    return sorted(publication.made / one.name for one in singles)


@pytest.mark.parametrize("papers", [pytest.param(BASE, id="base"), _AUDITED], indirect=True)
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

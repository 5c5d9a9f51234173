"""Slips of the pen in the demonstration are told, and what looks like one is not.

Each sentence was written for this test, in other words than those the checks were made with.
"""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest
import yaml
from unseen.run import findings, plant

HERE = Path(__file__).parent
DEMO = HERE.parent.parent
SLIPS: dict[str, list[tuple[str, str, str]]] = yaml.safe_load((HERE / "slips.yml").read_text(encoding="utf-8"))


@pytest.fixture(scope="module")
def department(tmp_path_factory: pytest.TempPathFactory) -> Path:
    root = tmp_path_factory.mktemp("slips")
    shutil.copytree(DEMO / "references", root / "references")
    shutil.copytree(DEMO / "content", root / "content")
    return root


@pytest.fixture
def alone(department: Path, tmp_path: Path) -> Path:
    return Path(shutil.copytree(department, tmp_path / "department"))


def said(root: Path, slip: tuple[str, str, str]) -> list[str]:
    """Return what is said of the demonstration with ``slip`` in it; without it, nothing is (``test_checks.py``)."""
    page, written, instead = slip
    name = page.partition("/")[0]
    for other in (root / "content/procedures").iterdir():
        if other.name != name:
            shutil.rmtree(other)
    plant([{"file": f"content/procedures/{page}.md", "find": written, "replace": instead}], root)
    return [finding.name for finding in findings(root) if finding.name not in _OF_ONE_PROCEDURE_ALONE]


# Nothing but the other procedures uses them.
_OF_ONE_PROCEDURE_ALONE = {"source-unused"}


@pytest.mark.parametrize("slip", SLIPS["wrong"], ids=lambda slip: f"{slip[0].rpartition('/')[2]}: {slip[2][:50]}")
def test_slip_is_told(slip: tuple[str, str, str], alone: Path) -> None:
    assert said(alone, slip)


@pytest.mark.parametrize("slip", SLIPS["right"], ids=lambda slip: f"{slip[0].rpartition('/')[2]}: {slip[2][:50]}")
def test_what_looks_like_a_slip_is_left_alone(slip: tuple[str, str, str], alone: Path) -> None:
    assert said(alone, slip) == []

"""Slips of the pen in four whole procedures are told, and what looks like one is not.

Each sentence was written for this test, in other words than those the checks were made with. ``department`` is the
demonstration as it was then, without its figures, so that neither changes with the other.
"""

from __future__ import annotations

import shutil
from collections.abc import Callable
from functools import cache
from pathlib import Path

import pytest
import yaml
from unseen.run import findings, plant

HERE = Path(__file__).parent
SaidOf = Callable[[str], frozenset[str]]
ToldOf = Callable[[tuple[str, str, str]], list[str]]
SLIPS: dict[str, list[tuple[str, str, str]]] = yaml.safe_load((HERE / "slips.yml").read_text(encoding="utf-8"))


def alone(procedure: str, root: Path) -> Path:
    """Copy the department with this procedure only to ``root``."""
    shutil.copytree(HERE / "department", root)
    for other in (root / "content/procedures").iterdir():
        if other.name != procedure:
            shutil.rmtree(other)
    return root


@pytest.fixture(scope="session")
def without(tmp_path_factory: pytest.TempPathFactory) -> SaidOf:
    """Return what is said of a procedure without any slip: of its missing figures, and of sources only others use."""

    @cache
    def said_of(procedure: str) -> frozenset[str]:
        root = alone(procedure, tmp_path_factory.mktemp("sound") / "department")
        return frozenset(finding.name for finding in findings(root))

    return said_of


@pytest.fixture
def told(tmp_path: Path, without: SaidOf) -> ToldOf:
    def told_of(slip: tuple[str, str, str]) -> list[str]:
        page, written, instead = slip
        procedure = page.partition("/")[0]
        root = alone(procedure, tmp_path / "department")
        plant([{"file": f"content/procedures/{page}.md", "find": written, "replace": instead}], root)
        return [finding.message for finding in findings(root) if finding.name not in without(procedure)]

    return told_of


@pytest.mark.parametrize("slip", SLIPS["wrong"], ids=lambda slip: f"{slip[0].rpartition('/')[2]}: {slip[2][:50]}")
def test_slip_is_told(slip: tuple[str, str, str], told: ToldOf) -> None:
    assert told(slip)


@pytest.mark.parametrize("slip", SLIPS["right"], ids=lambda slip: f"{slip[0].rpartition('/')[2]}: {slip[2][:50]}")
def test_what_looks_like_a_slip_is_left_alone(slip: tuple[str, str, str], told: ToldOf) -> None:
    assert told(slip) == []

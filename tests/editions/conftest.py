"""Fixtures of the tests of editions."""

from __future__ import annotations

import sys
from pathlib import Path

import pytest

HERE = Path(__file__).parent
sys.path.append(
    str(HERE.parent / "print")
)  # papers.py composes and sets cards and handouts for several folders of tests

from house import House  # noqa: E402


@pytest.fixture
def house(tmp_path: Path) -> House:
    """A department that issues cards."""
    return House(tmp_path)

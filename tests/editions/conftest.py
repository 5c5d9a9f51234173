"""Fixtures of the tests of editions."""

from __future__ import annotations

import sys
from pathlib import Path

import pytest

# papers.py composes and sets cards and handouts; the tests of codes read the same papers.
sys.path.append(str(Path(__file__).parent.parent / "print"))

from house import House


@pytest.fixture
def house(tmp_path: Path) -> House:
    """A department that issues cards."""
    return House(tmp_path)

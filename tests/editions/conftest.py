"""Fixtures of the tests of editions."""

from __future__ import annotations

from pathlib import Path

import pytest
from house import House


@pytest.fixture
def house(tmp_path: Path) -> House:
    """A department that issues cards."""
    return House(tmp_path)

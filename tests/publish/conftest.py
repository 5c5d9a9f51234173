"""Fixtures of the tests of publishing."""

from __future__ import annotations

from pathlib import Path

import pytest


@pytest.fixture
def to(tmp_path: Path) -> Path:
    """A folder to publish to that does not exist yet, with nothing beside it."""
    return tmp_path / "out" / "public"

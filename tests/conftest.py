"""Fixtures that every test may use."""

from __future__ import annotations

import os
from pathlib import Path

import pytest
from department import Overlay, lay, new_base

os.environ["PRESCRUB_CACHE"] = "off"  # what a test shows must be made in it; the cache has tests of its own


@pytest.fixture
def base(tmp_path: Path) -> Path:
    """A copy of the smallest complete good department, free to be changed."""
    return new_base(tmp_path)


@pytest.fixture
def overlay(base: Path) -> Overlay:
    """Lay files (path to text, or a folder) over a copy of the base and return its folder."""
    return lambda files: lay(base, files)

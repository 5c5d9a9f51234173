"""Fixtures that every test may use."""

from __future__ import annotations

import os
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from browser_tools import FLAGS, needs_chromium
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


@pytest.fixture(scope="session")
def browser() -> Iterator[Any]:
    """One Chromium for all tests of a process: a second Playwright beside the first refuses to start."""
    path = needs_chromium()
    from playwright.sync_api import sync_playwright

    with sync_playwright() as play:
        started = play.chromium.launch(executable_path=path, args=FLAGS)
        yield started
        started.close()

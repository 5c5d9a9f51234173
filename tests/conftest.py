"""Fixtures that every test may use."""

from __future__ import annotations

import os
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from browser_tools import FLAGS, needs_chromium
from department import Overlay, lay, new_base
from lxml import html
from publishing import publish_site
from site_pages import page

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


@pytest.fixture(scope="session")
def site(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The published site of the smallest department, with papers."""
    folder = tmp_path_factory.mktemp("site")
    publish_site(new_base(folder), folder / "public", ("site", "handout", "card", "single-file"))
    return folder / "public"


@pytest.fixture(scope="session")
def example(site: Path) -> html.HtmlElement:
    """The page of its procedure."""
    return page(site, "example/index.html")


@pytest.fixture
def to(tmp_path: Path) -> Path:
    """A folder to publish to."""
    return tmp_path / "public"

"""One published site for all tests of pages."""

from __future__ import annotations

from pathlib import Path

import pytest
from department import new_base
from lxml import html
from publishing import publish_site
from site_pages import page


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

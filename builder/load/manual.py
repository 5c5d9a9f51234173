"""The pages of the checks: shipped with the program, one Markdown file a check."""

from __future__ import annotations

from collections.abc import Mapping
from functools import cache
from importlib import resources


@cache
def check_pages() -> Mapping[str, str]:
    """Return the page of each check, as Markdown, by the check's id."""
    folder = resources.files("builder") / "check" / "pages"
    files = sorted(folder.iterdir(), key=lambda file: file.name)
    return {
        file.name.partition("-")[0]: file.read_text(encoding="utf-8") for file in files if file.name.endswith(".md")
    }

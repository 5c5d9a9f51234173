"""What is shipped with the register of findings: a page for each, and the old letter codes."""

from collections.abc import Mapping
from functools import cache
from importlib import resources
from importlib.resources.abc import Traversable


def _shipped() -> Traversable:
    return resources.files("builder") / "findings"


@cache
def finding_pages() -> Mapping[str, str]:
    """Return the page of each finding, as Markdown, by the name of the finding."""
    files = sorted((_shipped() / "pages").iterdir(), key=lambda file: file.name)
    return {file.name.removesuffix(".md"): file.read_text(encoding="utf-8") for file in files}


@cache
def old_codes() -> Mapping[str, str]:
    """Return the name of each finding by its old code. Where a code meant two, the first is the one of a check."""
    rows = (line.split() for line in (_shipped() / "old-codes.txt").read_text(encoding="utf-8").splitlines())
    return {row[0]: row[1] for row in rows}

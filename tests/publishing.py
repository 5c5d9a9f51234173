"""Publishing a small department in a test, and comparing what came of it."""

from __future__ import annotations

import hashlib
from collections.abc import Collection
from pathlib import Path

from department import lay, read

from builder.load.templates import load_templates
from builder.outputs import OUTPUTS
from builder.pipeline import publish
from builder.publish.build_report import Report

UNDER = "procedures"
SETTINGS = """site_name: Handbook
site_url: https://surgery.example.org/
theme: {name: material, font: false}
plugins: [search, {prescrub: {under: procedures}}]
"""


def with_mkdocs(root: Path, settings: str = SETTINGS) -> Path:
    """Let the department in ``root`` make its site with mkdocs; return ``root``."""
    page = root / "content/department.md"
    text = page.read_text(encoding="utf-8").replace("language:", "engine: mkdocs\nlanguage:", 1)
    return lay(root, {page.relative_to(root).as_posix(): text, "mkdocs.yml": settings, "docs/index.md": "# Ward\n"})


def fingerprint(folder: Path) -> str:
    """One hash over the paths and bytes of everything below ``folder``."""
    total = hashlib.sha256()
    for path in sorted(folder.rglob("*")):
        total.update(path.relative_to(folder).as_posix().encode() + b"\0")
        if path.is_file():
            total.update(hashlib.sha256(path.read_bytes()).digest())
    return total.hexdigest()


def publish_site(root: Path, to: Path, only: Collection[str] = ("site",)) -> Report:
    """Publish the department in ``root``; the site alone, unless more is asked for."""
    return publish(read(root)[0], to, load_templates(root), only=only)


def publish_all(root: Path, to: Path) -> Report:
    """Publish every output of the department in ``root``."""
    return publish_site(root, to, OUTPUTS.usual)

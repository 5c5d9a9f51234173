"""Tiny departments for tests: ``base`` is the smallest complete good one, an overlay replaces or adds files.

Used as plain functions, or through the fixtures of ``conftest.py``.
"""

from __future__ import annotations

import shutil
from collections.abc import Callable, Iterable, Mapping
from datetime import date
from pathlib import Path

from builder.check.engine import examine
from builder.check.hit import Check
from builder.findings.finding import Finding
from builder.findings.register import REGISTER
from builder.load.folder import load
from builder.model.library import Library

Overlay = Callable[[Mapping[str, str] | Path], Path]
"""Lays files over a copy of the base and returns its folder."""

BASE = Path(__file__).parent / "base"
DEMO = BASE.parents[1]
DEMO_IDS = tuple(sorted(page.parent.name for page in DEMO.glob("content/procedures/*/procedure.md")))
"""The procedures of the demonstration, known before any of it is read."""
TODAY = date(2026, 11, 25)
"""The day on which every test reads its department, so that no test changes its mind when a review falls due."""


def lay(root: Path, files: Mapping[str, str] | Path) -> Path:
    """Write ``files`` (path to text, or a folder that is copied) over the department in ``root``; return ``root``."""
    if isinstance(files, Path):
        shutil.copytree(files, root, dirs_exist_ok=True, ignore=shutil.ignore_patterns("expected.txt"))
        return root
    for name, text in files.items():
        path = root / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text(text, encoding="utf-8")
    return root


def new_base(folder: Path) -> Path:
    """Copy the base to ``folder/department`` and return that folder."""
    return Path(shutil.copytree(BASE, folder / "department"))


def read(root: Path) -> tuple[Library, list[Finding]]:
    """Return the Library of the department in ``root`` on ``TODAY``, and all findings."""
    return examine(load(root, TODAY))


def read_broken(root: Path) -> tuple[Library, list[Finding]]:
    """Return what ``read`` does, without what the family coverage says of a file that is broken or bare."""
    library, findings = read(root)
    return library, [finding for finding in findings if family(finding) != "coverage"]


def family(found: Finding | Check) -> str:
    """Return the family of a finding or check in the register."""
    return REGISTER[found.name].family.name


def of_families(findings: Iterable[Finding], *families: str) -> list[Finding]:
    """Return the findings that a test is about: what other checks say of its files is no concern of it."""
    return [finding for finding in findings if family(finding) in families]


def lines(findings: Iterable[Finding]) -> list[str]:
    """Return each finding as ``file:line:column name``."""
    return [f"{finding.at} {finding.name}" for finding in findings]

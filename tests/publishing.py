"""Publishing a small department in a test, and comparing what came of it."""

from __future__ import annotations

import hashlib
import os
import pickle
import shutil
import subprocess
import sys
from collections.abc import Callable, Collection, Mapping
from datetime import UTC, datetime, time
from pathlib import Path
from typing import TypeVar

import portalocker
import pytest
from department import DEMO, TODAY, lay, read

from builder.load.templates import load_templates
from builder.outputs import OUTPUTS
from builder.pipeline import publish
from builder.publish.build_report import Report

DAY = {"SOURCE_DATE_EPOCH": str(int(datetime.combine(TODAY, time(12), UTC).timestamp()))}
"""What lets a process of its own read its department on the day on which every test does."""
T = TypeVar("T")
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


def publish_by_command(root: Path, to: Path, *words: str, environment: Mapping[str, str] = os.environ) -> None:
    """Publish as ``prescrub publish`` does it, in processes of its own."""
    command = [sys.executable, "-W", "error", "-m", "builder", "publish", str(root), "--to", str(to), *words]
    subprocess.run(command, cwd=DEMO, env={**environment, **DAY}, capture_output=True, check=True)


def made_once(factory: pytest.TempPathFactory, name: str, make: Callable[[Path], object]) -> Path:
    """Return the folder that ``make`` fills for all workers of this run: the first to ask makes it, and all only read.

    The others wait for it: https://pytest-xdist.readthedocs.io, "Making session-scoped fixtures execute only once".
    """
    base = factory.getbasetemp()
    folder = (base.parent if base.name.startswith("popen-") else base) / name
    with portalocker.Lock(folder.with_suffix(".lock"), flags=portalocker.LockFlags.EXCLUSIVE):
        if not folder.exists():
            unfinished = folder.with_suffix(".unfinished")
            shutil.rmtree(unfinished, ignore_errors=True)
            make(unfinished)
            unfinished.rename(folder)
    return folder


def worked_out_once(factory: pytest.TempPathFactory, name: str, work: Callable[[], T]) -> T:
    """Return what ``work`` returns, worked out by one worker for all of this run."""

    def keep(folder: Path) -> None:
        folder.mkdir()
        (folder / "kept").write_bytes(pickle.dumps(work()))

    return pickle.loads((made_once(factory, name, keep) / "kept").read_bytes())


def publish_all(root: Path, to: Path) -> Report:
    """Publish every output of the department in ``root``."""
    return publish_site(root, to, OUTPUTS.usual)

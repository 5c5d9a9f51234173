"""What Windows and macOS lack is not asked for: the program works behind a wall that takes it away.

Which names are missing there is told by "Availability" in the documentation of Python 3.11 (os, ctypes, signal and the
modules of "Unix Specific Services"). It is a wall on this system, no proof on those.
"""

from __future__ import annotations

import ast
import json
import os
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest
from department import lay, new_base, read
from windows_wall import UNIX_MODULES, UNIX_NAMES

ROOT = Path(__file__).parents[2]
WALL = Path(__file__).with_name("windows_wall.py")


def asked_for(tree: ast.AST) -> Iterator[str]:
    """Yield what a module of ours imports or takes from ``os`` and ``signal`` that is on Unix alone."""
    for node in ast.walk(tree):
        names = (
            [alias.name for alias in node.names]
            if isinstance(node, ast.Import)
            else [node.module or ""]
            if isinstance(node, ast.ImportFrom)
            else []
        )
        yield from UNIX_MODULES.intersection(names)
        of = node.value if isinstance(node, ast.Attribute) else None
        if isinstance(of, ast.Name) and of.id in ("os", "signal") and isinstance(node, ast.Attribute):
            yield from UNIX_NAMES.intersection([node.attr])


# Asked for only where the system has it.
GUARDED = {"builder/publish/jobs.py": ["sched_getaffinity"], "builder/write/swap.py": ["sync"]}


def test_nothing_is_imported_or_called_that_is_on_unix_alone() -> None:
    used = {
        path.relative_to(ROOT).as_posix(): found
        for path in sorted((ROOT / "builder").rglob("*.py"))
        if (found := [*asked_for(ast.parse(path.read_text(encoding="utf-8")))])
    }
    assert used == GUARDED


def behind_the_wall(orders: list[list[str]], home: Path) -> subprocess.CompletedProcess[str]:
    environment = {**os.environ, "PYTHONPATH": str(ROOT), "HOME": str(home), "SOURCE_DATE_EPOCH": "1795600800"}
    command = [sys.executable, str(WALL), json.dumps(orders)]
    return subprocess.run(command, env=environment, capture_output=True, text=True, check=False)


def test_a_department_is_checked_published_twice_and_drafted_without_them(tmp_path: Path) -> None:
    root, to = new_base(tmp_path), tmp_path / "public"
    talk = tmp_path / "talk.md"
    talk.write_text("1. Cut the skin with the blade.\n2. Close the skin with a suture.\n", encoding="utf-8")
    publish = ["publish", str(root), "--to", str(to), "--only", "site", "--only", "what-now"]
    draft = ["draft", "new", "Drain a pilonidal abscess", "--from", str(talk), str(root)]
    ran = behind_the_wall([["check", str(root)], publish, publish, draft], tmp_path)
    assert ran.returncode == 0, ran.stdout + ran.stderr
    assert (to / "example/index.html").is_file()
    assert not (tmp_path / ".prescrub-public").exists()
    assert (to / "example/what-now.pdf").is_file()
    assert (root / "content/procedures/drain-a-pilonidal-abscess/procedure.md").is_file()


def test_the_wall_stops_what_windows_would(tmp_path: Path) -> None:
    ran = behind_the_wall([], tmp_path)
    assert json.loads(ran.stdout) == {
        "fcntl": False,
        "os.fork": False,
        "open a folder": False,
        "move an open file": False,
    }


@pytest.mark.parametrize("name", ["Second", "sEcond"])
def test_two_folders_that_differ_in_capitals_alone_cannot_be_published(name: str, tmp_path: Path) -> None:
    """On Windows and macOS they would be one."""
    root = new_base(tmp_path)
    text = (root / "content/procedures/example/procedure.md").read_text(encoding="utf-8")
    lay(root, {f"content/procedures/{name}/procedure.md": text})
    assert "file-name-not-an-id" in {found.name for found in read(root)[1]}

"""Stages run one way, and only some of them touch the world outside."""

from __future__ import annotations

import ast
from collections.abc import Container, Iterable, Iterator
from functools import cache
from pathlib import Path

import pytest

BUILDER = Path(__file__).parent.parent / "builder"

# From left to right. What stands together in a group may be imported by all to its right.
STAGES = (
    "base", "findings", "load", "model", "facts", "check", "edit", "draft", "compose", "write", "publish",
    "readback", "table", "preview", "cli",
)  # fmt: skip
_BASE = {"__init__", "grouping", "place"}
_TABLE = {"outputs", "resting", "pipeline", "region_night", "region_turn"}
_CLI = {"cli", "commands", "__main__"}

TOUCHES_THE_WORLD = {"load", "write", "publish", "readback", "preview", "cli"}
_MODULES = {"subprocess", "socket", "time", "shutil", "tempfile", "urllib.request", "http.client", "random"}
_NAMES = {"open"}
_METHODS = {
    "read_text", "read_bytes", "write_text", "write_bytes", "iterdir", "rglob", "unlink", "mkdir", "rmdir", "touch",
    "now", "today", "utcnow", "getenv", "environ",
}  # fmt: skip
_INNOCENT = {"library.today", "self.library.today", "loaded.today", "self.loaded.today", "night.today"}
"""Fields that are called like a method of the clock."""

FILES = sorted(BUILDER.rglob("*.py"))


def stage_of(module: str) -> str:
    """Return the stage of a dotted module name such as ``builder.check.engine``."""
    part = module.split(".")[1] if "." in module else "__init__"
    return "base" if part in _BASE else "cli" if part in _CLI else "table" if part in _TABLE else part


def module_of(path: Path) -> str:
    parts = path.relative_to(BUILDER.parent).with_suffix("").parts
    return ".".join(parts[:-1] if parts[-1] == "__init__" and len(parts) > 2 else parts)


def imports(tree: ast.AST) -> Iterator[tuple[int, str]]:
    for node in ast.walk(tree):
        if isinstance(node, ast.Import):
            yield from ((node.lineno, alias.name) for alias in node.names)
        elif isinstance(node, ast.ImportFrom):
            assert node.level == 0, "imports are absolute"
            for alias in node.names:
                whole = f"{node.module}.{alias.name}"
                # `from builder import x` imports a stage; elsewhere the first name says which stage it is.
                yield node.lineno, whole if node.module == "builder" else str(node.module)


def wrong_imports(path: Path, imported: Iterable[tuple[int, str]]) -> list[str]:
    own = stage_of(module_of(path))
    return [
        f"{module_of(path)}:{line}: {own} imports {name}"
        for line, name in imported
        if name.split(".")[0] == "builder"
        and not name.startswith("builder.__")
        and STAGES.index(stage_of(name)) > STAGES.index(own)
    ]


def outside(tree: ast.AST) -> list[str]:
    """Return what in ``tree`` reads, writes, asks for the time, or starts something."""
    found = [f"line {line}: imports {name}" for line, name in imports(tree) if name in _MODULES]
    for node in ast.walk(tree):
        if isinstance(node, ast.Call) and isinstance(node.func, ast.Name) and node.func.id in _NAMES:
            found.append(f"line {node.lineno}: {node.func.id}()")
        if isinstance(node, ast.Attribute) and node.attr in _METHODS and ast.unparse(node) not in _INNOCENT:
            found.append(f"line {node.lineno}: {ast.unparse(node)}")
    return found


@cache
def looked_at(path: Path) -> tuple[list[tuple[int, str]], list[str]]:
    """Return what a file imports, and how it touches the world; each file is read once for all tests."""
    tree = ast.parse(path.read_text(encoding="utf-8"))
    return list(imports(tree)), outside(tree)


def of_stages(stages: Container[str]) -> list[Path]:
    return [path for path in FILES if stage_of(module_of(path)) in stages]


def test_a_stage_imports_only_from_its_left() -> None:
    assert of_stages(STAGES) == FILES
    assert [wrong for path in FILES for wrong in wrong_imports(path, looked_at(path)[0])] == []


def test_only_some_stages_touch_the_world() -> None:
    pure = of_stages(set(STAGES) - TOUCHES_THE_WORLD)
    assert [(module_of(path), touched) for path in pure for touched in looked_at(path)[1]] == []


def test_what_is_published_is_no_business_of_the_checks() -> None:
    """What an output needs to know of the texts stands in ``facts``; a rule of ``check`` only judges it."""
    published = of_stages({"compose", "write", "publish", "readback"})
    imported = [(module_of(path), name) for path in published for _, name in looked_at(path)[0]]
    assert [one for one in imported if stage_of(one[1]) == "check" and one[1].startswith("builder.")] == []


def test_there_are_files_to_look_at() -> None:
    assert {"load", "model", "check", "compose"} <= {stage_of(module_of(path)) for path in FILES}


@pytest.mark.parametrize(
    "source",
    ["from builder.check.engine import examine", "import builder.publish.publishing", "from builder import cli"],
)
def test_an_import_from_the_right_is_noticed(source: str) -> None:
    assert wrong_imports(BUILDER / "model" / "build.py", imports(ast.parse(source)))


@pytest.mark.parametrize(
    "source",
    ["open('x')", "path.read_text()", "import subprocess", "from time import sleep", "date.today()", "os.environ['X']"],
)
def test_touching_the_world_is_noticed(source: str) -> None:
    assert outside(ast.parse(source))

"""A plugin of pytest that notes which mutants' lines each test reaches; ``python tools/mutants map`` starts it.

It watches (``sys.monitoring``, Python 3.12 or later) only the code that holds a drawn line, and each line once a test,
so it costs next to nothing. What a fixture of wider scope reaches is put down to every test that uses the fixture. A
mutant that runs when its module is imported is put down to the tests that enter a function of that module, or of one
that imports from it. What runs in another process is not seen.
"""

from __future__ import annotations

import ast
import importlib.machinery
import os
import sys
from collections import defaultdict
from collections.abc import Iterator, Sequence
from pathlib import Path
from types import CodeType
from typing import Any

import pytest
from places import ROOT, Mutant, add_row, drawn, lines_to_reach, read_rows

TREE, MAP = Path(os.environ.get("MUTANTS_TREE", ROOT)), Path(os.environ.get("MUTANTS_MAP", ROOT / ".mutants/map.jsonl"))
NAME = "mutants"
MONITORING: Any = getattr(sys, "monitoring", None)
CAN_WATCH = MONITORING is not None


class Reach:
    """What is watched: lines of files, and files of which any function may be entered."""

    def __init__(self, tree: Path, mutants: Sequence[Mutant]) -> None:
        self.lines: dict[str, dict[int, set[int]]] = defaultdict(lambda: defaultdict(set))
        self.entered: dict[str, set[int]] = defaultdict(set)
        self.now: set[int] = set()
        importers = importers_in(tree)
        for mutant in mutants:
            path = tree / mutant.file
            source = path.read_text("utf-8")
            line_now = mutant.line_in(source)
            if line_now is None:
                continue
            lines = lines_to_reach(ast.parse(source), line_now)
            for line in lines or ():
                self.lines[str(path)][line].add(mutant.number)
            for file in () if lines else (path, *importers[module_of(mutant)]):
                self.entered[str(file)].add(mutant.number)

    def watch(self, code: CodeType) -> None:
        """Watch all that ``code``, a module, defines."""
        if code.co_filename not in self.lines and code.co_filename not in self.entered:
            return
        events, tool = MONITORING.events, MONITORING.COVERAGE_ID
        wanted = self.lines[code.co_filename]
        for inner in inner_code(code):
            drawn_lines = any(line in wanted for _, _, line in inner.co_lines())
            start = events.PY_START if code.co_filename in self.entered else 0
            MONITORING.set_local_events(tool, inner, start | (events.LINE if drawn_lines else 0))

    def line(self, code: CodeType, line: int) -> object:
        """Note that ``line`` runs."""
        self.now |= self.lines[code.co_filename].get(line, set())
        return MONITORING.DISABLE

    def start(self, code: CodeType, _offset: int) -> object:
        """Note that a function of a file is entered."""
        self.now |= self.entered[code.co_filename]
        return MONITORING.DISABLE

    def switch_on(self) -> None:
        """Watch every module from its import on."""
        if not CAN_WATCH:
            raise SystemExit("Mapping watches lines with sys.monitoring: run it with Python 3.12 or later.")
        tool, events = MONITORING.COVERAGE_ID, MONITORING.events
        MONITORING.use_tool_id(tool, NAME)
        MONITORING.register_callback(tool, events.LINE, self.line)
        MONITORING.register_callback(tool, events.PY_START, self.start)
        get_code = importlib.machinery.SourceFileLoader.get_code

        def watched(loader: Any, fullname: str) -> CodeType | None:
            code = get_code(loader, fullname)
            if code is not None:
                self.watch(code)
            return code

        setattr(importlib.machinery.SourceFileLoader, "get_code", watched)  # noqa: B010 - a method, for every loader

    def afresh(self, so_far: set[int]) -> set[int]:
        """Return what was noted until now, and go on from ``so_far`` with every line awake."""
        before, self.now = self.now, so_far
        MONITORING.restart_events()
        return before


def inner_code(code: CodeType) -> Iterator[CodeType]:
    """Yield all code that ``code`` holds."""
    for constant in code.co_consts:
        if isinstance(constant, CodeType):
            yield constant
            yield from inner_code(constant)


def module_of(mutant: Mutant) -> str:
    """Return the name by which the mutated module is imported."""
    return mutant.file.removesuffix(".py").replace("/", ".")


def importers_in(tree: Path) -> dict[str, set[Path]]:
    """Return, for each module, the files that import from it."""
    found = defaultdict(set)
    for path in (tree / "builder").rglob("*.py"):
        for node in ast.walk(ast.parse(path.read_text("utf-8"))):
            if isinstance(node, ast.ImportFrom) and node.module:
                for name in (node.module, *(f"{node.module}.{alias.name}" for alias in node.names)):
                    found[name].add(path)
    return found


class Noting:
    """The hooks of pytest: each test that passes becomes a row of the map."""

    def __init__(self, reach: Reach) -> None:
        self.reach = reach
        self.of_fixtures: dict[Any, set[int]] = defaultdict(set)
        self.passed: set[str] = set()
        self.took: dict[str, float] = defaultdict(float)

    def pytest_collection_modifyitems(self, items: list[pytest.Item]) -> None:
        """Leave out what is mapped already."""
        known = {row["test"] for row in read_rows(MAP)}
        items[:] = [item for item in items if item.nodeid not in known]

    @pytest.hookimpl(wrapper=True)
    def pytest_fixture_setup(self, fixturedef: Any) -> Any:
        """Note apart what a fixture reaches that several tests share."""
        if fixturedef.scope == "function":
            return (yield)
        before = self.reach.afresh(set())
        try:
            return (yield)
        finally:
            reached = self.reach.now
            self.of_fixtures[fixturedef.argname, fixturedef.baseid] |= reached
            self.reach.afresh(before | reached)

    @pytest.hookimpl(wrapper=True)
    def pytest_runtest_protocol(self, item: Any) -> Any:
        """Write the row of one test."""
        self.reach.afresh(set())
        result = yield
        used = (each for defs in item._fixtureinfo.name2fixturedefs.values() for each in defs)
        reached = self.reach.now.union(*(self.of_fixtures.get((each.argname, each.baseid), ()) for each in used))
        if item.nodeid in self.passed:
            add_row(MAP, {"test": item.nodeid, "seconds": round(self.took[item.nodeid], 3), "reaches": sorted(reached)})
        return result

    def pytest_runtest_logreport(self, report: pytest.TestReport) -> None:
        """Note which tests pass, and what they take."""
        self.took[report.nodeid] += report.duration
        if report.when == "call" and report.passed:
            self.passed.add(report.nodeid)


@pytest.hookimpl(tryfirst=True)
def pytest_load_initial_conftests(early_config: pytest.Config) -> None:
    """Begin to watch, before any module of the program is imported."""
    reach = Reach(TREE, drawn())
    reach.switch_on()
    early_config.pluginmanager.register(Noting(reach))

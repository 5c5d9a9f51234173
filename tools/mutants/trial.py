"""Tries each mutant on the tests that reach its line, until one fails.

One pytest imports and collects everything, once, and stands still before the first test: there it forks for each
mutant. The fork gives the functions that are there already the code of the mutated file, and runs the tests. A mutant
of what runs when its module is imported (a table, a decorator, a function that was called by then) is written into a
copy of the repository, and a process that starts afresh runs the tests; with Python 3.11, which cannot watch what ran,
that is so of every mutant. Either may use so much of the processor's time and no more: a mutant that goes on for ever
is *stopped*.
"""

from __future__ import annotations

import gc
import inspect
import os
import resource
import signal
import subprocess
import sys
from collections.abc import Callable, Sequence
from functools import cache, partial
from itertools import zip_longest
from pathlib import Path
from types import CodeType, FunctionType
from typing import Any, NamedTuple

import pytest
from places import KEPT, Mutant
from reach import CAN_WATCH, Reach, inner_code

LAST_OUTPUT = KEPT / "last-output.txt"
AS_EVER = ("-x", "-q", "--assert=plain", "--tb=no", "-p", "no:cacheprovider", "-m", "not slow and not audit")
"""Why a test fails is not asked: to tell texts apart takes longer than most tests."""
NEVER_LESS, TIMES_AS_MUCH = 10, 5
"""Seconds of the processor that a trial may use, and how many times what its tests took when all was well."""
MOST_AT_ONCE = 60
"""Tests that a process which starts afresh is given at once."""


Key = tuple[str, str, int]
_Kept = type(cache(abs))


class Timed(NamedTuple):
    """A test, and how many seconds it took when all was well."""

    test: str
    seconds: float


class Outcome(NamedTuple):
    """What became of a mutant, and which test noticed it."""

    outcome: str
    by: str = ""


class Stand:
    """A plugin of pytest that tries mutants instead of running the tests that were collected."""

    def __init__(self, tree: Path, mutants: Sequence[Mutant], work: Callable[[Stand], None]) -> None:
        self.tree, self.mutants, self.work = tree, mutants, work
        self.reach = Reach(tree, mutants)
        self.ran_already: set[int] = set()
        self.items: dict[str, pytest.Item] = {}
        self.functions: list[FunctionType] = []
        self.failed = ""

    @pytest.hookimpl(tryfirst=True)
    def pytest_collection(self) -> None:
        """Note what ran while the program was imported: tables may hold what came of it."""
        self.ran_already = set(self.reach.now) if CAN_WATCH else {mutant.number for mutant in self.mutants}

    @pytest.hookimpl(tryfirst=True)
    def pytest_runtestloop(self, session: pytest.Session) -> bool:
        """Try the mutants."""
        self.items = {item.nodeid: item for item in session.items}
        gc.unfreeze()
        files = {str(self.tree / mutant.file) for mutant in self.mutants}
        found = gc.get_objects()
        functions = (each for each in found if isinstance(each, FunctionType))
        self.functions = [function for function in functions if function.__code__.co_filename in files]
        # What was collected may have been worked out by the functions as they are.
        for kept in (each for each in found if isinstance(each, _Kept)):
            kept.cache_clear()
        gc.freeze()
        self.work(self)
        return True

    def pytest_runtest_logreport(self, report: pytest.TestReport) -> None:
        """Note the first test that fails."""
        if report.failed and not self.failed:
            self.failed = report.nodeid

    def try_mutant(self, mutant: Mutant, tests: Sequence[Timed]) -> Outcome:
        """Return what became of ``mutant``."""
        known = [test for test in tests if test.test in self.items]
        source = (self.tree / mutant.file).read_text("utf-8")
        if mutant.apply(source) == source:
            return Outcome("rewritten")
        if not known:
            return Outcome("unreached")
        new = self.may_fork(mutant)
        return self.in_a_fork(new, known) if new else in_a_copy(self.tree, mutant, known)

    def may_fork(self, mutant: Mutant) -> dict[Key, CodeType]:
        """Return what functions that are there are given for ``mutant``; nothing where that is not all it changes."""
        path = self.tree / mutant.file
        source = path.read_text("utf-8")
        new = changed_code(source, mutant.apply(source), path) if mutant.number not in self.ran_already else {}
        return new if any(key_of(function.__code__) in new for function in self.functions) else {}

    def in_a_fork(self, new: dict[Key, CodeType], tests: Sequence[Timed]) -> Outcome:
        """Return what the tests say of functions with ``new`` code."""
        reading, writing = os.pipe()
        child = os.fork()
        if not child:
            os.close(reading)
            self._child(new, tests, writing)
        os.close(writing)
        with os.fdopen(reading, encoding="utf-8") as pipe:
            failed = pipe.read()
        _, status = os.waitpid(child, 0)
        return _judged(-os.WTERMSIG(status) if os.WIFSIGNALED(status) else os.WEXITSTATUS(status), failed)

    def _child(self, new: dict[Key, CodeType], tests: Sequence[Timed], writing: int) -> None:
        _limit(tests)
        output = os.open(LAST_OUTPUT, os.O_RDWR | os.O_CREAT | os.O_TRUNC)
        for stream in range(3):
            os.dup2(output, stream)
        code = 3
        try:
            for function in self.functions:
                if key_of(function.__code__) in new:
                    function.__code__ = new[key_of(function.__code__)]
            items = [self.items[test.test] for test in tests]
            for item, following in zip_longest(items, items[1:]):
                item.config.hook.pytest_runtest_protocol(item=item, nextitem=following)
                if self.failed:
                    break
            code = int(bool(self.failed))
        finally:
            os.write(writing, self.failed.encode())
            os._exit(code)


def changed_code(source: str, mutated: str, path: Path) -> dict[Key, CodeType]:
    """Return the code of each function that differs, before to after; nothing where more than functions differ."""
    before, after = (_all_code(compile(text, str(path), "exec")) for text in (source, mutated))
    lambdas = [key_of(code) for code in before if code.co_name == "<lambda>"]
    if len(before) != len(after) or len(set(lambdas)) < len(lambdas):
        return {}
    changed = {}
    for one, other in zip(before, after, strict=True):
        if not one.co_flags & inspect.CO_OPTIMIZED:
            if _outside_functions(one) != _outside_functions(other):
                return {}
        elif one.co_freevars != other.co_freevars:
            return {}
        elif one != other:
            changed[key_of(one)] = other
    return changed


def key_of(code: CodeType) -> Key:
    """Return by what code is known again, watched or not."""
    return code.co_filename, code.co_qualname, code.co_firstlineno


def _all_code(code: CodeType) -> list[CodeType]:
    return [code, *inner_code(code)]


def _outside_functions(code: CodeType) -> tuple[object, ...]:
    return code.co_code, code.co_names, [each for each in code.co_consts if not isinstance(each, CodeType)]


def in_a_copy(tree: Path, mutant: Mutant, tests: Sequence[Timed]) -> Outcome:
    """Return what the tests say where the file is mutated in the copy at ``tree``."""
    path = tree / mutant.file
    source, times = path.read_text("utf-8"), path.stat()
    path.write_text(mutant.apply(source), "utf-8")
    # A time of its own: else what was compiled of the file as it is would be taken for this.
    os.utime(path, ns=(times.st_atime_ns, times.st_mtime_ns + mutant.number * 10**9))
    try:
        for at in range(0, len(tests), MOST_AT_ONCE):
            outcome = _afresh(tree, tests[at : at + MOST_AT_ONCE])
            if outcome.outcome != "survived":
                return outcome
        return Outcome("survived")
    finally:
        path.write_text(source, "utf-8")
        os.utime(path, ns=(times.st_atime_ns, times.st_mtime_ns))


def _afresh(tree: Path, tests: Sequence[Timed]) -> Outcome:
    environment = os.environ | {"PYTHONDONTWRITEBYTECODE": "1", "PYTHONPATH": str(tree)}
    command = [sys.executable, "-m", "pytest", *AS_EVER, *(test.test for test in tests)]
    done = subprocess.run(
        command,
        cwd=tree,
        env=environment,
        capture_output=True,
        text=True,
        check=False,
        preexec_fn=partial(_limit, tests),
    )
    LAST_OUTPUT.write_text(done.stdout + done.stderr, "utf-8")
    said = [
        line.removeprefix("FAILED ").partition(" - ")[0]
        for line in done.stdout.splitlines()
        if line.startswith("FAILED ")
    ]
    return _judged(done.returncode, said[0] if said else "when it is imported")


def _limit(tests: Sequence[Timed]) -> None:
    seconds = int(max(NEVER_LESS, TIMES_AS_MUCH * sum(test.seconds for test in tests)))
    resource.setrlimit(resource.RLIMIT_CPU, (seconds, seconds + 5))


def _judged(code: int, failed: str) -> Outcome:
    if code < 0:
        name = signal.Signals(-code).name
        return Outcome("stopped" if name in ("SIGXCPU", "SIGKILL") else "noticed", name)
    return Outcome("noticed", failed) if code else Outcome("survived")


def stand(tree: Path, mutants: Sequence[Mutant], files: Sequence[str], work: Callable[[Stand], None]) -> None:
    """Collect the tests of ``files`` in ``tree``, and do ``work`` where the first would run."""
    os.chdir(tree)
    sys.path.insert(0, str(tree))
    plugin: Any = Stand(tree, mutants, work)
    if CAN_WATCH:
        plugin.reach.switch_on()
    pytest.main([*AS_EVER, "-s", *files], plugins=[plugin])

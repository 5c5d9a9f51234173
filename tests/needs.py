"""Programs that some tests need. Where one is missing its tests are passed over, and the end of the run says so.

What they are and which packages bring them is known to ``tools/bootstrap.py``, which installs them where it may.
"""

from __future__ import annotations

import shutil
from collections import Counter
from collections.abc import Iterable

import bootstrap
import pytest

_MACHINE = bootstrap.Machine()
_BY_NAME = {program.name: program for program in bootstrap.PROGRAMS}


def needs(name: str, tests: str) -> str:
    """Return the path of the program ``name``; where it is missing, pass over the test, one of ``tests``."""
    program = _BY_NAME[name]
    if not bootstrap.is_there(_MACHINE, program):
        pytest.skip(f"{tests}: {name} is not installed{_how(program)}")
    return next(path for command in program.commands if (path := shutil.which(command)))


def _how(program: bootstrap.Program) -> str:
    manager = bootstrap.find_manager(_MACHINE)
    packages = program.packages.get(manager.program) if manager else None
    return f"; `{' '.join((*manager.install, *packages))}`" if packages else ""


def passed_over(reasons: Iterable[str]) -> list[str]:
    """Return a line for each of ``reasons``, with how many tests were passed over for it."""
    return [
        f"{count} {'test' if count == 1 else 'tests'} of {reason.removeprefix('Skipped: ')}"
        for reason, count in sorted(Counter(reasons).items())
    ]

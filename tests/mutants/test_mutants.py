"""The tool that mutates the analysis, on a toy: mutants that its tests notice, one that they do not, an endless one."""

from __future__ import annotations

import ast
import os
import subprocess
import sys
from pathlib import Path

import pytest
from places import EQUIVALENT, RESULTS, Mutant, drawn, lines_to_reach, read_rows

ROOT = Path(__file__).parents[2]
TOOL = ROOT / "tools" / "mutants"

TOY = """\
LIMIT = 3


def over(number):
    at = 0
    while at < LIMIT:
        at += 1
    return number > at


def twice(number):
    return number * 2
"""
ITS_TEST = """\
from toy import over, twice


def test_over():
    assert over(5)


def test_twice():
    assert twice(2) == 4
"""
DRIVER = """\
import sys
from pathlib import Path
import trial
from places import Mutant
from trial import Timed, stand

trial.LAST_OUTPUT = Path.cwd() / "last-output.txt"
timed = [Timed(f"test_toy.py::{name}", 0.01) for name in ("test_over", "test_twice")]
mutants = [
    Mutant(1, "toy.py", 8, "", "    return number > at\\n", "    return number < at\\n"),
    Mutant(2, "toy.py", 8, "", "    return number > at\\n", "    return number >= at\\n"),
    Mutant(3, "toy.py", 12, "", "    return number * 2\\n", "    return number + 2\\n"),
    Mutant(4, "toy.py", 7, "", "        at += 1\\n", "        at -= 1\\n"),
    Mutant(5, "toy.py", 1, "", "LIMIT = 3\\n", "LIMIT = 9\\n"),
]


def work(at):
    at.ran_already = {2}
    for mutant in mutants:
        trial.NEVER_LESS = 3 if mutant.number == 4 else 60
        print(mutant.number, *at.try_mutant(mutant, timed), file=sys.stderr)


stand(Path.cwd(), mutants, ["test_toy.py"], work)
"""


@pytest.fixture
def toy(tmp_path: Path) -> Path:
    (tmp_path / "toy.py").write_text(TOY)
    (tmp_path / "test_toy.py").write_text(ITS_TEST)
    (tmp_path / "driver.py").write_text(DRIVER)
    (tmp_path / "pytest.ini").write_text("[pytest]\nmarkers =\n  slow\n  audit\n")
    return tmp_path


def test_a_mutant_is_noticed_or_survives_or_is_stopped_in_a_fork_and_in_a_copy(toy: Path) -> None:
    done = subprocess.run(
        [sys.executable, "driver.py"],
        cwd=toy,
        env=os.environ | {"PYTHONPATH": f"{TOOL}{os.pathsep}{toy}", "PYTEST_ADDOPTS": ""},
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.stderr.splitlines() == [
        "1 noticed test_toy.py::test_over",
        "2 survived ",
        "3 survived ",
        "4 stopped SIGXCPU",
        "5 noticed test_toy.py::test_over",
    ]
    assert (toy / "toy.py").read_text() == TOY


def test_a_statement_is_reached_where_it_runs() -> None:
    """Of a compound statement the head; above the body of a function all of it; of a module nothing of its own."""
    tree = ast.parse("A = 1\n@keep\ndef f(x):\n    if (x and\n        A):\n        return 1\n    return 2\n")
    assert [lines_to_reach(tree, line) for line in range(1, 8)] == [
        None,
        range(3, 8),
        range(3, 8),
        range(4, 6),
        range(4, 6),
        range(6, 7),
        range(7, 8),
    ]


def test_a_mutant_finds_its_text_where_lines_moved_and_changes_nothing_where_it_was_rewritten() -> None:
    mutant = Mutant(1, "toy.py", 2, "", "b\n", "c\n")
    assert mutant.apply("b\na\na\na\nb\n") == "c\na\na\na\nb\n"
    assert mutant.apply("a\n") == "a\n"


def test_what_is_kept_of_the_mutants_is_of_one_draw() -> None:
    """Each drawn once, each result and each reason of one that was drawn; none both noticed and called equivalent."""
    numbers = [mutant.number for mutant in drawn()]
    assert numbers == list(range(1, len(numbers) + 1))
    outcomes = {row["number"]: row["outcome"] for row in read_rows(RESULTS)}
    alike = {row["number"] for row in read_rows(EQUIVALENT)}
    assert alike | set(outcomes) <= set(numbers)
    assert [number for number in alike if outcomes.get(number) in ("noticed", "stopped")] == []

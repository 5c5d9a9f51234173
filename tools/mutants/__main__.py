"""``python tools/mutants draw | map [TESTS] | run [SECONDS] | report``: do tests notice when the analysis goes wrong?

Each word goes on where it was left. ``run`` ends after so many seconds, at the next mutant. ``--tree`` says where the
copy lies that is mutated: ``map`` and ``run`` make it, and bring it to the commit that is worked at. ``--most`` says
how many tests a mutant is tried on at most; what survives these is tried on the others another time.
"""

from __future__ import annotations

import argparse
import compileall
import os
import re
import subprocess
import sys
import time
from collections import Counter
from functools import cache, partial
from pathlib import Path
from typing import Any

from draw import draw
from places import EQUIVALENT, HERE, KEPT, RESULTS, ROOT, Mutant, add_row, drawn, read_rows, write_drawn
from reach import importers_in, module_of
from trial import Stand, Timed, stand

QUICK = ("-m", "not slow and not audit")


def bring_up(tree: Path) -> None:
    """Have at ``tree`` a copy of the commit that is worked at."""
    git = ["git", "-C", str(tree if tree.exists() else ROOT)]
    commit = subprocess.run(["git", "-C", ROOT, "rev-parse", "HEAD"], check=True, capture_output=True, text=True)
    where = (
        ["checkout", "--quiet", "--force", "--detach"]
        if tree.exists()
        else ["worktree", "add", "--quiet", "--detach", str(tree)]
    )
    subprocess.run([*git, *where, commit.stdout.strip()], check=True)
    compileall.compile_dir(tree / "builder", quiet=1)
    compileall.compile_dir(tree / "tests", quiet=1)


def map_tests(tree: Path, tests: list[str]) -> int:
    """Note what each of ``tests`` reaches that is not noted yet."""
    bring_up(tree)
    environment = os.environ | {
        "MUTANTS_TREE": str(tree),
        "MUTANTS_MAP": str(KEPT / "map.jsonl"),
        "PYTHONPATH": os.pathsep.join((str(tree), str(HERE))),
    }
    command = [sys.executable, "-m", "pytest", "-q", "-p", "reach", "-p", "no:cacheprovider", *QUICK, *tests]
    return subprocess.run(command, cwd=tree, env=environment, check=False).returncode


_NAME = re.compile('"([a-z]+(?:-[a-z]+)+)"')


def tests_of(mutant: Mutant, tree: Path, rows: list[dict[str, Any]], importers: set[Path]) -> list[Timed]:
    """Return the tests that reach a mutant, the likeliest first.

    That is a test of a file that imports the mutated module, then one of a finding that the module names, near the
    mutant, then of one that a module names which imports from it; and then a test that reaches few and is quick.
    """
    lines = (tree / mutant.file).read_text("utf-8").splitlines()
    near = {name: abs(at - mutant.line) for at, line in enumerate(lines, 1) for name in _NAME.findall(line)}
    at_hand = {name for path in importers for name in _NAME.findall(_text(path))}
    module = module_of(mutant)

    def unlikely(row: dict[str, Any]) -> tuple[float, float, str]:
        file, _, test = row["test"].partition("::")
        name = test.partition("[")[2].rstrip("]")
        far = -1 if module in _text(tree / file) else near.get(name, 10_000 if name in at_hand else 100_000)
        return far, len(row["reaches"]) * (0.05 + row["seconds"]), row["test"]

    found = sorted((row for row in rows if mutant.number in row["reaches"]), key=unlikely)
    return [Timed(row["test"], row["seconds"]) for row in found]


@cache
def _text(path: Path) -> str:
    return path.read_text("utf-8") if path.exists() else ""


def run(tree: Path, seconds: float, most: int) -> int:
    """Try each mutant that has no result yet, or survived when fewer tests reached it."""
    bring_up(tree)
    rows = read_rows(KEPT / "map.jsonl")
    files = dict.fromkeys(row["test"].partition("::")[0] for row in rows)
    there = [file for file in files if (tree / file).exists()]
    stand(tree, drawn(), there, partial(_try_all, rows=rows, end=time.monotonic() + seconds, most=most))
    return 0


def _try_all(at: Stand, rows: list[dict[str, Any]], end: float, most: int) -> None:
    done = {row["number"]: row for row in read_rows(RESULTS)}
    importers = importers_in(at.tree)
    for mutant in sorted(at.mutants, key=lambda mutant: (not at.may_fork(mutant), mutant.number in done)):
        tests = tests_of(mutant, at.tree, rows, importers[module_of(mutant)])[:most]
        before = done.get(mutant.number)
        if before and (before["outcome"] in ("noticed", "stopped") or before["tests"] >= len(tests)):
            continue
        if time.monotonic() > end:
            break
        began = time.monotonic()
        outcome, by = at.try_mutant(mutant, tests)
        took = round(time.monotonic() - began, 1)
        row = {"number": mutant.number, "outcome": outcome, "by": by, "tests": len(tests), "seconds": took}
        add_row(RESULTS, row)
        sys.stderr.write(f"{mutant.number} {outcome} {by} {took}\n")


def report() -> int:
    """Say how many mutants were noticed, by folder, and show those that were not; 1 if that is less than it must be."""
    results = {row["number"]: row for row in read_rows(RESULTS)}
    alike = {row["number"]: str(row["why"]) for row in read_rows(EQUIVALENT)}
    counted: dict[str, Counter[str]] = {}
    survivors = []
    for mutant in drawn():
        if mutant.number in results:
            outcome = "equivalent" if mutant.number in alike else str(results[mutant.number]["outcome"])
            counted.setdefault("/".join(mutant.file.split("/")[:2]), Counter())[outcome] += 1
            survivors += [mutant] if outcome in ("survived", "unreached") else []
    for folder, counts in [*sorted(counted.items()), ("all", sum(counted.values(), Counter()))]:
        sys.stdout.write(f"{folder}: {_told(counts)}\n")
    seconds = sum(float(row["seconds"]) for row in read_rows(RESULTS))
    sys.stdout.write(f"{len(results)} of {len(drawn())} tried in {seconds / 60:.0f} minutes\n")
    sys.stdout.write(
        "What survived was tried on as many tests as results.jsonl says, which need not be all that reach it.\n"
    )
    sys.stdout.writelines(f"\n{mutant.as_diff()}\n" for mutant in survivors)
    return int(bool(survivors))


def _told(counts: Counter[str]) -> str:
    noticed = counts["noticed"] + counts["stopped"]
    judged = counts.total() - counts["equivalent"] - counts["rewritten"]
    share = f"{noticed / judged:.1%}" if judged else "nothing"
    each = ", ".join(f"{count} {outcome}" for outcome, count in counts.most_common())
    return f"{share} of {judged} noticed ({each})"


def main() -> int:
    """Do what the first word says."""
    parser = argparse.ArgumentParser(prog="tools/mutants", description=__doc__)
    parser.add_argument("what", choices=("draw", "map", "run", "report"))
    parser.add_argument("rest", nargs="*", help="tests to map; or for how many seconds to run")
    parser.add_argument("--tree", type=Path, default=KEPT / "tree")
    parser.add_argument("--most", type=int, default=100_000)
    asked = parser.parse_args()
    match asked.what:
        case "draw":
            write_drawn(draw(ROOT))
            return 0
        case "map":
            return map_tests(asked.tree, asked.rest)
        case "run":
            return run(asked.tree, float(asked.rest[0]) if asked.rest else float("inf"), asked.most)
    return report()


if __name__ == "__main__":
    sys.exit(main())

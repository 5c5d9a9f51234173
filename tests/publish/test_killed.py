"""Killed at 30 random moments, the published folder is a whole old site or a whole new one."""

from __future__ import annotations

import hashlib
import json
import random
import subprocess
import sys
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from publishing import fingerprint

HERE = Path(__file__).parent
KILLS = 30
# Forks for each number it reads: the child publishes and is killed at that call of a function, if it comes to it; its
# workers do not count. Prints how many calls it made, 0 if it was killed. Pages, a single file and a PDF: every way in
# which a file is made.
PROGRAM = """
import os, signal, sys
from pathlib import Path
sys.path[:0] = sys.argv[3:]
from publishing import publish_site
from builder.write import lock
lock.PATIENCE_SECONDS = 600  # what a killed publish leaves behind may need a while to end

calls = 0
def count(*_):
    global calls
    calls += 1
    if calls == number and os.getpid() == publishing:
        os.kill(os.getpid(), signal.SIGKILL)

for number in map(int, sys.stdin):
    child = os.fork()
    if child == 0:
        publishing = os.getpid()
        sys.setprofile(count)
        publish_site(Path(sys.argv[1]), Path(sys.argv[2]), ("site", "card", "single-file"))
        sys.setprofile(None)
        print(calls, flush=True)
        os._exit(0)
    status = os.waitpid(child, 0)[1]
    if status:
        print(0 if os.WIFSIGNALED(status) else "failed", flush=True)
"""


@pytest.fixture
def publish_until(base: Path, to: Path) -> Iterator[Callable[[int], int]]:
    """Publishes, is killed at the call with the number given, and tells how many calls it made: 0 if it was killed."""
    command = [sys.executable, "-c", PROGRAM, str(base), str(to), str(HERE.parent)]
    with subprocess.Popen(command, stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True, bufsize=1) as process:
        assert process.stdin
        assert process.stdout
        answers, orders = process.stdout, process.stdin

        def publish(number: int) -> int:
            orders.write(f"{number}\n")
            return int(answers.readline())

        yield publish
        orders.close()


def write_edition(base: Path, edition: int) -> None:
    path = base / "content/procedures/example/procedure.md"
    lines = [f'edition: "{edition}"' if line.startswith("edition:") else line for line in path.read_text().split("\n")]
    path.write_text("\n".join(lines))


def whole_edition(site: Path) -> str:
    """Return the edition of ``site``, after checking every file against its report: none missing, strange, other."""
    report = json.loads((site / "build-report.json").read_text())
    listed = {one["path"]: one["sha256"] for one in report["artefacts"]} | report["files"]
    found = {path.relative_to(site).as_posix() for path in site.rglob("*") if path.is_file()}
    assert found == {*listed, "build-report.json"}
    for name, digest in listed.items():
        assert hashlib.sha256((site / name).read_bytes()).hexdigest() == digest, name
    [edition] = {one["edition"] for one in report["artefacts"] if one["procedure"] == "example"}
    assert f"{edition}, draft" in (site / "example/index.html").read_text()
    return str(edition)


@pytest.mark.slow
def test_killed_at_thirty_moments_the_site_is_whole(base: Path, to: Path, publish_until: Callable[[int], int]) -> None:
    write_edition(base, 1)
    calls = publish_until(0)
    assert calls > 100_000
    chance = random.Random(4)
    ended = []
    for edition in range(2, KILLS + 2):
        before, old = fingerprint(to), whole_edition(to)
        write_edition(base, edition)
        number = int(calls * chance.uniform(0, 1.15))
        is_ended = publish_until(number) > 0
        found = whole_edition(to)
        assert found == str(edition) if is_ended else found in (old, str(edition)), f"killed at call {number}"
        assert found != old or fingerprint(to) == before, f"killed at call {number}, the old site was touched"
        ended.append(is_ended)
    assert {True, False} == set(ended), "all or none were interrupted, so the moments prove nothing"
    assert publish_until(0) > 0
    assert [entry.name for entry in to.parent.iterdir()] == ["public"]

"""Killed at 100 random moments, the published folder is a whole old site or a whole new one."""

from __future__ import annotations

import hashlib
import json
import random
import shutil
import subprocess
import sys
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from publishing import fingerprint

HERE = Path(__file__).parent
KILLS = 100
OUTPUTS = ("site", "card", "single-file")
"""Pages, a single file and a PDF: every way in which a file is made."""
# Publishes the departments given, in turn, as often as it reads a number: in a process of its own, which is killed at
# that call of a function, if it comes to it. Prints how many calls that one made, 0 if it was killed. It has published
# them itself before, so that what is killed knows what they say and has what they print: most of it is writing.
PROGRAM = """
import itertools, os, signal, sys
from pathlib import Path
sys.path.append(sys.argv[1])
from department import read
from builder.load.templates import load_templates
from builder.pipeline import publish
from builder.write import lock
lock.PATIENCE_SECONDS = 600  # what a killed publish leaves behind may need a while to end

calls = 0
def count(*_):
    global calls
    calls += 1
    if calls == number:
        os.kill(os.getpid(), signal.SIGKILL)

to, only, roots = Path(sys.argv[2]), sys.argv[3].split(), [Path(name) for name in sys.argv[4:]]
departments = [(read(root)[0], load_templates(root)) for root in roots]
for library, templates in departments:
    publish(library, to, templates, only=only)
for line, (library, templates) in zip(sys.stdin, itertools.cycle(departments)):
    number = int(line)
    child = os.fork()
    if child == 0:
        sys.setprofile(count)
        publish(library, to, templates, only=only)
        sys.setprofile(None)
        print(calls, flush=True)
        os._exit(0)
    status = os.waitpid(child, 0)[1]
    if status:
        print(0 if os.WIFSIGNALED(status) else "failed", flush=True)
"""


@pytest.fixture
def publish_until(base: Path, to: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Callable[[int], int]]:
    """Publishes edition 1, then 2, then 1 ...; is killed at the call with the number given, and tells how many calls it
    made: 0 if it was killed."""
    editions = [Path(shutil.copytree(base, to.parents[1] / name)) for name in ("one", "two")]
    for number, root in enumerate(editions, 1):
        write_edition(root, number)
    monkeypatch.setenv("PRESCRUB_CACHE", str(to.parents[1] / "cache"))
    command = [sys.executable, "-c", PROGRAM, str(HERE.parent), str(to), " ".join(OUTPUTS), *map(str, editions)]
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
def test_killed_at_a_hundred_moments_the_site_is_whole(to: Path, publish_until: Callable[[int], int]) -> None:
    calls = publish_until(0)
    assert calls > 50_000
    chance = random.Random(4)
    ended = []
    for kill in range(KILLS):
        before, old, wanted = fingerprint(to), whole_edition(to), "21"[kill % 2]
        number = int(calls * chance.uniform(0, 1.15))
        is_ended = publish_until(number) > 0
        found = whole_edition(to)
        assert found == wanted if is_ended else found in (old, wanted), f"killed at call {number}"
        assert found != old or fingerprint(to) == before, f"killed at call {number}, the old site was touched"
        ended.append(is_ended)
    assert 0 < sum(ended) < KILLS / 4, "all or most ended, so the moments prove nothing"
    assert publish_until(0) > 0
    assert [entry.name for entry in to.parent.iterdir()] == ["public"]

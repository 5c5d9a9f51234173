"""Issue 2, show 4: killed at 30 random moments, the published folder is a whole old site or a whole new one."""

from __future__ import annotations

import hashlib
import json
import random
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest
from publishing import fingerprint

HERE = Path(__file__).parent
KILLS = 30
# Pages, a single file and a PDF: every way in which a file is made.
PROGRAM = (
    "import sys; from pathlib import Path; sys.path[:0] = sys.argv[3:]; from publishing import publish_site;"
    "publish_site(Path(sys.argv[1]), Path(sys.argv[2]), ('site', 'card', 'single-file'))"
)


def start(base: Path, to: Path) -> subprocess.Popen[bytes]:
    command = [sys.executable, "-c", PROGRAM, str(base), str(to), str(HERE.parent)]
    return subprocess.Popen(command, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)


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
def test_killed_at_thirty_moments_the_site_is_whole(base: Path, to: Path) -> None:
    write_edition(base, 1)
    began = time.monotonic()
    assert start(base, to).wait() == 0
    took = time.monotonic() - began
    chance = random.Random(4)
    ended = []
    for edition in range(2, KILLS + 2):
        before, old = fingerprint(to), whole_edition(to)
        write_edition(base, edition)
        moment = took * chance.uniform(0, 1.15)
        process = start(base, to)
        time.sleep(moment)
        process.send_signal(signal.SIGKILL)
        process.wait()
        found = whole_edition(to)
        assert found in (old, str(edition)), f"killed after {moment:.3f} s"
        assert found != old or fingerprint(to) == before, f"killed after {moment:.3f} s, the old site was touched"
        ended.append(found != old)
    assert True in ended, "no publish ever ended, so the moments prove nothing"
    assert False in ended, "no publish was ever interrupted, so the moments prove nothing"
    assert start(base, to).wait() == 0
    assert [entry.name for entry in to.parent.iterdir()] == ["public"]

"""Issue 2, show 4: killed at 30 random moments, the published folder is a whole old site or a whole new one."""

from __future__ import annotations

import random
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest
from publishing import fingerprint, publish_all

HERE = Path(__file__).parent
KILLS = 30
PROGRAM = (
    "import sys; from pathlib import Path; sys.path[:0] = sys.argv[3:]; from publishing import publish_all;"
    "publish_all(Path(sys.argv[1]), Path(sys.argv[2]))"
)


def start(base: Path, to: Path) -> subprocess.Popen[bytes]:
    command = [sys.executable, "-c", PROGRAM, str(base), str(to), str(HERE.parent)]
    return subprocess.Popen(command, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)


def write_edition(base: Path, edition: int) -> None:
    path = base / "content/procedures/example/procedure.md"
    lines = [f'edition: "{edition}"' if line.startswith("edition:") else line for line in path.read_text().split("\n")]
    path.write_text("\n".join(lines))


@pytest.mark.slow
def test_killed_at_thirty_moments_the_site_is_whole(base: Path, to: Path) -> None:
    whole = {}
    for edition in (1, 2):
        write_edition(base, edition)
        publish_all(base, to.with_name(f"whole-{edition}"))
        whole[fingerprint(to.with_name(f"whole-{edition}"))] = edition
    began = time.monotonic()
    assert start(base, to).wait() == 0
    took = time.monotonic() - began
    now = whole[fingerprint(to)]
    moments = random.Random(4).sample([took * part / 1000 for part in range(1, 1100)], KILLS)
    seen = []
    for moment in moments:
        write_edition(base, 3 - now)
        process = start(base, to)
        time.sleep(moment)
        process.send_signal(signal.SIGKILL)
        process.wait()
        found = fingerprint(to)
        assert found in whole, f"killed after {moment:.3f} s, the site is neither the old one nor the new one"
        seen.append(whole[found] != now)
        now = whole[found]
    assert True in seen, "no publish ever ended, so the moments prove nothing"
    assert False in seen, "no publish was ever interrupted, so the moments prove nothing"
    assert start(base, to).wait() == 0
    assert sorted(entry.name for entry in to.parent.iterdir()) == ["public", "whole-1", "whole-2"]

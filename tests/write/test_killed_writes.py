"""Whenever a writer is killed: after the next start all is as before or as after, whole, and nothing is left behind."""

from __future__ import annotations

import json
import os
import random
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest

from builder.edit.file_change import FileChange
from builder.write import lock
from builder.write.lock import UNDO_FOLDER, NotWritten
from builder.write.writer import digest_now, last_edit, recover, write_files

HERE = Path(__file__).parent
PROJECT = HERE.parents[1]
FILES = [f"content/procedures/p/steps/step-{number}.md" for number in range(20)]
WRITES_FOR_EVER = (
    "import sys; from pathlib import Path; from builder.edit.file_change import FileChange;"
    "from builder.write.writer import digest_now, write_files; root = Path(sys.argv[1]); number = 0\n"
    "while True:\n"
    "    number += 1\n"
    "    names = sys.argv[2:]\n"
    "    changes = {one: FileChange(str(number) * 9000, digest_now(root, one)) for one in names}\n"
    "    write_files(root, changes, str(number))\n"
)


def start(*words: str) -> subprocess.Popen[str]:
    environment = {**os.environ, "PYTHONPATH": str(PROJECT)}
    return subprocess.Popen([sys.executable, *words], stdout=subprocess.PIPE, text=True, env=environment)


@pytest.mark.parametrize("work", ["one", "all", "undo", "ledger"])
def test_killed_at_every_call_all_is_old_or_new_and_nothing_is_left(work: str, tmp_path: Path) -> None:
    process = start(str(HERE / "kill_points.py"), str(tmp_path / "department"), work)
    told = [json.loads(line) for line in process.communicate()[0].splitlines()]
    assert process.returncode == 0
    assert len(told) > 20
    assert [one for one in told if one["is"] == "neither" or one["left"]] == []
    assert {one["is"] for one in told} == {"old", "new"}


def test_killed_at_random_moments_files_are_whole_and_of_one_change(tmp_path: Path) -> None:
    chance = random.Random(7)
    for _ in range(5):
        process = start("-c", WRITES_FOR_EVER, str(tmp_path), *FILES)
        while not last_edit(tmp_path):
            assert process.poll() is None
            time.sleep(0.01)
        time.sleep(chance.uniform(0, 0.2))
        process.send_signal(signal.SIGKILL)
        process.communicate()
        recover(tmp_path)
        texts = {(tmp_path / name).read_text() for name in FILES}
        assert len(texts) == 1
        assert len(texts.pop()) >= 9000
        assert sorted(path.name for path in (tmp_path / FILES[0]).parent.iterdir()) == sorted(
            name.rsplit("/", 1)[1] for name in FILES
        )
        assert [path.name for path in (tmp_path / UNDO_FOLDER).iterdir() if path.suffix in (".begun", ".part")] == []


def test_what_a_living_writer_is_at_is_left_alone(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    process = start("-c", WRITES_FOR_EVER, str(tmp_path), *FILES)
    folder = tmp_path / UNDO_FOLDER
    try:
        while True:  # until it is stopped in the middle of a change
            process.send_signal(signal.SIGCONT)
            time.sleep(0.005)
            process.send_signal(signal.SIGSTOP)
            os.waitpid(process.pid, os.WUNTRACED)
            if folder.is_dir() and list(folder.glob("*.begun")) and list(tmp_path.rglob(".prescrub-*.part")):
                break
        before = sorted(tmp_path.rglob("*"))
        recover(tmp_path)
        monkeypatch.setattr(lock, "PATIENCE_SECONDS", 0.0)
        with pytest.raises(NotWritten, match="Another prescrub is writing"):
            write_files(tmp_path, {"content/x.md": FileChange("x", None)}, "x")
        assert sorted(tmp_path.rglob("*")) == before
    finally:
        process.kill()
        process.communicate()
    write_files(tmp_path, {"content/x.md": FileChange("x", digest_now(tmp_path, "content/x.md"))}, "x")
    assert list(tmp_path.rglob("*.part")) == []

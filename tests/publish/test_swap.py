"""The target is wholly the old site or wholly the new one, and the work folder leaves nothing behind."""

from __future__ import annotations

import errno
import fcntl
import itertools
import os
import shutil
import signal
import sys
from pathlib import Path

import pytest

from builder.write import lock, swap
from builder.write.lock import NotWritten
from builder.write.swap import WorkFolder, exchange, is_interrupted, work_folder


def site(folder: Path, text: str) -> Path:
    folder.mkdir(parents=True)
    (folder / "index.html").write_text(text)
    return folder


def test_a_new_target_is_put_in_place_and_nothing_is_left_beside_it(to: Path) -> None:
    with work_folder(to) as work:
        site(work.new, "new")
        work.put_in_place()
    assert (to / "index.html").read_text() == "new"
    assert [entry.name for entry in to.parent.iterdir()] == ["public"]


def test_an_old_target_is_exchanged(to: Path) -> None:
    site(to, "old")
    with work_folder(to) as work:
        site(work.new, "new")
        work.put_in_place()
    assert (to / "index.html").read_text() == "new"
    assert [entry.name for entry in to.parent.iterdir()] == ["public"]


def test_the_old_site_stays_when_making_the_new_one_fails(to: Path) -> None:
    site(to, "old")

    def fails() -> None:
        with work_folder(to) as work:
            site(work.new, "half")
            raise ValueError("it went wrong")

    with pytest.raises(ValueError, match="it went wrong"):
        fails()
    assert (to / "index.html").read_text() == "old"
    assert [entry.name for entry in to.parent.iterdir()] == ["public"]


def test_the_kernel_exchanges_two_folders_in_one_step(tmp_path: Path) -> None:
    one, other = site(tmp_path / "one", "1"), site(tmp_path / "other", "2")
    if not exchange(one, other):
        pytest.skip("the swap: this system has no renameat2, or its file system cannot exchange names")
    assert (one / "index.html").read_text() == "2"
    assert (other / "index.html").read_text() == "1"


def test_without_exchange_two_renames_do(to: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(swap, "exchange", lambda one, other: False)
    site(to, "old")
    with work_folder(to) as work:
        site(work.new, "new")
        work.put_in_place()
    assert (to / "index.html").read_text() == "new"
    assert [entry.name for entry in to.parent.iterdir()] == ["public"]


def test_the_old_site_is_put_back_when_the_second_of_two_renames_fails(
    to: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(swap, "exchange", lambda one, other: False)
    site(to, "old")
    real = Path.rename

    def rename(self: Path, target: Path) -> Path:
        if self.name == "new":
            raise OSError(errno.EACCES, "no right")
        return real(self, target)

    monkeypatch.setattr(Path, "rename", rename)

    def fails() -> None:
        with work_folder(to) as work:
            site(work.new, "new")
            work.put_in_place()

    with pytest.raises(OSError, match="no right"):
        fails()
    assert (to / "index.html").read_text() == "old"


def killed_while_files_are_replaced(to: Path, at: int) -> bool:
    """Put a new site in place file by file, in a process that is killed at its ``at``-th call that moves or removes a
    file; tell whether it was."""
    child = os.fork()
    if child == 0:
        with work_folder(to) as work:
            site(work.new / "second", "new")
            (work.new / "index.html").write_text("new")
            left = itertools.count(1)

            def die(event: str, _: object) -> None:
                if event in ("os.rename", "os.remove", "os.rmdir", "os.mkdir") and next(left) == at:
                    os.kill(os.getpid(), signal.SIGKILL)

            swap.exchange = lambda one, other: False  # type: ignore[assignment]
            WorkFolder._renamed = lambda self: False  # type: ignore[method-assign]
            sys.addaudithook(die)
            work.put_in_place()
            os._exit(0)
    return os.waitpid(child, 0)[1] != 0


def content(folder: Path) -> dict[str, str]:
    return {path.relative_to(folder).as_posix(): path.read_text() for path in folder.rglob("*") if path.is_file()}


def test_killed_while_files_are_replaced_one_by_one_the_next_puts_the_old_site_back(to: Path) -> None:
    old = {"index.html": "old", "first/index.html": "old", "second/index.html": "old"}
    new = {"index.html": "new", "second/index.html": "new"}
    was_interrupted, at, is_killed = [], 0, True
    while is_killed:
        at += 1
        for name in old:
            (to / name).parent.mkdir(parents=True, exist_ok=True)
            (to / name).write_text("old")
        is_killed = killed_while_files_are_replaced(to, at)
        was_interrupted.append(is_interrupted(to))
        with work_folder(to):
            assert content(to) in (old, new), at
            assert content(to) == old or not was_interrupted[-1], at
        assert [entry.name for entry in to.parent.iterdir()] == ["public"]
        shutil.rmtree(to)
    assert sum(was_interrupted) > 4, at


def test_a_file_that_is_held_open_for_a_moment_is_waited_for(to: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(swap, "exchange", lambda one, other: False)
    monkeypatch.setattr(WorkFolder, "_renamed", lambda self: False)
    monkeypatch.setattr(swap, "_WAIT_SECONDS", 0)
    real, refusals = Path.replace, [1, 1, 1]

    def replace(self: Path, target: Path) -> Path:
        if refusals and target.is_relative_to(to):
            refusals.pop()
            raise PermissionError(errno.EACCES, "in use", str(target))
        return real(self, target)

    monkeypatch.setattr(Path, "replace", replace)
    site(to, "old")
    with work_folder(to) as work:
        site(work.new, "new")
        work.put_in_place()
    assert content(to) == {"index.html": "new"}


def test_a_publish_killed_between_two_renames_is_mended_by_the_next(to: Path) -> None:
    left = to.parent / ".prescrub-public"
    site(left / "old", "old")
    site(left / "new", "half")
    (left / "lock").touch()
    with work_folder(to) as work:
        assert (to / "index.html").read_text() == "old"
        assert not work.new.exists()
    assert [entry.name for entry in to.parent.iterdir()] == ["public"]


def test_what_a_killed_publish_left_is_removed(to: Path) -> None:
    left = to.parent / ".prescrub-public"
    site(left / "new" / "deep", "half")
    (left / "lock").touch()
    with work_folder(to):
        assert [entry.name for entry in left.iterdir()] == ["lock"]


def test_a_second_publish_to_the_same_folder_is_told_to_wait(to: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(lock, "PATIENCE_SECONDS", 0.1)
    with work_folder(to) as work:
        site(work.new, "new")
        with pytest.raises(NotWritten, match=r"Another publish to .* is running\. Wait"), work_folder(to):
            pass
        assert work.new.is_dir()


def test_two_targets_in_one_folder_do_not_wait_for_each_other(to: Path) -> None:
    with work_folder(to), work_folder(to.with_name("other")):
        pass


def test_the_lock_ends_with_its_process(to: Path) -> None:
    left = to.parent / ".prescrub-public"
    left.mkdir(parents=True)
    child = os.fork()
    if child == 0:
        fcntl.flock(os.open(left / "lock", os.O_RDWR | os.O_CREAT), fcntl.LOCK_EX)
        os.kill(os.getpid(), 9)
    os.waitpid(child, 0)
    with work_folder(to):
        pass


@pytest.mark.parametrize("kind", ["folder", "link"])
def test_a_folder_of_that_name_that_is_not_ours_is_left_alone(to: Path, tmp_path: Path, kind: str) -> None:
    strange = to.parent / ".prescrub-public"
    if kind == "folder":
        site(strange, "precious")
    else:
        to.parent.mkdir()
        strange.symlink_to(site(tmp_path / "elsewhere", "precious"))
    with pytest.raises(NotWritten, match="was not made by prescrub"), work_folder(to):
        pass
    assert (strange / "index.html").read_text() == "precious"

"""Every call of a publish that writes fails in turn: the old site or the new stands, whole, and the next succeeds."""

from __future__ import annotations

import errno
import os
import shutil
import sys
from pathlib import Path

import pytest
from department import read
from publishing import fingerprint

from builder.load.templates import load_templates
from builder.model.library import Library
from builder.pipeline import publish
from builder.publish.publish_error import PublishError
from builder.write import swap

_WRITING = os.O_WRONLY | os.O_RDWR | os.O_CREAT
_ERRORS = (errno.ENOSPC, errno.EIO, errno.EACCES)
ONLY = ("rehearsal-text",)


class Faults:
    """What the system refuses: the call number ``at`` below ``root``, of those that change a file or a folder."""

    root = ""
    at = -1
    seen = 0

    @classmethod
    def begin(cls, root: Path, at: int) -> None:
        cls.root, cls.at, cls.seen = str(root), at, 0

    @classmethod
    def end(cls) -> int:
        cls.root = ""
        return cls.seen

    @classmethod
    def point(cls, path: str) -> None:
        if not cls.root or not path.startswith(cls.root):
            return
        cls.seen += 1
        if cls.seen - 1 == cls.at:
            number = _ERRORS[cls.at % len(_ERRORS)]
            raise OSError(number, os.strerror(number), path)


def _watch(event: str, arguments: tuple[object, ...]) -> None:
    if not Faults.root:
        return
    if event == "open":
        path, _, flags = arguments
        if isinstance(flags, int) and flags & _WRITING and isinstance(path, str | os.PathLike):
            Faults.point(os.fspath(path))
    elif event in ("os.rename", "os.remove", "os.mkdir", "os.rmdir", "os.chmod"):
        path = arguments[0]
        if isinstance(path, str | os.PathLike):
            Faults.point(os.fspath(path))


sys.addaudithook(_watch)  # it cannot be taken away again, and does nothing unless a test asks for faults


def let_swaps_fail(monkeypatch: pytest.MonkeyPatch, *, can_exchange: bool, can_rename: bool) -> None:
    """Count exchange and flush, which the system does not tell of, among the calls that fail."""
    exchange, flush, rename = swap.exchange, swap._flush, Path.rename

    def exchanged(one: Path, other: Path) -> bool:
        Faults.point(str(one))
        return can_exchange and exchange(one, other)

    def flushed(folder: Path) -> None:
        Faults.point(str(folder))
        flush(folder)

    def renamed(self: Path, target: Path) -> Path:
        if self.name == "public" and not can_rename:  # as on Windows, while a file in it is open
            raise PermissionError(errno.EACCES, os.strerror(errno.EACCES), str(self))
        return rename(self, target)

    monkeypatch.setattr(Path, "rename", renamed)
    monkeypatch.setattr(swap, "_WAIT_SECONDS", 0)
    monkeypatch.setattr(swap, "exchange", exchanged)
    monkeypatch.setattr(swap, "_flush", flushed)


def failing_publish(library: Library, root: Path, out: Path, at: int) -> tuple[int, bool]:
    """Publish while the call number ``at`` fails; return how many calls there were, and whether it was refused."""
    Faults.begin(out, at)
    try:
        publish(library, out / "public", load_templates(root), only=ONLY)
    except PublishError:
        return Faults.end(), True
    return Faults.end(), False


@pytest.mark.parametrize("way", ["exchange", "two renames", "file by file"])
def test_whatever_call_fails_a_whole_site_stands_and_the_next_publish_succeeds(
    way: str, base: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    let_swaps_fail(monkeypatch, can_exchange=way == "exchange", can_rename=way != "file by file")
    templates, to = load_templates(base), tmp_path / "out/public"
    publish(read(base)[0], tmp_path / "old", templates, only=ONLY)
    step = base / "content/procedures/example/steps/cut-skin.md"
    step.write_text(step.read_text("utf-8").replace("title: ", "title: Now ", 1), "utf-8")
    library, _ = read(base)
    publish(library, tmp_path / "new", templates, only=ONLY)
    whole = {fingerprint(tmp_path / "old"), fingerprint(tmp_path / "new")}
    assert len(whole) == 2
    to.parent.mkdir()
    at, seen, refused = -1, 0, 0
    while seen > at:  # the last run has no call of that number, so nothing failed in it
        at += 1
        shutil.copytree(tmp_path / "old", to)
        seen, is_refused = failing_publish(library, base, to.parent, at)
        refused += is_refused
        assert fingerprint(to) in whole, at
        # This process still helps the publish that failed; whoever publishes again is another, and this one has ended.
        shutil.rmtree(to.parent / f".prescrub-{to.name}", ignore_errors=True)
        publish(library, to, templates, only=ONLY)
        assert fingerprint(to) == fingerprint(tmp_path / "new"), at
        shutil.rmtree(to)
    assert refused > 8, seen

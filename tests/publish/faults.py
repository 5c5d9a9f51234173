"""The calls that write fail, or end the process, one after the other: what the system or a pulled plug may do to any.

Run as a program, with a folder and ``publish`` or ``issue``, it kills a process of its own at each call in turn, and
prints a JSON object for each: its number, what the site then is, and what the next publish makes of it.
"""

from __future__ import annotations

import errno
import json
import os
import shutil
import signal
import sys
from collections.abc import Callable, Iterator
from pathlib import Path

sys.path += [str(Path(__file__).parents[depth]) for depth in (1, 2)]

import pytest
from department import new_base, read
from publishing import fingerprint

from builder.load.ledger import NAME as LEDGER
from builder.load.templates import load_templates
from builder.model.edition import edition_of
from builder.model.library import Library
from builder.pipeline import publish
from builder.write import lock, swap

_WRITING = os.O_WRONLY | os.O_RDWR | os.O_CREAT
_ERRORS = (errno.ENOSPC, errno.EIO, errno.EACCES)
ONLY = ("rehearsal-text",)
EXAMPLE = "content/procedures/example"


class Faults:
    """What the system refuses: the call number ``at`` below ``root``, of those that change a file or a folder.

    With ``kills`` the process ends there instead.
    """

    kills = False
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
            if cls.kills:
                os.kill(os.getpid(), signal.SIGKILL)
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
    exchange, flush, rename, sync = swap.exchange, swap._flush, Path.rename, os.fsync

    def exchanged(one: Path, other: Path) -> bool:
        Faults.point(str(one))
        return can_exchange and exchange(one, other)

    def flushed(folder: Path) -> None:
        Faults.point(str(folder))
        flush(folder)

    def synced(handle: int) -> None:
        Faults.point(str(Path(f"/proc/self/fd/{handle}").readlink()))
        sync(handle)

    def renamed(self: Path, target: Path) -> Path:
        if self.name == "public" and not can_rename:  # as on Windows, while a file in it is open
            raise PermissionError(errno.EACCES, os.strerror(errno.EACCES), str(self))
        return rename(self, target)

    monkeypatch.setattr(Path, "rename", renamed)
    monkeypatch.setattr(swap, "_WAIT_SECONDS", 0)
    monkeypatch.setattr(swap, "exchange", exchanged)
    monkeypatch.setattr(swap, "_flush", flushed)
    monkeypatch.setattr(os, "fsync", synced)


def approved_base(folder: Path) -> Path:
    """Return a new smallest department in ``folder``, approved and never issued."""
    root = new_base(folder)
    path = root / EXAMPLE / "procedure.md"
    library, _ = read(root)
    content = edition_of(library, library.procedures[0]).content
    told = f"{{by: Ada Example, role: lead, on: 2026-11-01, content: {content}}}"
    path.write_text(path.read_text("utf-8").replace("status: draft", f"status: approved\napproval: {told}"), "utf-8")
    return root


def change_text(root: Path) -> None:
    """Let the department in ``root`` say something else."""
    step = root / EXAMPLE / "steps/cut-skin.md"
    step.write_text(step.read_text("utf-8").replace("title: ", "title: Now ", 1), "utf-8")


class FaultyPublish:
    """A publish of the smallest department in ``folder``, warm, over its ``old`` site; one that ``issues`` adds a line
    to its ledger as well."""

    def __init__(self, folder: Path, *, issues: bool) -> None:
        self.folder, self.issues = folder, issues
        self.kept = folder.with_name("kept")
        root = approved_base(self.kept) if issues else new_base(self.kept)
        self._publish(root, self.kept / "public", issue=False)
        if not issues:
            change_text(root)
        self.reset()
        self.old = self.state()
        self.publish()
        self.new = self.state()
        self.reset()

    @property
    def root(self) -> Path:
        """The department."""
        return self.folder / "department"

    def reset(self) -> None:
        """Have the folder as it was before."""
        shutil.rmtree(self.folder, ignore_errors=True)
        shutil.copytree(self.kept, self.folder)

    def publish(self) -> None:
        """Publish, and issue."""
        self._publish(self.root, self.folder / "public", issue=self.issues)

    def _publish(self, root: Path, to: Path, *, issue: bool) -> None:
        library: Library = read(root)[0]
        publish(library, to, load_templates(root), only=ONLY, issue=issue)

    def state(self) -> tuple[str, str]:
        """Return what the site is, and what the ledger says."""
        ledger = self.root / LEDGER
        return fingerprint(self.folder / "public"), ledger.read_text("utf-8") if ledger.exists() else ""

    def judged(self) -> str:
        """Return "old" or "new" for a site that is whole, and tells of no code that the ledger does not have; where
        the ledger has a line more than the site, "ahead": no card lacks a line; else "neither"."""
        known = {(self.old[0], self.new[1]): "ahead", self.old: "old", self.new: "new"}
        return known.get(self.state(), "neither")


def killed_at(number: int, work: Callable[[], None], root: Path) -> bool:
    """Do ``work`` in a process that is killed at its call ``number`` below ``root``; tell whether it came to that."""
    child = os.fork()
    if child == 0:
        Faults.kills = True
        Faults.begin(root, number)
        work()
        os._exit(0)
    return os.WIFSIGNALED(os.waitpid(child, 0)[1])


def kills(folder: Path, *, issues: bool) -> Iterator[tuple[int, str, str]]:
    """Yield the number of each call at which the process was killed, what the folder is then, and after the next."""
    faulty, number = FaultyPublish(folder, issues=issues), 0
    while killed_at(number, faulty.publish, folder):
        left = faulty.judged()
        faulty.publish()
        yield number, left, faulty.judged()
        faulty.reset()
        number += 1


def main(folder: Path, what: str) -> None:
    """Print what came of each kill."""
    lock.PATIENCE_SECONDS = 600.0  # what was killed may need a while to end
    with pytest.MonkeyPatch.context() as patch:
        let_swaps_fail(patch, can_exchange=True, can_rename=True)
        for number, left, then in kills(folder, issues=what == "issue"):
            sys.stdout.write(json.dumps({"killed": number, "left": left, "then": then}) + "\n")


if __name__ == "__main__":
    main(Path(sys.argv[1]), sys.argv[2])

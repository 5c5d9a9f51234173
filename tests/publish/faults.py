"""The calls that write fail, or end the process, one after the other: what the system or a pulled plug may do to any.

Run as a program, with a folder and ``publish`` or ``issue``, it kills a process of its own at each call in turn, and
prints a JSON object for each: its number, what the site then is, and what the next publish makes of it. With a folder
and ``demo`` it prints what a fault and a kill leave at each place of the program that writes, for every usual output.
"""

from __future__ import annotations

import errno
import json
import os
import shutil
import signal
import sys
from collections.abc import Callable, Collection, Iterator
from dataclasses import asdict, dataclass
from pathlib import Path

sys.path += [str(Path(__file__).parents[depth]) for depth in (1, 2)]

import pytest
from department import DEMO, new_base, read
from publishing import fingerprint

from builder.load.ledger import NAME as LEDGER
from builder.load.templates import load_templates
from builder.model.edition import edition_of
from builder.model.library import Library
from builder.outputs import OUTPUTS
from builder.pipeline import publish
from builder.publish import jobs
from builder.publish.cache import Cache
from builder.publish.publish_error import PublishError
from builder.publish.publishing import Means
from builder.write import lock, swap
from builder.write.lock import HELPERS, LOCK
from builder.write.swap import work_folder

_WRITING = os.O_WRONLY | os.O_RDWR | os.O_CREAT
_ERRORS = (errno.ENOSPC, errno.EIO, errno.EACCES)
ONLY = ("rehearsal-text",)
EXAMPLE = "content/procedures/example"
_BUILDER = str(DEMO / "builder") + os.sep
_IN_WORDS, _NOT_IN_WORDS = 0, 1


class Faults:
    """What the system refuses: the call number ``at`` below ``root``, of those that change a file or a folder.

    With ``kills`` the process ends there instead.
    """

    kills = False
    root = ""
    at = -1
    seen = 0
    meet: Callable[[str, str], None] | None = None
    """Told of each such call, by its path and what it does, in place of all that."""

    @classmethod
    def begin(cls, root: Path, at: int) -> None:
        cls.root, cls.at, cls.seen = str(root), at, 0

    @classmethod
    def end(cls) -> int:
        cls.root = ""
        return cls.seen

    @classmethod
    def point(cls, path: str, what: str) -> None:
        if not cls.root or not path.startswith(cls.root):
            return
        cls.seen += 1
        if cls.meet:
            cls.meet(path, what)
        elif cls.seen - 1 == cls.at:
            if cls.kills:
                os.kill(os.getpid(), signal.SIGKILL)
            raise refusal(cls.at, path)


def refusal(number: int, path: str) -> OSError:
    """Return what the system says of ``path``: no space, an error of the disk, no right, by turns."""
    error = _ERRORS[number % len(_ERRORS)]
    return OSError(error, os.strerror(error), path)


def _watch(event: str, arguments: tuple[object, ...]) -> None:
    if not Faults.root:
        return
    if event == "open":
        path, _, flags = arguments
        if isinstance(flags, int) and flags & _WRITING and isinstance(path, str | os.PathLike):
            Faults.point(os.fspath(path), event)
    elif event in ("os.rename", "os.remove", "os.mkdir", "os.rmdir", "os.chmod"):
        path = arguments[0]
        if isinstance(path, str | os.PathLike):
            Faults.point(os.fspath(path), event)


sys.addaudithook(_watch)  # it cannot be taken away again, and does nothing unless a test asks for faults


def let_swaps_fail(monkeypatch: pytest.MonkeyPatch, *, can_exchange: bool, can_rename: bool) -> None:
    """Count exchange and flush, which the system does not tell of, among the calls that fail."""
    exchange, flush, rename, sync = swap.exchange, swap._flush, Path.rename, os.fsync

    def exchanged(one: Path, other: Path) -> bool:
        Faults.point(str(one), "exchange")
        return can_exchange and exchange(one, other)

    def flushed(folder: Path) -> None:
        Faults.point(str(folder), "flush")
        flush(folder)

    def synced(handle: int) -> None:
        Faults.point(str(Path(f"/proc/self/fd/{handle}").readlink()), "fsync")
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


@dataclass(frozen=True, slots=True)
class Met:
    """What one place of the program that writes leaves: a site that is old, new or neither, if the call fails and if
    the process is killed there; whether the program ended in plain words."""

    place: str
    failed: str
    killed: str
    in_words: bool


class CallSites:
    """A publish to ``to``, over a site that is ``whole["old"]``, which meets each place that writes once.

    There it stands still. A copy of the process meets the fault and goes on from there alone; what it leaves is judged,
    and the folder put back. A killed process changes nothing more: so a copy of the folder as it is at that instant is
    what it leaves, and is taken by the next publish. Then the process itself goes on.
    """

    def __init__(self, to: Path, whole: dict[str, str]) -> None:
        self.to, self._names = to, {digest: name for name, digest in whole.items()}
        self.met: dict[str, Met] = {}
        self._kept = to.parent.with_name("kept")

    def run(self, publishing: Callable[[], object]) -> None:
        """Publish, and meet all of them."""
        own = os.getpid()
        Faults.begin(self.to.parent, -1)
        Faults.meet = self._meet
        try:
            publishing()
        except PublishError:
            if own == os.getpid():
                raise
            os._exit(_IN_WORDS)
        except BaseException:
            if own == os.getpid():
                raise
            os._exit(_NOT_IN_WORDS)
        finally:
            Faults.meet = None
            Faults.end()
        if own != os.getpid():
            os._exit(_IN_WORDS)

    def _meet(self, path: str, what: str) -> None:
        place = f"{_place()} {what}"
        if place in self.met:
            return
        root, Faults.root = Faults.root, ""  # what is done here is no call of the publish
        shutil.copytree(self.to.parent, self._kept, copy_function=_linked)
        child = os.fork()
        if child == 0:
            raise refusal(len(self.met), path)
        status = os.waitpid(child, 0)[1]
        failed = self._judged(self.to)
        shutil.rmtree(self.to.parent)
        shutil.copytree(self._kept, self.to.parent, copy_function=_linked)
        with work_folder(self._kept / self.to.name):
            pass  # what every publish begins with
        killed = self._judged(self._kept / self.to.name)
        shutil.rmtree(self._kept)
        self.met[place] = Met(place, failed, killed, os.waitstatus_to_exitcode(status) == _IN_WORDS)
        Faults.root = root

    def _judged(self, site: Path) -> str:
        return self._names.get(fingerprint(site), "neither")


def _linked(path: str, to: str) -> None:
    """Have ``path`` as ``to`` as well; a lock that is held here is free there, as when its process was killed."""
    if path.endswith(os.sep + LOCK) or Path(path).parent.name == HELPERS:
        shutil.copy2(path, to)
    else:
        os.link(path, to)


def _place() -> str:
    """Return where the program is, below the functions that only write for it."""
    frame = sys._getframe()
    while not frame.f_code.co_filename.startswith(_BUILDER):
        assert frame.f_back
        frame = frame.f_back
    return f"{frame.f_code.co_filename.removeprefix(_BUILDER)}:{frame.f_lineno}"


def demo_met(folder: Path, only: Collection[str]) -> list[Met]:
    """Return what faults and kills leave of a publish of the demonstration, warm, with the outputs ``only``."""
    means, to = Means(cache=Cache(folder / "cache")), folder / "out/public"
    root = folder / "department"
    for part in ("content", "references"):
        shutil.copytree(DEMO / part, root / part)
    publish(read(root)[0], to, load_templates(root), only=only, means=means)
    whole = {"old": fingerprint(to)}
    step = root / "content/procedures/carpal-tunnel-decompression/steps/close-palm.md"
    step.write_text(step.read_text("utf-8") + "\nLook again.\n", "utf-8")
    library, templates = read(root)[0], load_templates(root)
    publish(library, folder / "new", templates, only=only, means=means)
    whole["new"] = fingerprint(folder / "new")
    sites = CallSites(to, whole)
    sites.run(lambda: publish(library, to, templates, only=only, means=means))
    assert fingerprint(to) == whole["new"]
    return [*sites.met.values()]


def main(folder: Path, what: str) -> None:
    """Print what came of each fault or kill."""
    lock.PATIENCE_SECONDS = 600.0  # what was killed may need a while to end
    with pytest.MonkeyPatch.context() as patch:
        let_swaps_fail(patch, can_exchange=True, can_rename=True)
        if what == "demo":
            patch.setattr(jobs, "processors", lambda: 1)
            for met in demo_met(folder, OUTPUTS.usual):
                sys.stdout.write(json.dumps(asdict(met)) + "\n")
            return
        for number, left, then in kills(folder, issues=what == "issue"):
            sys.stdout.write(json.dumps({"killed": number, "left": left, "then": then}) + "\n")


if __name__ == "__main__":
    main(Path(sys.argv[1]), sys.argv[2])

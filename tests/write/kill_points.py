"""Does one piece of work again and again, each time killed at its next call that touches the disk.

Run by ``test_killed_writes.py`` as a program of its own, because it forks. Prints a JSON object a line: at which call
it was killed (and at which one the mending after it), what the folder then is, and what is left that nobody needs.
"""

from __future__ import annotations

import json
import os
import re
import shutil
import signal
import sys
from collections.abc import Callable, Iterator
from pathlib import Path

from builder.edit.file_change import FileChange
from builder.load.files import digest_of
from builder.load.ledger import NAME
from builder.write.lock import UNDO_FOLDER
from builder.write.writer import digest_now, recover, undo, write_files

_TOUCHING = {"open", "os.rename", "os.remove", "os.mkdir", "os.rmdir", "os.chmod", "shutil.rmtree"}
_EVERY = 16
"""Mending is killed at each of its calls too, after every sixteenth kill: all pairs would take minutes."""
Work = Callable[[Path], object]
FILES = {
    "content/a.md": b"\xef\xbb\xbfone\r\n",
    "content/procedures/p/steps/cut.md": b"cut\n",
    "content/procedures/p/steps/close.md": b"close\n",
    "references/sources.bib": b"@book{a}\n",
}
ALL = {
    "content/a.md": b"two\n",
    "content/procedures/p/steps/cut.md": None,
    "content/procedures/p/steps/new.md": b"new\n",
    "content/procedures/p/cautions/first.md": b"first\n",
    "content/procedures/q/procedure.md": b"q\n",
    "content/procedures/q/figures/picture-1.png": b"\x89PNG\r\n\x1a\n\xff\x00",
    "references/sources.bib": b"@book{b}\n",
}


def lay(root: Path) -> None:
    """Make the folder as it is at first."""
    for name, raw in FILES.items():
        (root / name).parent.mkdir(parents=True, exist_ok=True)
        (root / name).write_bytes(raw)


def change(root: Path, texts: dict[str, bytes | None]) -> None:
    """Make ``texts`` the content of the files."""
    write_files(root, {name: FileChange(raw, digest_now(root, name)) for name, raw in texts.items()}, "changed")


def nothing(root: Path) -> None:
    """Do nothing before."""


def change_all(root: Path) -> None:
    """Change, remove and make files, in folders that are there and in new ones."""
    change(root, ALL)


def change_one(root: Path) -> None:
    """Change one file."""
    change(root, {"content/a.md": b"two\n"})


def issue(root: Path) -> None:
    """Add a file that can never be undone."""
    write_files(root, {NAME: FileChange(b"{}\n", None)}, names=re.compile("ledger/issued.jsonl"))


WORK: dict[str, tuple[Work, Work]] = {
    "one": (nothing, change_one),
    "all": (nothing, change_all),
    "undo": (change_all, undo),
    "ledger": (nothing, issue),
}
"""By name: what is done before, and what is killed."""


def state(root: Path) -> dict[str, str]:
    """Return every file with its digest, and every folder, but for the records."""
    return {
        path.relative_to(root).as_posix(): digest_of(path.read_bytes()) if path.is_file() else ""
        for path in root.rglob("*")
        if UNDO_FOLDER not in path.parts
    }


def left(root: Path) -> list[str]:
    """Return what a writer that was killed has left."""
    return [path.name for path in root.rglob("*") if path.suffix in (".part", ".begun")]


def killed_at(number: int, root: Path, work: Work) -> bool:
    """Do ``work`` in a process that is killed at its call ``number``; tell whether it came to that."""
    child = os.fork()
    if child == 0:
        seen = 0

        def count(*_: object) -> None:
            nonlocal seen
            seen += 1
            if seen == number:
                os.kill(os.getpid(), signal.SIGKILL)

        os.fsync = count  # nobody pulls the plug here, and a disk takes its time
        sys.addaudithook(lambda event, _: count() if event in _TOUCHING else None)
        work(root)
        os._exit(0)
    return os.WIFSIGNALED(os.waitpid(child, 0)[1])


def kills(root: Path, before: Work, work: Work) -> Iterator[int]:
    """Yield the number of each call at which ``work`` can be killed, with the folder as it is then."""
    number = 1
    while True:
        shutil.rmtree(root, ignore_errors=True)
        lay(root)
        before(root)
        if not killed_at(number, root, work):
            return
        yield number
        number += 1


def mendings(root: Path, is_killed: bool) -> Iterator[int]:
    """Put the folder right, and yield the number of the call at which the mending itself was killed before, or 0."""
    left_so = shutil.copytree(root, root.with_name("left"))
    number = 1
    while is_killed and killed_at(number, root, recover):
        recover(root)
        yield number
        number += 1
        shutil.rmtree(root)
        shutil.copytree(left_so, root)
    shutil.rmtree(left_so)
    recover(root)
    yield 0


def main(root: Path, name: str) -> None:
    """Print what came of each kill."""
    os.fsync = lambda _: None
    before, work = WORK[name]
    lay(root)
    before(root)
    old = state(root)
    work(root)
    new = state(root)
    for number in kills(root, before, work):
        for again in mendings(root, number % _EVERY == 0):
            now = state(root)
            told = "old" if now == old else "new" if now == new else "neither"
            sys.stdout.write(json.dumps({"killed": [number, again], "is": told, "left": left(root)}) + "\n")


if __name__ == "__main__":
    main(Path(sys.argv[1]), sys.argv[2])

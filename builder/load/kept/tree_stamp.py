"""Whether files are as they were, by what the system tells of each: no file is opened.

Trusted are the names of all files that are not hidden, and of each its size and the times at which its content, and
anything of it, was last changed; the second no program sets back, where the system is POSIX. Whoever can set the clock
of the machine can deceive it.
"""

import os
import time
from collections.abc import Iterable, Iterator
from hashlib import sha256
from pathlib import Path

SETTLED_NS = 2 * 10**9
"""What was changed so shortly before a moment may be changed once more in the same tick of the clock."""


def moment() -> int:
    """Return the present time, for ``stamp_of``."""
    return time.time_ns()


def stamp_of(paths: Iterable[Path], before: int | None = None) -> str:
    """Return one hexadecimal number for all files at and below ``paths``, "" where nothing can be said of them.

    It is "" also where one was changed after, or shortly before, the moment ``before``: what was read since then may
    not be what is there.
    """
    made = sha256()
    try:
        for name, told in _files(list(paths)):
            if before is not None and max(told.st_mtime_ns, told.st_ctime_ns) > before - SETTLED_NS:
                return ""
            made.update(f"{name}\0{told.st_size} {told.st_mtime_ns} {told.st_ctime_ns}\n".encode())
    except OSError:
        return ""
    return made.hexdigest()


def _files(waiting: list[Path]) -> Iterator[tuple[str, os.stat_result]]:
    while waiting:
        path = waiting.pop()
        if not path.is_dir():
            if path.exists():
                yield os.fsencode(path).hex(), path.stat()
            continue
        with os.scandir(path) as unsorted:
            entries = sorted(unsorted, key=lambda entry: entry.name)
        for entry in entries:
            if entry.name.startswith("."):
                continue
            if entry.is_dir(follow_symlinks=False):
                waiting.append(Path(entry.path))
            else:
                yield os.fsencode(entry.path).hex(), entry.stat(follow_symlinks=False)

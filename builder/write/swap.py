"""The work folder beside the target, and the one moment at which the new site takes the place of the old one.

Everything is made in ``.prescrub-NAME`` next to the target, on the same file system. Whatever goes wrong there, the
target is not touched. At the end the two folders change places in one call of the kernel, so that at every instant the
target is wholly the old site or wholly the new one.
"""

import ctypes
import errno
import os
import shutil
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path

from builder.write.lock import HELPERS, LOCK, CannotLock, NotWritten, locked

_PARTS = {LOCK, HELPERS, "new", "old", "made", "read", "department"}
_NEW = "new"
_OLD = "old"
_UNFINISHED = ".part"
_AT_FDCWD = -100
_RENAME_EXCHANGE = 2
# What a kernel or file system says that cannot exchange two names: then two renames must do.
_CANNOT_EXCHANGE = {errno.EINVAL, errno.ENOSYS, errno.ENOTSUP, errno.EOPNOTSUPP}


class WorkFolder:
    """The folder in which one publish works: ``new`` becomes the target, everything else is thrown away."""

    def __init__(self, folder: Path, target: Path) -> None:
        self.folder = folder
        self.target = target
        self.new = folder / _NEW

    def tidy(self) -> None:
        """Put back the old site where a publish was stopped between its two renames, and remove what else it left."""
        old = self.folder / _OLD
        if old.is_dir() and not self.target.exists():
            old.rename(self.target)
        for entry in self.folder.iterdir():
            if entry.name != LOCK:
                _remove(entry)

    def put_in_place(self) -> None:
        """Let ``new`` take the place of the target; the old site goes with the work folder. Raises OSError."""
        if self.target.exists():
            shutil.copymode(self.target, self.new)
        _flush(self.new)
        if not self.target.exists():
            self.new.rename(self.target)
        elif not exchange(self.new, self.target):
            old = self.folder / _OLD
            self.target.rename(old)
            try:
                self.new.rename(self.target)
            except OSError:
                old.rename(self.target)
                raise
        _flush(self.target)


@contextmanager
def work_folder(target: Path) -> Iterator[WorkFolder]:
    """Give the clean work folder of ``target`` (absolute), locked against a second publish, and remove it afterwards.

    Raises NotWritten where the folder is in use or is not ours, and OSError.
    """
    folder = target.parent / f".prescrub-{target.name}"
    if folder.is_symlink() or not _is_ours(folder):
        raise NotWritten(f"{folder} is in the way and was not made by prescrub. Move it away, then publish again.")
    work = WorkFolder(folder, target)
    busy = f"Another publish to {target} is running. Wait until it has ended, then publish again."
    try:
        with locked(folder, busy):
            work.tidy()
            try:
                yield work
            finally:
                with suppress(OSError):
                    work.tidy()
    except CannotLock as error:
        raise NotWritten(f"{error} Publish to a folder on this machine, then copy it there.") from None


def _is_ours(folder: Path) -> bool:
    """Tell whether ``folder`` is missing, empty, or holds nothing but what a publish leaves there."""
    names = {entry.name for entry in folder.iterdir()} if folder.is_dir() else set()
    return not folder.exists() or (folder.is_dir() and (not names or (LOCK in names and names <= _PARTS)))


def exchange(one: Path, other: Path) -> bool:
    """Let two names change places in one step; False where this system cannot. Raises OSError."""
    rename = getattr(ctypes.CDLL(None, use_errno=True), "renameat2", None)  # Linux with glibc 2.28 or musl 1.2.5
    if rename is None:
        return False
    if rename(_AT_FDCWD, os.fsencode(one), _AT_FDCWD, os.fsencode(other), _RENAME_EXCHANGE) == 0:
        return True
    number = ctypes.get_errno()
    if number in _CANNOT_EXCHANGE:
        return False
    raise OSError(number, os.strerror(number), str(other))


@contextmanager
def in_place_of(target: Path) -> Iterator[Path]:
    """Provide the path of a new file beside ``target``, which takes its place if all went well, and else goes."""
    made = target.with_name(f".{target.name}{_UNFINISHED}")
    try:
        yield made
        made.replace(target)
    finally:
        made.unlink(missing_ok=True)


def _remove(entry: Path) -> None:
    if entry.is_dir() and not entry.is_symlink():
        shutil.rmtree(entry)
    else:
        entry.unlink()


def _flush(folder: Path) -> None:
    """Have the file system that holds ``folder`` write out what it keeps in memory, so that a power cut loses nothing.

    One call for the whole tree costs far less than one for each file.
    """
    flush = getattr(ctypes.CDLL(None, use_errno=True), "syncfs", None)
    if flush is None:
        os.sync()
        return
    handle = os.open(folder, os.O_RDONLY)
    try:
        if flush(handle) != 0:
            number = ctypes.get_errno()
            raise OSError(number, os.strerror(number), str(folder))
    finally:
        os.close(handle)

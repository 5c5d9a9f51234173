"""The work folder beside the target, and the one moment at which the new site takes the place of the old one.

Everything is made in ``.prescrub-NAME`` next to the target, on the same file system. Whatever goes wrong there, the
target is not touched. At the end the two folders change places in one call of the kernel, so that at every instant the
target is wholly the old site or wholly the new one. Where a system has no such call, two renames do. Where a folder
cannot change its name while a file in it is open, as on Windows, each file takes the place of the old one by itself;
the old site is kept aside until all have, and a mark says so: it is put back where that fails, or, if the process was
killed, by the next publish.
"""

import ctypes
import errno
import os
import shutil
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import Any

from builder.write.lock import HELPERS, LOCK, CannotLock, NotWritten, locked

_NEW = "new"
_OLD = "old"
_REPLACING = "replacing"
_NEXT = "next"
_PARTS = {LOCK, HELPERS, _NEW, _OLD, _REPLACING, _NEXT, "made", "read", "department"}
_UNFINISHED = ".part"
_AT_FDCWD = -100
_RENAME_EXCHANGE = 2
# What looks through files, as a scanner of viruses does, holds one open for moments.
_TRIES = 5
_WAIT_SECONDS = 0.1
# What a kernel or file system says that cannot exchange two names: then two renames must do.
_CANNOT_EXCHANGE = {errno.EINVAL, errno.ENOSYS, errno.ENOTSUP, errno.EOPNOTSUPP}


class WorkFolder:
    """The folder in which one publish works: ``new`` becomes the target, everything else is thrown away."""

    def __init__(self, folder: Path, target: Path) -> None:
        self.folder = folder
        self.target = target
        self.new = folder / _NEW

    def tidy(self) -> None:
        """Put back the old site where a publish was stopped between its renames, and remove what else it left."""
        old = self.folder / _OLD
        if (self.folder / _REPLACING).exists():
            self._put_back()
        elif old.is_dir() and not self.target.exists():
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
        elif not exchange(self.new, self.target) and not self._renamed():
            self._replaced_by_file()
        _flush(self.target)

    def _renamed(self) -> bool:
        """Let two renames do; False where the target cannot change its name."""
        old = self.folder / _OLD
        try:
            self.target.rename(old)
        except PermissionError:
            return False
        try:
            self.new.rename(self.target)
        except OSError:
            old.rename(self.target)
            raise
        return True

    def _replaced_by_file(self) -> None:
        old = self.folder / _OLD
        shutil.copytree(self.target, old, symlinks=True)
        _flush(old)
        (self.folder / _REPLACING).touch()
        _flush(self.folder)
        try:
            self._fill(self.new)
        except OSError:
            self._put_back()
            raise
        (self.folder / _REPLACING).unlink()

    def _put_back(self) -> None:
        self._fill(self.folder / _OLD)
        _flush(self.target)
        (self.folder / _REPLACING).unlink()

    def _fill(self, source: Path) -> None:
        """Let the target have the files of ``source`` and no others. Can be done again."""
        wanted = {path.relative_to(source) for path in source.rglob("*") if path.is_symlink() or not path.is_dir()}
        for name in sorted(wanted):
            (self.target / name).parent.mkdir(parents=True, exist_ok=True)
            copy = shutil.copy2(source / name, self.folder / _NEXT, follow_symlinks=False)
            _patiently(Path(copy).replace, self.target / name)
        for path in sorted(self.target.rglob("*"), reverse=True):  # what stands in a folder before the folder
            if path.is_dir() and not path.is_symlink():
                with suppress(OSError):  # it holds what is wanted
                    path.rmdir()
            elif path.relative_to(self.target) not in wanted:
                _patiently(path.unlink)


def _patiently(act: Callable[..., Any], *arguments: Any) -> None:
    for _ in range(_TRIES - 1):
        try:
            act(*arguments)
        except PermissionError:
            time.sleep(_WAIT_SECONDS)
        else:
            return
    act(*arguments)


@contextmanager
def work_folder(target: Path) -> Iterator[WorkFolder]:
    """Give the clean work folder of ``target`` (absolute), locked against a second publish, and remove it afterwards.

    Raises NotWritten where the folder is in use or is not ours, and OSError.
    """
    folder = _folder_of(target)
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


def is_interrupted(target: Path) -> bool:
    """Tell whether a publish was killed while it replaced the files of ``target``; ``work_folder`` puts them back."""
    return (_folder_of(target) / _REPLACING).exists()


def _folder_of(target: Path) -> Path:
    return target.parent / f".prescrub-{target.name}"


def _is_ours(folder: Path) -> bool:
    """Tell whether ``folder`` is missing, empty, or holds nothing but what a publish leaves there."""
    names = {entry.name for entry in folder.iterdir()} if folder.is_dir() else set()
    return not folder.exists() or (folder.is_dir() and (not names or (LOCK in names and names <= _PARTS)))


def exchange(one: Path, other: Path) -> bool:
    """Let two names change places in one step; False where this system cannot. Raises OSError."""
    rename = _of_system("renameat2")  # Linux with glibc 2.28 or musl 1.2.5
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
    flush = _of_system("syncfs")
    if flush is None:
        _flush_each(folder)
        return
    handle = os.open(folder, os.O_RDONLY)
    try:
        if flush(handle) != 0:
            number = ctypes.get_errno()
            raise OSError(number, os.strerror(number), str(folder))
    finally:
        os.close(handle)


def _flush_each(folder: Path) -> None:
    if hasattr(os, "sync"):
        os.sync()
        return
    for path in folder.rglob("*"):
        if path.is_file() and not path.is_symlink():
            with path.open("rb+") as file:
                os.fsync(file.fileno())


def _of_system(name: str) -> Any:
    """Return a function of the C library; None where this system has none of that name, or no such library."""
    try:
        return getattr(ctypes.CDLL(None, use_errno=True), name, None)
    except (OSError, TypeError):
        return None

"""One process at a time in a folder of ours: the lock is the kernel's, and ends with the process that held it."""

import errno
import fcntl
import os
import time
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path

LOCK = "lock"
HELPERS = "helpers"
UNDO_FOLDER = ".prescrub-undo"
"""Where a department keeps what its changes replaced."""
PATIENCE_SECONDS = 3.0
"""What a killed process had started ends within moments; until then it may still write (see ``helping``)."""
_WAIT_SECONDS = 0.05
_NO_LOCKS = {errno.ENOLCK, errno.ENOSYS, errno.EINVAL, errno.ENOTSUP, errno.EOPNOTSUPP}


class NotWritten(Exception):
    """Nothing was written; the text says why and what to do."""


class CannotLock(NotWritten):
    """The file system that holds the folder cannot lock files."""


@contextmanager
def locked(folder: Path, busy: str, patience: float | None = None) -> Iterator[None]:
    """Hold the lock file in ``folder``, which is made where it is missing, and goes where nothing else is left in it.

    Raises NotWritten with ``busy`` where another process holds the lock, CannotLock where nobody can know whether one
    is at work, and OSError.
    """
    if folder.is_symlink():
        raise NotWritten(f"{folder} is a link; links are not followed. Move it away, then try again.")
    until = time.monotonic() + (PATIENCE_SECONDS if patience is None else patience)
    while (handle := _try_lock(folder)) is None:
        if time.monotonic() > until:
            raise NotWritten(busy)
        time.sleep(_WAIT_SECONDS)
    try:
        yield
    finally:
        # The lock file goes last: until then another process is told to wait.
        with suppress(OSError):
            if [entry.name for entry in folder.iterdir()] == [LOCK]:
                (folder / LOCK).unlink()
                folder.rmdir()
        os.close(handle)


def helping(folder: Path) -> int:
    """Let this process help the one that holds ``folder``: who takes it next waits for the helpers too, in case that
    the first was killed. Return the handle that holds it so until it is closed or this process ends."""
    handle = os.open(folder / HELPERS, os.O_RDWR | os.O_CREAT, 0o644)
    fcntl.flock(handle, fcntl.LOCK_SH)
    return handle


def _has_helpers(folder: Path) -> bool:
    try:
        handle = os.open(folder / HELPERS, os.O_RDWR)
    except FileNotFoundError:
        return False
    try:
        fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except BlockingIOError:
        return True
    finally:
        os.close(handle)
    return False


def _try_lock(folder: Path) -> int | None:
    """Return the handle of the locked file, or None where another process holds it or has just removed it."""
    folder.mkdir(parents=True, exist_ok=True)
    path = folder / LOCK
    try:
        handle = os.open(path, os.O_RDWR | os.O_CREAT, 0o644)
    except FileNotFoundError:
        return None
    try:
        fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
        if os.path.samestat(os.fstat(handle), path.stat()) and not _has_helpers(folder):
            return handle
    except (BlockingIOError, FileNotFoundError):
        pass
    except OSError as error:
        os.close(handle)
        if error.errno not in _NO_LOCKS:
            raise
        raise CannotLock(f"{folder.parent} lies on a file system that cannot lock files ({error.strerror}).") from None
    os.close(handle)
    return None

"""One process at a time in a folder of ours: the lock is the kernel's, and ends with the process that held it."""

import errno
import os
import tempfile
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import portalocker
from portalocker.exceptions import AlreadyLocked, LockException

LOCK = "lock"
HELPERS = "helpers"
UNDO_FOLDER = ".prescrub-undo"
"""Where a department keeps what its changes replaced."""
PATIENCE_SECONDS = 3.0
"""What a killed process had started ends within moments; until then it may still write (see ``helping``)."""
_WAIT_SECONDS = 0.05
_AT_ONCE = portalocker.LockFlags.EXCLUSIVE | portalocker.LockFlags.NON_BLOCKING
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
        # The lock file goes last: until then another process is told to wait. Where an open file cannot be removed, it
        # goes once it is closed: nobody can remove it then whose it is not.
        is_left = _leave(folder)
        os.close(handle)
        if not is_left:
            _leave(folder)


def _leave(folder: Path) -> bool:
    """Remove a folder in which only the lock file is left; False where the system removes no open file."""
    try:
        if [entry.name for entry in folder.iterdir()] == [LOCK]:
            (folder / LOCK).unlink()
            folder.rmdir()
    except PermissionError:
        return False
    except OSError:
        pass
    return True


def helping(folder: Path) -> int:
    """Let this process help the one that holds ``folder``: who takes it next waits for the helpers too, in case that
    the first was killed. Return the handle that holds it so until it is closed or this process ends."""
    # Each has a file of its own: not every system has a lock that several may hold.
    (folder / HELPERS).mkdir(exist_ok=True)
    handle, _ = tempfile.mkstemp(dir=folder / HELPERS)
    portalocker.lock(handle, _AT_ONCE)
    return handle


def _is_held(path: Path) -> bool:
    try:
        handle = os.open(path, os.O_RDWR)
    except FileNotFoundError:
        return False
    try:
        portalocker.lock(handle, _AT_ONCE)
    except AlreadyLocked:
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
        portalocker.lock(handle, _AT_ONCE)
        if os.path.samestat(os.fstat(handle), path.stat()) and not any(map(_is_held, (folder / HELPERS).glob("*"))):
            return handle
    except (AlreadyLocked, FileNotFoundError):
        pass
    except LockException as error:
        os.close(handle)
        cause = error.__cause__ if isinstance(error.__cause__, OSError) else OSError(errno.ENOLCK, str(error))
        if cause.errno not in _NO_LOCKS:
            raise cause from None
        raise CannotLock(f"{folder.parent} lies on a file system that cannot lock files ({cause.strerror}).") from None
    os.close(handle)
    return None

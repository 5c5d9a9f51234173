"""Runs the program behind a wall that takes away what Windows lacks. Its argument is a list of command lines, as JSON.

Without any it prints whether the wall lets each of four things through. Which names are missing on Windows is told by
"Availability" in the documentation of Python 3.11 (os, signal, and "Unix Specific Services").
"""

from __future__ import annotations

import ctypes
import importlib
import json
import os
import shutil
import signal
import sys
import tempfile
from collections.abc import Callable
from pathlib import Path
from typing import Any

UNIX_MODULES = {"fcntl", "pwd", "grp", "resource", "termios", "tty", "pty", "syslog", "posix", "readline"}
UNIX_NAMES = {
    "fork", "forkpty", "getuid", "geteuid", "getgid", "getegid", "getpgid", "setsid", "setpgid", "killpg", "pread",
    "pwrite", "preadv", "pwritev", "sync", "fdatasync", "fchmod", "fchown", "chown", "lchown", "chroot", "mkfifo",
    "mknod", "statvfs", "fstatvfs", "uname", "getloadavg", "nice", "wait3", "wait4", "WIFEXITED", "posix_fadvise",
    "sched_getaffinity", "sched_setaffinity", "sendfile", "splice", "getxattr", "setxattr", "O_NOFOLLOW", "O_NONBLOCK",
    "O_DIRECTORY", "O_CLOEXEC", "O_SYNC", "O_DSYNC", "SIGKILL", "SIGHUP", "SIGALRM", "SIGUSR1", "SIGCHLD", "SIGQUIT",
}  # fmt: skip
# These have a way of their own on each system, and choose it when they are imported.
_BEFORE = """
multiprocessing.util multiprocessing.popen_spawn_posix multiprocessing.resource_tracker portalocker weasyprint pikepdf
PIL.Image mkdocs.commands.build mkdocs.config werkzeug.serving pypdfium2 pptx docx pydantic lxml.html nh3 icalendar
fontTools.ttLib pybtex.database cssselect2 pydyf
"""
_Act = Callable[..., Any]


class _NoCLibrary(ctypes.CDLL):
    """There is no one C library of the system."""

    def __init__(self, name: str | None, *rest: Any, **more: Any) -> None:
        if name is None:
            raise TypeError("bad argument type for built-in operation")
        super().__init__(name, *rest, **more)


def _but_no_folder(act: _Act) -> _Act:
    def guarded(path: Any, *rest: Any, **more: Any) -> Any:
        if Path(path).is_dir():
            raise PermissionError(13, "Permission denied", path)
        return act(path, *rest, **more)

    return guarded


def _unless_open(act: _Act) -> _Act:
    """An open file can be neither moved nor removed, nor can the folder that it is in."""

    def guarded(path: Any, *rest: Any, **more: Any) -> Any:
        name = os.path.realpath(path)
        for handle in Path("/proc/self/fd").iterdir():
            try:
                held = str(handle.readlink())
            except OSError:
                continue
            if held == name or held.startswith(name + os.sep):
                raise PermissionError(13, "The process cannot access the file", path)
        return act(path, *rest, **more)

    return guarded


def put_up() -> None:
    """Take away what Windows lacks from this process."""
    for name in _BEFORE.split():
        importlib.import_module(name)
    for name in UNIX_MODULES:
        sys.modules[name] = None  # type: ignore[assignment]
    for module in (os, signal):
        for name in UNIX_NAMES:
            if hasattr(module, name):
                delattr(module, name)
    sys.platform = "another"
    ctypes.CDLL = _NoCLibrary  # type: ignore[misc]
    shutil._use_fd_functions = False  # type: ignore[attr-defined]
    os.open = _but_no_folder(os.open)
    for name in ("unlink", "remove", "rename", "replace", "rmdir"):
        setattr(os, name, _unless_open(getattr(os, name)))


def lets_through() -> dict[str, bool]:
    """Return for four things whether the wall lets them through."""
    told = {"fcntl": sys.modules.get("fcntl") is not None, "os.fork": hasattr(os, "fork")}
    with tempfile.TemporaryDirectory() as folder:
        tries: dict[str, _Act] = {
            "open a folder": lambda: os.open(folder, os.O_RDONLY),
            "move an open file": lambda: Path(folder, "held").rename(Path(folder, "moved")),
        }
        with Path(folder, "held").open("w"):
            for what, act in tries.items():
                try:
                    act()
                    told[what] = True
                except PermissionError:
                    told[what] = False
    return told


if __name__ == "__main__":
    put_up()
    orders = json.loads(sys.argv[1])
    if not orders:
        sys.stdout.write(json.dumps(lets_through()))
    from builder.cli import main

    for words in orders:
        code = main(words)
        if code:
            sys.exit(f"{words} ended with {code}")

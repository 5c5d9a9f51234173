"""Jobs that end in every way a job can end. They stand apart, so that another process can import them."""

from __future__ import annotations

import os
import signal
import sys
import threading
import time
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path


class Peculiar(Exception):
    """An exception whose ``__init__`` takes other arguments than it keeps."""

    def __init__(self, step: int, why: str) -> None:
        super().__init__(f"step {step} cannot be set: {why}")
        self.step = step


class Doubling(Exception):
    """An exception that says more each time it is made of its own words."""

    def __init__(self, words: str) -> None:
        super().__init__(f"once more: {words}")


class Locked(Exception):
    """An exception that holds what cannot be sent."""

    def __init__(self) -> None:
        super().__init__("it holds a lock")
        self.lock = threading.Lock()


class Speechless(Exception):
    """An exception that fails to say what it is."""

    def __str__(self) -> str:
        raise ValueError("no words")


def deep(number: int) -> int:
    return deep(number + 1) + 1


def fail(error: BaseException) -> None:
    raise error


ENDS: dict[str, Callable[[], object]] = {
    "peculiar": lambda: fail(Peculiar(7, "no room")),
    "doubling": lambda: fail(Doubling("no room")),
    "system": lambda: fail(FileNotFoundError(2, "No such file or directory", "a/picture.svg")),
    "lock": lambda: fail(Locked()),
    "speechless": lambda: fail(Speechless()),
    "exit": lambda: sys.exit(3),
    "interrupt": lambda: fail(KeyboardInterrupt()),
    "recursion": lambda: deep(0),
    "unsendable": threading.Lock,
    "killed": lambda: os.kill(os.getpid(), signal.SIGKILL),
    "threads": lambda: [thread.daemon for thread in threading.enumerate()],
}


@dataclass(frozen=True)
class OddJob:
    """Ends as its ``name`` says, else tells its name, its process, and what all ``shared``."""

    name: str

    def run(self, shared: object) -> object:
        return ENDS[self.name]() if self.name in ENDS else (self.name, os.getpid(), shared)


@dataclass(frozen=True)
class Writing:
    """Writes its ``name`` into ``file`` below the folder that all share, after so many ``seconds``."""

    name: str
    file: str
    seconds: float = 0.0

    def run(self, folder: Path) -> str:
        time.sleep(self.seconds)
        path = folder / self.file
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text(self.name)
        return self.name


@dataclass(frozen=True)
class OnceKilled:
    """Ends its process the first time it is carried out, and then leaves ``mark``."""

    name: str
    mark: str

    def run(self, _: object) -> str:
        if not os.path.exists(self.mark):  # noqa: PTH110  # a word, not a path, is what was sent
            open(self.mark, "w").close()  # noqa: PTH123
            os.kill(os.getpid(), signal.SIGKILL)
        return self.name

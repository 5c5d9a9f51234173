"""A scheduler and workers of dask for a test: processes of this machine, bound to loopback."""

from __future__ import annotations

import json
import os
import subprocess
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from pathlib import Path
from types import TracebackType

from distributed import Client

TESTS = Path(__file__).parents[1]
_LOOPBACK = ("--host", "127.0.0.1", "--no-dashboard")


@dataclass(frozen=True)
class TextParcel:
    """Shares one text, and needs no file."""

    shared: str

    @contextmanager
    def opened(self, folder: Path) -> Iterator[str]:
        yield self.shared


@dataclass(frozen=True)
class FolderParcel:
    """Shares the folder itself."""

    @contextmanager
    def opened(self, folder: Path) -> Iterator[Path]:
        yield folder


class Engine:
    """A scheduler with workers that can be killed, which work below ``folder``. Use it as a context manager."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self.address = ""
        self.workers: list[subprocess.Popen[bytes]] = []

    def __enter__(self) -> Engine:
        ready = self.folder / "scheduler.json"
        self.scheduler = self._start("scheduler", *_LOOPBACK, "--port", "0", "--scheduler-file", str(ready))
        while not self.address:
            assert self.scheduler.poll() is None
            with suppress(OSError, ValueError):
                self.address = json.loads(ready.read_text())["address"]
            time.sleep(0.05)
        return self

    def start_worker(self, *, nanny: bool = False, first: Path | None = None) -> subprocess.Popen[bytes]:
        """Start a worker, and wait until the scheduler knows it; ``first`` is where it looks for modules first."""
        options = (*_LOOPBACK, "--nthreads", "1", "--memory-limit", "0", "--local-directory", str(self.folder))
        worker = self._start("worker", self.address, *options, *(() if nanny else ("--no-nanny",)), first=first)
        self.workers.append(worker)
        with Client(self.address, set_as_default=False) as client:
            client.wait_for_workers(sum(one.poll() is None for one in self.workers))
        return worker

    def _start(self, *words: str, first: Path | None = None) -> subprocess.Popen[bytes]:
        paths = (*([first] if first else ()), TESTS.parent, TESTS, TESTS / "publish")
        with (self.folder / "log.txt").open("ab") as log:
            return subprocess.Popen(
                [sys.executable, "-m", "dask", *words],
                env={**os.environ, "PYTHONPATH": os.pathsep.join(map(str, paths))},
                cwd=self.folder,
                stdout=log,
                stderr=log,
            )

    def __exit__(self, kind: type[BaseException] | None, error: BaseException | None, at: TracebackType | None) -> None:
        for process in (*self.workers, self.scheduler):
            process.kill()
            process.wait()

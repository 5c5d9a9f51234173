"""A progress bar for what takes more than two seconds, on a terminal only."""

from __future__ import annotations

import sys
import time
from types import TracebackType

_PATIENCE_SECONDS = 2.0
_WIDTH = 30


class Bar:
    """Shows how far a task is, on standard error; silent where that is no terminal."""

    def __init__(self) -> None:
        self._start = time.monotonic()
        self._on = sys.stderr.isatty()
        self._drawn = False

    def __enter__(self) -> Bar:
        return self

    def __exit__(self, kind: type[BaseException] | None, error: BaseException | None, at: TracebackType | None) -> None:
        if self._drawn:
            sys.stderr.write("\r\x1b[K")
            sys.stderr.flush()

    def show(self, done: int, total: int, doing: str) -> None:
        """Say that ``done`` of ``total`` parts are made and what is being done."""
        if not self._on or time.monotonic() - self._start < _PATIENCE_SECONDS:
            return
        filled = _WIDTH * done // max(total, 1)
        sys.stderr.write(f"\r\x1b[K[{'#' * filled}{'.' * (_WIDTH - filled)}] {done}/{total} {doing[:40]}")
        sys.stderr.flush()
        self._drawn = True

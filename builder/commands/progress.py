"""How far a long task is, on standard error: what is being made, how many of how many, and how long it still takes."""

from __future__ import annotations

import shutil
import sys
import threading
import time
from types import TracebackType

_PATIENCE_SECONDS = 2.0
_REDRAW_SECONDS, _LOG_SECONDS = 1.0, 30.0
_WIDTH = 20
_FEW = 20  # before one part in so many is done, nobody can tell how long the rest takes
_NEWEST = 0.3  # how much the newest guess of the end counts, so that the time left does not jump


def progress_line(done: int, total: int, doing: str, left: float | None) -> str:
    """Return for instance ``hernia: slides, 34 of 170, about 2 min left``; without ``left`` no time is told."""
    counted = f", {done} of {total}" if total else ""
    return f"{doing}{counted}{'' if left is None else f', {_words(left)}'}"


def _words(seconds: float) -> str:
    if seconds >= 90:  # from there on minutes are easier to read
        return f"about {round(seconds / 60)} min left"
    return f"about {max(5, 5 * round(seconds / 5))} s left"


class Bar:
    """Shows how far a task is: a bar that is drawn each second, or a line every half minute where that is no terminal.

    Nothing is shown of a task that is done at once.
    """

    def __init__(self) -> None:
        self._start = time.monotonic()
        self._is_terminal = sys.stderr.isatty()
        self._lock = threading.Lock()
        self._is_over = threading.Event()
        self._told: tuple[int, int, str] | None = None
        self._end: float | None = None
        self._drawn = False

    def __enter__(self) -> Bar:
        threading.Thread(target=self._go_on, daemon=True).start()
        return self

    def __exit__(self, kind: type[BaseException] | None, error: BaseException | None, at: TracebackType | None) -> None:
        self._is_over.set()
        with self._lock:
            if self._drawn and self._is_terminal:
                sys.stderr.write("\r\x1b[K")
                sys.stderr.flush()

    def show(self, done: int, total: int, doing: str) -> None:
        """Say that ``done`` of ``total`` parts are made (0 = nobody knows) and what is being done."""
        with self._lock:
            now = time.monotonic()
            self._told = done, total, doing
            if total and done * _FEW >= total:
                guess = now + (now - self._start) * (total - done) / done
                self._end = guess if self._end is None else self._end + _NEWEST * (guess - self._end)
            if self._is_terminal and now - self._start >= _PATIENCE_SECONDS:
                self._draw()

    def _go_on(self) -> None:
        """Draw again and again, so that nothing seems to stand still while one part takes long."""
        while not self._is_over.wait(_REDRAW_SECONDS if self._is_terminal else _LOG_SECONDS):
            with self._lock:
                if not self._is_over.is_set() and time.monotonic() - self._start >= _PATIENCE_SECONDS:
                    self._draw()

    def _draw(self) -> None:
        if self._told is None:
            return
        done, total, doing = self._told
        line = progress_line(done, total, doing, None if self._end is None else max(0.0, self._end - time.monotonic()))
        if self._is_terminal:
            filled = _WIDTH * done // total if total else 0
            minutes, seconds = divmod(int(time.monotonic() - self._start), 60)
            whole = f"[{'#' * filled}{'.' * (_WIDTH - filled)}] {minutes}:{seconds:02} {line}"
            sys.stderr.write(f"\r\x1b[K{whole[: shutil.get_terminal_size().columns - 1]}")
        else:
            sys.stderr.write(f"{line}\n")
        sys.stderr.flush()
        self._drawn = True

"""The line that tells how far a publish is."""

from __future__ import annotations

import io
import sys
import threading

import pytest

from builder.commands import progress
from builder.commands.progress import Bar, progress_line


class Screen(io.StringIO):
    """A terminal, or a log, that says when it was written to ``wanted`` times."""

    def __init__(self, *, is_terminal: bool, wanted: int = 3) -> None:
        super().__init__()
        self.is_terminal, self.wanted, self.was_drawn = is_terminal, wanted, threading.Event()

    def isatty(self) -> bool:
        return self.is_terminal

    def flush(self) -> None:
        self.wanted -= 1
        if self.wanted <= 0:
            self.was_drawn.set()


@pytest.mark.parametrize(
    ("left", "line"),
    [
        (None, "hernia: slides, 34 of 170"),
        (125.0, "hernia: slides, 34 of 170, about 2 min left"),
        (38.0, "hernia: slides, 34 of 170, about 40 s left"),
        (0.0, "hernia: slides, 34 of 170, about 5 s left"),
    ],
)
def test_a_line_names_what_is_made_and_how_long_it_still_takes(left: float | None, line: str) -> None:
    assert progress_line(34, 170, "hernia: slides", left) == line


def test_where_nobody_knows_how_many_no_number_is_told() -> None:
    assert progress_line(0, 0, "reading and checking", None) == "reading and checking"


@pytest.mark.parametrize("is_terminal", [True, False])
def test_it_is_drawn_again_while_one_part_takes_long(monkeypatch: pytest.MonkeyPatch, is_terminal: bool) -> None:
    screen = Screen(is_terminal=is_terminal)
    monkeypatch.setattr(sys, "stderr", screen)
    for name in ("_PATIENCE_SECONDS", "_REDRAW_SECONDS", "_LOG_SECONDS"):
        monkeypatch.setattr(progress, name, 0.0)
    with Bar() as bar:
        bar.show(1, 4, "hernia: slides")
        assert screen.was_drawn.wait(30)
    told = screen.getvalue()
    assert "hernia: slides, 1 of 4, about " in told
    assert ("[#####..............." in told) == is_terminal
    assert told.endswith("\r\x1b[K" if is_terminal else " left\n")


def test_of_what_is_done_at_once_nothing_is_shown(monkeypatch: pytest.MonkeyPatch) -> None:
    screen = Screen(is_terminal=True)
    monkeypatch.setattr(sys, "stderr", screen)
    with Bar() as bar:
        bar.show(1, 4, "hernia: slides")
    assert screen.getvalue() == ""

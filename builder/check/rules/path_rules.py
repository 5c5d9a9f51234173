"""The rows of the path analysis in the table of checks. What each means is on its page in ``pages/``."""

from __future__ import annotations

from collections.abc import Iterator

from builder.check.hit import Check, Hit, Rule
from builder.check.paths.analysis import hits
from builder.findings.finding import Severity
from builder.model.library import Library

ERROR, WARNING, NOTE = Severity.ERROR, Severity.WARNING, Severity.NOTE

_ROWS: tuple[tuple[str, str, Severity], ...] = (
    ("PA01", "not-seen-before-cut", ERROR),
    ("PA02", "neighbour-not-seen", ERROR),
    ("PA03", "vessel-not-controlled", ERROR),
    ("PA04", "clamp-left-on", ERROR),
    ("PA05", "clamp-released-too-soon", ERROR),
    ("PA06", "released-without-clamp", ERROR),
    ("PA07", "item-left-in", ERROR),
    ("PA08", "removed-but-not-in", ERROR),
    ("PA09", "stays-without-end", ERROR),
    ("PA10", "aftercare-of-nothing", WARNING),
    ("PA11", "no-day-of-removal", ERROR),
    ("PA12", "cavity-closed-uncounted", ERROR),
    ("PA13", "skin-closed-uncounted", ERROR),
    ("PA14", "not-enough-kit", ERROR),
    ("PA15", "kit-unused", WARNING),
    ("PA16", "one-side-forgotten", ERROR),
    ("PA17", "side-fixed-too-early", ERROR),
    ("PA18", "need-not-met", ERROR),
    ("PA19", "needs-in-a-circle", ERROR),
    ("PA20", "no-way-on", ERROR),
    ("PA21", "branch-never-reached", ERROR),
    ("PA22", "named-and-not-done", NOTE),
    ("PA23", "done-and-not-named", NOTE),
    ("PA24", "nick-without-sight", ERROR),
    ("PA25", "left-open", ERROR),
    ("PA26", "ended-uncounted", ERROR),
    ("PA27", "kit-listed-twice", WARNING),
    ("PA28", "opened-with-what", NOTE),
)


def _rule(id: str) -> Rule:
    def rule(library: Library) -> Iterator[Hit]:
        yield from hits(library).get(id, ())

    return rule


PATH_CHECKS = tuple(Check(id, name, severity, _rule(id)) for id, name, severity in _ROWS)

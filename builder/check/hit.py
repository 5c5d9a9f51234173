"""What a check yields; the engine adds id, name and severity."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from typing import NamedTuple

from builder.findings.finding import Finding, SecondPlace, Severity
from builder.model.library import Library
from builder.place import Place


class Hit(NamedTuple):
    """One thing a check found; ``severity`` only where it differs from the check's own."""

    at: Place
    message: str
    hint: str
    also: tuple[SecondPlace, ...] = ()
    path: tuple[str, ...] = ()
    severity: Severity | None = None


Rule = Callable[[Library], Iterator[Hit]]


@dataclass(frozen=True, slots=True)
class Check:
    """A row of the table of checks. Its page is ``pages/<id>-<name>.md``."""

    id: str
    name: str
    severity: Severity
    rule: Rule

    def run(self, library: Library) -> Iterator[Finding]:
        """Yield the findings of this check."""
        for hit in self.rule(library):
            severity = hit.severity or self.severity
            yield Finding(self.id, self.name, severity, hit.at, hit.message, hit.hint, hit.also, hit.path)

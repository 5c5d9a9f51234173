"""Runs the checks over every planted error and tells what was caught, where, and what was not."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field, replace
from pathlib import Path

from department import family

from builder.check.accept import accepted
from builder.check.table import CHECKS
from builder.findings.finding import Finding
from builder.load.folder import load
from builder.model.build import build
from builder.model.library import Library
from builder.model.pages import Procedure
from planted.errors import Planted, planted

ROOT = Path(__file__).parent.parent.parent
OURS = [
    check
    for check in CHECKS
    if family(check) in ("paths", "critical-steps", "text-and-actions") or check.name == "figure-on-other-side"
]


@dataclass
class Row:
    """One kind of error: how many were planted, caught at the right step, caught elsewhere, and missed."""

    planted: int = 0
    caught: int = 0
    elsewhere: list[str] = field(default_factory=list)
    missed: list[str] = field(default_factory=list)


@dataclass
class Table:
    """All kinds of error, and the findings in the untouched modules (false alarms)."""

    rows: dict[str, Row]
    false_alarms: list[Finding]
    modules: int

    @property
    def planted(self) -> int:
        return sum(row.planted for row in self.rows.values())

    @property
    def caught(self) -> int:
        return sum(row.caught for row in self.rows.values())


def demo() -> Library:
    """Return the Library of the demonstration content."""
    return build(load(ROOT))[0]


def findings(library: Library) -> list[Finding]:
    return [finding for check in OURS for finding in check.run(library)]


def found_in(library: Library, most: int | None = None) -> list[list[Finding]]:
    """Plant every error, or ``most`` of a kind in a procedure, one at a time; return what is found of each."""
    return [_of(library, error.procedure) for error in planted(library, most)]


def run(library: Library, found: Iterable[list[Finding]], most: int | None = None) -> Table:
    """Judge what was ``found_in`` the library."""
    rows: dict[str, Row] = {}
    for error, raised in zip(planted(library, most), found, strict=True):
        judge(library, error, raised, rows.setdefault(error.kind, Row()))
    raised = findings(library)
    alarms = [one for one in accepted(library, raised) if one in raised]
    return Table(rows, alarms, len(library.procedures))


def judge(library: Library, error: Planted, raised: list[Finding], row: Row) -> None:
    """Count ``error`` as caught, caught elsewhere or missed. Only findings that are new count."""
    row.planted += 1
    old = {_key(one) for one in _of(library, error.against)} if error.against else set()
    new = [one for one in raised if _key(one) not in old]
    right = [one for one in new if one.name in error.checks]
    if any(one.at.file in error.files for one in right):
        row.caught += 1
    elif new:
        row.elsewhere.append(f"{error.what} ({', '.join(sorted({f'{one.name} {one.at}' for one in new}))})")
    else:
        row.missed.append(error.what)


def _of(library: Library, procedure: Procedure) -> list[Finding]:
    return findings(replace(library, procedures=(procedure,)))


def _key(one: Finding) -> tuple[str, str, str]:
    return one.name, str(one.at), one.message


def shown(table: Table) -> Iterable[str]:
    """Yield the table as lines of text."""
    yield f"{'error':<28} {'planted':>7} {'caught':>7} {'elsewhere':>9} {'missed':>7}"
    for kind, row in table.rows.items():
        yield f"{kind:<28} {row.planted:>7} {row.caught:>7} {len(row.elsewhere):>9} {len(row.missed):>7}"
    elsewhere = sum(len(row.elsewhere) for row in table.rows.values())
    missed = sum(len(row.missed) for row in table.rows.values())
    yield f"{'all':<28} {table.planted:>7} {table.caught:>7} {elsewhere:>9} {missed:>7}"
    share = 100 * table.caught / table.planted if table.planted else 0
    alarms = f"false alarms in {table.modules} untouched modules: {len(table.false_alarms)}"
    yield f"caught at the right step: {share:.1f} %; {alarms}"
    for kind, row in table.rows.items():
        yield from (f"  elsewhere: {kind}: {one}" for one in row.elsewhere)
        yield from (f"  missed: {kind}: {one}" for one in row.missed)
    yield from (f"  false alarm: {one.at} {one.name}: {one.message}" for one in table.false_alarms)

"""Errors planted into the demonstration modules are caught at the right step, and untouched modules raise no alarm."""

from __future__ import annotations

import pytest

from builder.findings.finding import Finding
from planted.errors import KINDS
from planted.results import Table, demo, found_in, run, shown


@pytest.fixture(scope="module")
def table(found_of_planted: list[list[Finding]]) -> Table:
    return run(demo(), found_of_planted, most=1)


@pytest.mark.slow
def test_95_in_100_of_all_that_can_be_planted_are_caught_at_the_right_step() -> None:
    table = run(demo(), found_in(demo()))
    assert table.planted >= 800
    assert table.caught >= 0.95 * table.planted, "\n".join(shown(table))


def test_at_least_120_planted_errors(table: Table) -> None:
    assert table.planted >= 120


def test_95_in_100_planted_errors_are_caught_at_the_right_step(table: Table) -> None:
    assert table.caught >= 0.95 * table.planted, "\n".join(shown(table))


def test_every_kind_of_planted_error_occurs_and_is_caught(table: Table) -> None:
    assert {kind.__name__.replace("_", " ") for kind in KINDS} == set(table.rows)
    assert {kind for kind, row in table.rows.items() if not row.caught} == set()


def test_untouched_modules_raise_no_false_alarm(table: Table) -> None:
    assert table.false_alarms == [], "\n".join(shown(table))

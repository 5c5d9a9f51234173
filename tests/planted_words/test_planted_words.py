"""At least 97 in 100 planted errors are caught, and at most 2 in 100 innocent look-alikes raise an alarm."""

from __future__ import annotations

import pytest

from .run import KINDS, ROOT, Result, edits, modules, plants, results, table, wrong_edits


@pytest.fixture(scope="module")
def found() -> list[Result]:
    return results()


def test_set_is_large_enough() -> None:
    every = plants()
    assert sum(bool(one.check) for one in every) >= 150
    assert sum(not one.check for one in every) >= 150
    assert {one.kind for one in every} == set(KINDS)
    assert len({(one.text, one.dose, one.prose, one.patient) for one in every}) == len(every)


@pytest.mark.slow
def test_planted_errors_are_caught_in_every_module(found: list[Result]) -> None:
    errors = [one for one in found if one.plant.check]
    assert {one.module for one in errors} == set(modules(ROOT))
    caught = sum(one.is_right for one in errors)
    assert caught >= 0.97 * len(errors), table(found)


@pytest.mark.slow
def test_innocent_look_alikes_raise_no_alarm(found: list[Result]) -> None:
    innocent = [one for one in found if not one.plant.check]
    alarms = sum(not one.is_right for one in innocent)
    assert alarms <= 0.02 * len(innocent), table(found)


@pytest.mark.slow
def test_planted_changes_are_caught_and_innocent_ones_left_alone() -> None:
    wrong = wrong_edits()
    assert len(edits()) >= 100
    assert len(wrong) <= 0.03 * len(edits()), "\n".join(wrong)

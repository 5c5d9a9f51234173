"""At least 95 in 100 errors planted into whole pages are found by name, and at most one look-alike raises an alarm."""

from __future__ import annotations

import pytest

from .run import KINDS, PageResult, plants, results, table


@pytest.fixture(scope="module")
def found() -> list[PageResult]:
    return results()


def test_list_of_pages_is_large_enough() -> None:
    every = plants()
    assert sum(bool(plant.check) for plant in every) >= 150
    assert sum(not plant.check for plant in every) >= 120
    assert {plant.kind for plant in every} == set(KINDS)


def test_errors_planted_into_pages_are_caught(found: list[PageResult]) -> None:
    errors = [one for one in found if one.plant.check]
    assert sum(one.is_right for one in errors) >= 0.95 * len(errors), table(found)


def test_every_check_of_the_lists_catches_at_least_two_in_three(found: list[PageResult]) -> None:
    for check in {one.plant.check for one in found if one.plant.check}:
        group = [one for one in found if one.plant.check == check]
        assert 3 * sum(one.is_right for one in group) >= 2 * len(group), check


def test_innocent_pages_raise_at_most_one_alarm(found: list[PageResult]) -> None:
    innocent = [one for one in found if not one.plant.check]
    assert sum(not one.is_right for one in innocent) <= 1, table(found)

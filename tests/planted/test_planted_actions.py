"""What is cut, closed and laid in, and in which order: planted errors are caught, and look-alikes raise no alarm."""

from __future__ import annotations

import pytest

from planted.actions import Planted, results, table


@pytest.fixture(scope="module")
def found() -> list[Planted]:
    return results()


def test_95_in_100_planted_actions_are_caught(found: list[Planted]) -> None:
    errors = [one for one in found if one.wanted]
    assert len(errors) >= 55
    assert sum(one.is_right for one in errors) >= 0.95 * len(errors), table(found)


def test_innocent_actions_raise_no_alarm(found: list[Planted]) -> None:
    innocent = [one for one in found if not one.wanted]
    assert len(innocent) >= 35
    assert all(one.is_right for one in innocent), table(found)

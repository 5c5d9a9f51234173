"""The read-back catches every spoilt paper and says what it is; test_papers shows that the untouched pass."""

from __future__ import annotations

from pathlib import Path

import pytest
from papers import proved
from sabotage import CASES, Case


@pytest.mark.parametrize("case", CASES, ids=lambda case: case.name)
def test_it_is_caught_and_named(case: Case, tmp_path: Path) -> None:
    composed, data = case.made()
    found = proved(composed, data, tmp_path)
    assert any(case.say in problem for problem in found.problems), found.problems


def test_the_set_is_large_enough() -> None:
    assert len(CASES) >= 30
    assert len({case.name for case in CASES}) == len(CASES)

"""The read-back catches every spoilt .pptx and says what it is; test_slides shows that the untouched pass."""

from __future__ import annotations

from pathlib import Path

import pytest
from decks import file_document, pptx, proved
from slide_sabotage import CASES, Case, opened, packed, spoilt


@pytest.mark.parametrize("case", CASES, ids=lambda case: case.name)
def test_it_is_caught_and_named(case: Case, tmp_path: Path) -> None:
    found = proved(file_document(), spoilt(case), tmp_path)
    assert any(case.say in problem for problem in found.problems), found.problems


def test_packing_anew_spoils_nothing(tmp_path: Path) -> None:
    """The control: what the cases do beside their defect is not what is caught."""
    assert proved(file_document(), packed(opened(pptx())), tmp_path).problems == ()


def test_a_time_in_the_package_is_caught(tmp_path: Path) -> None:
    found = proved(file_document(), packed(opened(pptx()), (2026, 11, 25, 10, 0, 0)), tmp_path)
    assert any("tells the time of day" in problem for problem in found.problems)


def test_no_slides_at_all_are_caught(tmp_path: Path) -> None:
    assert "cannot be opened" in proved(file_document(), b"PK no", tmp_path).problems[0]


def test_the_set_is_large_enough() -> None:
    assert len(CASES) >= 12
    assert len({case.name for case in CASES}) == len(CASES)

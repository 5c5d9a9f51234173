"""Fixtures of the tests of editions. What takes a publish is made once, and each test has a copy of its own."""

from __future__ import annotations

from pathlib import Path

import pytest
from house import SECOND, House
from publishing import made_once


@pytest.fixture
def house(tmp_path: Path) -> House:
    """A department that issues cards."""
    return House(tmp_path)


@pytest.fixture(scope="session")
def first_issue(tmp_path_factory: pytest.TempPathFactory) -> Path:
    def make(folder: Path) -> None:
        house = House(folder)
        house.approve()
        house.publish(issue=True)

    return made_once(tmp_path_factory, "first-issue", make)


@pytest.fixture(scope="session")
def second_issue(first_issue: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    def make(folder: Path) -> None:
        house = House(folder, first_issue)
        house.change("aftercare/pain-relief.md", "amount: 1 g", "amount: 500 mg")
        house.set(edition='"1.1"')
        house.approve(SECOND)
        house.publish(SECOND, issue=True)

    return made_once(tmp_path_factory, "second-issue", make)


@pytest.fixture
def issued(first_issue: Path, tmp_path: Path) -> House:
    """Edition 1.0 is issued."""
    return House(tmp_path, first_issue)


@pytest.fixture
def played(second_issue: Path, tmp_path: Path) -> House:
    """Edition 1.0 is issued, then 1.1 with another dose."""
    return House(tmp_path, second_issue)

"""No sabotage of the independent set passes: it is refused, or told in view and refused where it is approved."""

from __future__ import annotations

from collections.abc import Iterator
from concurrent.futures import ProcessPoolExecutor
from multiprocessing import get_context
from pathlib import Path
from typing import Any

import pytest
from sabotaged import SET, outcome

BY_APPROVAL = frozenset(
    one["id"] for one in SET if one["id"].startswith(("d01", "d02", "d03", "d05", "d06", "d07", "d11", "d17", "d18"))
)
"""Drawings that show another thing than they should, as SECURITY.md says: only that their approval is void is known."""


def test_the_set_is_the_one_that_was_written() -> None:
    kinds = [one["class"] for one in SET]
    assert {kind: kinds.count(kind) for kind in kinds} == {
        "page": 30,
        "paper": 35,
        "drawing": 20,
        "slides-map-book": 10,
        "trace": 5,
        "innocent": 12,
    }


@pytest.fixture(scope="module")
def pool() -> Iterator[ProcessPoolExecutor]:
    """Processes of their own, each for a few: what sets type keeps some 40 MB for each publish as long as it lives."""
    with ProcessPoolExecutor(1, mp_context=get_context("spawn"), max_tasks_per_child=12) as processes:
        yield processes


@pytest.mark.slow
@pytest.mark.parametrize("one", SET, ids=lambda one: one["id"])
def test_it_is_refused_or_told(one: dict[str, Any], tmp_path: Path, pool: ProcessPoolExecutor) -> None:
    kind, by = pool.submit(outcome, one, tmp_path).result()
    if one["class"] == "innocent":
        assert kind in ("told", "passed"), by
    elif one["id"] in BY_APPROVAL:
        assert kind == "void", by
    else:
        assert kind in ("refused", "told"), by

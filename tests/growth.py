"""How much work something is, counted, so that no test fails because a machine is slow or busy."""

from __future__ import annotations

import sys
import time
from collections.abc import Callable

Work = Callable[[], object]


def steps(work: Work) -> int:
    """Return how many functions of Python and of C are called and left during ``work``: the same on every machine."""
    counted = 0

    def count(*_: object) -> None:
        nonlocal counted
        counted += 1

    sys.setprofile(count)
    try:
        work()
    finally:
        sys.setprofile(None)
    return counted


def assert_steps_grow_with_size(work: Callable[[int], Work], size: int) -> None:
    """Fail if four times the ``size`` is six times the steps; where they grow as its square it is 16 times."""
    assert steps(work(4 * size)) < 6 * steps(work(size))


def assert_matching_grows_with_size(work: Callable[[int], Work], size: int) -> None:
    """The same of regular expressions, all of which are one step: eight times the ``size`` is not 24 times the time.

    It is the processor time of this thread and compared with itself, so the machine and what else it does fall out.
    Where it grows as the square it is 64 times.
    """
    small, large = work(size), work(8 * size)
    assert _processor_seconds(large) < 24 * min(_processor_seconds(small) for _ in range(3))


def _processor_seconds(work: Work) -> float:
    start = time.thread_time()
    work()
    return time.thread_time() - start

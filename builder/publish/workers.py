"""Many small tasks on all processors."""

from __future__ import annotations

import gc
import multiprocessing
import os
import signal
import sys
import threading
from collections.abc import Callable, Iterator
from concurrent.futures import ProcessPoolExecutor
from typing import Any, TypeVar

Done = TypeVar("Done")

FEW = 50
"""So many tasks are done before other processes would be ready to help."""
_MOST_WORKERS = 8  # beyond them, what comes back waits for the one process that takes it
_TOGETHER = 8


class _Task:
    """What the workers do: forked, they find it here as the parent left it."""

    run: Callable[[int], Any]


def spread(task: Callable[[int], Done], many: int) -> Iterator[Done]:
    """Yield ``task(0)`` to ``task(many - 1)``, in order.

    Workers are forked: they share all that the task looks at, and only what it returns is sent. So a task may write
    files, and nothing else that it changes is seen. Where forking is unsafe, or the tasks are few, there are none.
    Raises what a task raises.
    """
    processors = min(_MOST_WORKERS, len(os.sched_getaffinity(0))) if sys.platform == "linux" else 1
    if many < FEW or processors == 1:
        yield from map(task, range(many))
        return
    yield task(0)  # what the first one prepares, such as templates, the workers find prepared
    _Task.run = task
    workers = ProcessPoolExecutor(processors, multiprocessing.get_context("fork"), _start)
    try:
        for some in workers.map(_run, range(1, many, _TOGETHER), [many] * many):
            yield from some
    finally:
        workers.shutdown(cancel_futures=True)
        del _Task.run


def _run(first: int, many: int) -> list[Any]:
    return [_Task.run(number) for number in range(first, min(first + _TOGETHER, many))]


def live_and_end_with_parent() -> None:
    """Make this process one that only its parent ends: by telling it, or by being gone."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)  # whoever interrupts speaks to the parent, which ends its workers
    threading.Thread(target=_end_with_parent, daemon=True).start()


def _start() -> None:
    live_and_end_with_parent()
    gc.freeze()  # looking through what the parent left would copy it page by page


def _end_with_parent() -> None:
    """End this process when the parent has gone, so that nothing goes on writing for a publish that was killed."""
    parent = multiprocessing.parent_process()
    if parent is not None:
        parent.join()
        os._exit(1)

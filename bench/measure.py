"""Times one task in a process of its own, with its peak memory."""

from __future__ import annotations

import multiprocessing
import resource
import time
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

_KIB = 1024


@dataclass(frozen=True)
class Measured:
    """Seconds of processor time and of the clock, and peak memory in MiB, of one run in a fresh process."""

    cpu: float
    wall: float
    peak: float


def measure(task: Callable[..., Any], *arguments: Any, runs: int = 3) -> Measured:
    """Run ``task`` ``runs`` times, each in a fresh process, and return the run with the median processor time."""
    context = multiprocessing.get_context("spawn")
    found: list[Measured] = []
    for _ in range(runs):
        ours, theirs = context.Pipe()
        process = context.Process(target=_run, args=(theirs, task, arguments))
        process.start()
        theirs.close()
        found.append(ours.recv())
        process.join()
    return sorted(found, key=lambda one: one.cpu)[len(found) // 2]


def _run(pipe: Any, task: Callable[..., Any], arguments: tuple[Any, ...]) -> None:
    wall, cpu = time.perf_counter(), _cpu()
    task(*arguments)
    used = Measured(_cpu() - cpu, time.perf_counter() - wall, _peak())
    pipe.send(used)
    pipe.close()


def _cpu() -> float:
    """Processor seconds of this process and the children it has waited for."""
    own, children = resource.getrusage(resource.RUSAGE_SELF), resource.getrusage(resource.RUSAGE_CHILDREN)
    return own.ru_utime + own.ru_stime + children.ru_utime + children.ru_stime


def _peak() -> float:
    """The largest single process, in MiB.

    Linux hands ``ru_maxrss`` of a parent on to what it starts; the high-water mark in /proc begins anew.
    """
    children = resource.getrusage(resource.RUSAGE_CHILDREN).ru_maxrss / _KIB
    status = Path("/proc/self/status")
    if not status.exists():
        return max(children, resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / _KIB)
    mark = next(line for line in status.read_text(encoding="ascii").splitlines() if line.startswith("VmHWM:"))
    return max(children, int(mark.split()[1]) / _KIB)

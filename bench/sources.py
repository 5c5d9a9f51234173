"""Sources at size: what reading and checking 5,000 sources with 20,000 citations costs beside the bare pybtex parse.

python -m bench sources
"""

from __future__ import annotations

import multiprocessing
import os
import resource
import subprocess
import sys
import time
from collections.abc import Callable
from dataclasses import dataclass, replace
from datetime import date
from pathlib import Path

from pybtex.database import parse_string

from bench.departments import make
from builder.check.engine import examine
from builder.check.table import CHECKS
from builder.findings import register
from builder.load.folder import collector_paused, load
from builder.load.sources.bibliography import RawSource, SourceCache, read_sources
from builder.load.sources.latex import plain

SOURCES, CITATIONS, PROCEDURES = 5_000, 20_000, 40
_TODAY = date(2026, 11, 25)
_ABOUT_SOURCES = (register.SOURCES, register.CITATIONS)
_ENTRY = """
@article{{paper-{number:04d},
  author = {{Example, Ada B. and van der Sample, Ben and {{Trial Group {number}}} and Fourth, Dora}},
  title = {{A paper about the {{ILIOINGUINAL}} nerve, number {number}, with a title of usual length for a trial}},
  journal = {{British Journal of Surgery}},
  year = {{{year}}},
  volume = {{{volume}}},
  number = {{{issue}}},
  pages = {{{first}--{last}}},
  doi = {{10.1234/bench.{number}}},
  pmid = {{{pmid}}},
  keywords = {{hernia, bench}},
}}
"""


def department(folder: Path) -> Path:
    """Write a department with so many sources and citations into ``folder``, and return it."""
    root = make(folder / "department", PROCEDURES)
    entries = (
        _ENTRY.format(
            number=number, year=1990 + number % 36, volume=number % 97 + 1, issue=number % 12 + 1,
            first=number, last=number + 9, pmid=1_000_000 + number,
        )
        for number in range(SOURCES)
    )  # fmt: skip
    (root / "references" / "large.bib").write_text("".join(entries), encoding="utf-8")
    steps = sorted(root.glob("content/procedures/*/steps/*.md"))
    each = -(-CITATIONS // len(steps))
    for at, step in enumerate(steps):
        keys = [f"paper-{(at * each + number) % SOURCES:04d}" for number in range(each)]
        links = "\n".join(f"As [p. {number}](source:{key}) says." for number, key in enumerate(keys, start=1))
        step.write_text(f"{step.read_text(encoding='utf-8')}\n{links}\n", encoding="utf-8")
    return root


def bare(root: Path) -> float:
    """Return the seconds that pybtex takes to parse every .bib."""
    texts = [file.read_text(encoding="utf-8") for file in sorted(root.glob("references/*.bib"))]
    return _seconds(lambda: [parse_string(text, "bibtex") for text in texts])


def sources(root: Path, cache: str | None) -> float:
    """Return the seconds to read every .bib and run every check of sources over a department read before."""
    library, _ = examine(load(root, _TODAY))
    plain.cache_clear()
    texts = [(file.read_text(encoding="utf-8"), file.name) for file in sorted(root.glob("references/*.bib"))]
    checks = [check for check in CHECKS if register.REGISTER[check.name].family in _ABOUT_SOURCES]

    def task() -> None:
        with collector_paused():
            found: dict[str, RawSource] = {}
            for text, name in texts:
                found |= read_sources(text, name, SourceCache(Path(cache)) if cache else None)[0]
        seen = replace(library, sources=found)
        for check in checks:
            list(check.run(seen))

    return _seconds(task)


def whole(root: Path) -> float:
    """Return the seconds of the whole check, nothing kept from before."""
    return _seconds(lambda: examine(load(root, _TODAY)))


def command(root: Path, cache: str) -> float:
    """Return the seconds of ``prescrub check`` with its cache in ``cache``, from the start of Python to its end."""
    environment = {**os.environ, "PRESCRUB_CACHE": cache}
    before = resource.getrusage(resource.RUSAGE_CHILDREN)
    done = subprocess.run(  # noqa: S603  # ourselves
        [sys.executable, "-m", "builder", "check", str(root)], env=environment, capture_output=True, check=False
    )
    after = resource.getrusage(resource.RUSAGE_CHILDREN)
    if done.returncode > 1:
        raise RuntimeError(done.stderr.decode())
    return after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime


def _seconds(task: Callable[[], object]) -> float:
    start = time.process_time()
    task()
    return time.process_time() - start


def fresh(task: Callable[..., float], *arguments: object, runs: int = 3) -> float:
    """Return the best of ``runs`` runs of ``task``, each in a process of its own."""
    with multiprocessing.get_context("spawn").Pool(1, maxtasksperchild=1) as pool:
        return min(pool.apply(task, arguments) for _ in range(runs))


@dataclass(frozen=True)
class Found:
    """Processor seconds: the bare parse; sources alone, the first time and from their cache; the whole check; and the
    command, the first time and when nothing has changed."""

    bare: float
    sources: float
    sources_again: float
    whole: float
    command: float
    command_again: float


def compare(root: Path, cache: Path) -> Found:
    """Measure the department in ``root``, with caches below ``cache``."""
    base = fresh(bare, root)
    first = fresh(sources, root, None)
    fresh(sources, root, str(cache / "parsed"), runs=1)
    again = fresh(sources, root, str(cache / "parsed"))
    checked = fresh(whole, root)
    commands = [command(root, str(cache / "kept" / str(number))) for number in range(3)]
    kept = [command(root, str(cache / "kept" / str(number))) for number in range(3)]
    return Found(base, first, again, checked, min(commands), min(kept))

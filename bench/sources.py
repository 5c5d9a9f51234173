"""Sources at size: what reading and checking 5,000 sources with 20,000 citations costs beside the bare pybtex parse.

python -m bench.sources
"""

from __future__ import annotations

import multiprocessing
import sys
import tempfile
import time
from collections.abc import Callable
from dataclasses import replace
from datetime import date
from pathlib import Path

from pybtex.database import parse_string

from bench.departments import make
from builder.check.engine import examine
from builder.check.table import CHECKS
from builder.load.bibliography import RawSource, read_sources
from builder.load.folder import load
from builder.load.latex import plain
from builder.load.memory import collector_paused
from builder.load.source_cache import SourceCache

SOURCES, CITATIONS, PROCEDURES = 5_000, 20_000, 40
_TODAY = date(2026, 11, 25)
_ABOUT_SOURCES = ("SR", "CI")
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
    checks = [check for check in CHECKS if check.id.startswith(_ABOUT_SOURCES)]

    def task() -> None:
        with collector_paused():
            found: dict[str, RawSource] = {}
            for text, name in texts:
                found |= read_sources(text, name, SourceCache(Path(cache)) if cache else None)[0]
        seen = replace(library, sources=found)
        for check in checks:
            list(check.run(seen))

    return _seconds(task)


def whole(root: Path, cache: str | None) -> float:
    """Return the seconds of the whole check, as the command runs it."""
    return _seconds(lambda: examine(load(root, _TODAY, SourceCache(Path(cache)) if cache else None)))


def _seconds(task: Callable[[], object]) -> float:
    start = time.process_time()
    task()
    return time.process_time() - start


def fresh(task: Callable[..., float], *arguments: object, runs: int = 3) -> float:
    """Return the best of ``runs`` runs of ``task``, each in a process of its own."""
    with multiprocessing.get_context("spawn").Pool(1, maxtasksperchild=1) as pool:
        return min(pool.apply(task, arguments) for _ in range(runs))


def main() -> int:
    """Print the times and their ratios."""
    with tempfile.TemporaryDirectory() as folder:
        root, cache = department(Path(folder)), str(Path(folder) / "cache")
        base = fresh(bare, root)
        first = fresh(sources, root, None)
        fresh(sources, root, cache, runs=1)
        second = fresh(sources, root, cache)
        rows = (
            ("bare pybtex parse", base),
            ("sources read and checked", first),
            ("the same from the cache", second),
            ("whole check", fresh(whole, root, None)),
            ("whole check from the cache", fresh(whole, root, cache)),
        )
    sys.stdout.write(f"{SOURCES} sources, {CITATIONS} citations, {PROCEDURES} procedures: processor seconds\n")
    for name, seconds in rows:
        sys.stdout.write(f"{name:>28} {seconds:7.2f}  {seconds / base:5.2f} x bare\n")
    sys.stdout.write(f"second run : first run = {second / first:.2f} (at most 0.20)\n")
    return 0


if __name__ == "__main__":
    sys.exit(main())

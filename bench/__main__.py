"""``make bench``: prints ratios; nothing here passes or fails.

python -m bench check 1 10 100 1000
"""

from __future__ import annotations

import os
import sys
import tempfile
from collections.abc import Callable
from pathlib import Path

from bench import check, paper, publish, sources
from bench.departments import STEPS, make

os.environ["PRESCRUB_CACHE"] = "off"  # what was kept from an earlier run is no measure of this one

# Publishing a thousand procedures takes a quarter of an hour: ask for it by `python -m bench publish 1000`.
_SIZES = {"check": (1, 10, 100, 1000), "publish": (1, 10, 100), "paper": (50,), "sources": ()}


def _check(sizes: tuple[int, ...]) -> None:
    sys.stdout.write(f"check: processor seconds against bare YAML + Markdown + pybtex ({STEPS} steps a procedure)\n")
    sys.stdout.write(f"{'procedures':>10} {'ours s':>8} {'bare s':>8} {'ratio':>6} {'growth':>7} {'peak MiB':>9}\n")
    before = 0.0
    for size in sizes:
        with tempfile.TemporaryDirectory() as folder:
            ours, bare = check.compare(make(Path(folder) / "department", size))
        growth = f"{ours.cpu / before:7.2f}" if before else " " * 7
        ratio = ours.cpu / bare.cpu
        sys.stdout.write(f"{size:>10} {ours.cpu:8.2f} {bare.cpu:8.2f} {ratio:6.2f} {growth} {ours.peak:9.0f}\n")
        before = ours.cpu


def _publish(sizes: tuple[int, ...]) -> None:
    sys.stdout.write("publish: seconds of the clock against bare WeasyPrint + mkdocs on the same pages\n")
    sys.stdout.write(f"{'procedures':>10} {'ours s':>8} {'paper s':>8} {'site s':>8} {'ratio':>6} {'peak MiB':>9}\n")
    for size in sizes:
        with tempfile.TemporaryDirectory() as folder:
            work = Path(folder)
            ours, papers, site = publish.compare(make(work / "department", size), work / "work")
        ratio = ours.wall / (papers.wall + site.wall)
        sys.stdout.write(
            f"{size:>10} {ours.wall:8.2f} {papers.wall:8.2f} {site.wall:8.2f} {ratio:6.2f} {ours.peak:9.0f}\n"
        )
        sys.stdout.flush()


def _paper(sizes: tuple[int, ...]) -> None:
    sys.stdout.write("paper: seconds of the clock and of the processor, each with its ratio to bare WeasyPrint\n")
    for size in sizes:
        with tempfile.TemporaryDirectory() as folder:
            work = Path(folder)
            found = paper.compare(make(work / "department", size), work / "work")
        bare = found["bare, 2 processes"]
        for name, one in found.items():
            ratios = f"{one.wall:8.2f} {one.wall / bare.wall:6.3f} {one.cpu:8.2f} {one.cpu / bare.cpu:6.3f}"
            sys.stdout.write(f"{size:>5} {name:<26} {ratios}\n")
        sys.stdout.flush()


def _sources(_: tuple[int, ...]) -> None:
    sys.stdout.write(
        f"sources: processor seconds, {sources.SOURCES} sources, {sources.CITATIONS} citations, "
        f"{sources.PROCEDURES} procedures\n"
    )
    with tempfile.TemporaryDirectory() as folder:
        found = sources.compare(sources.department(Path(folder)), Path(folder) / "cache")
    rows = (
        ("bare pybtex parse", found.bare),
        ("sources read and checked", found.sources),
        ("the same from their cache", found.sources_again),
        ("whole check", found.whole),
        ("prescrub check, first run", found.command),
        ("prescrub check, second run", found.command_again),
    )
    for name, seconds in rows:
        sys.stdout.write(f"{name:>28} {seconds:7.2f}  {seconds / found.bare:5.2f} x bare\n")
    sys.stdout.write(f"second run : first run = {found.command_again / found.command:.3f}\n")


_BENCHMARKS: dict[str, Callable[[tuple[int, ...]], None]] = {
    "check": _check,
    "publish": _publish,
    "paper": _paper,
    "sources": _sources,
}


def main(arguments: list[str]) -> int:
    """Run the benchmarks that are named, or all, for the sizes that follow."""
    sizes = tuple(int(word) for word in arguments if word.isdigit())
    for name in [word for word in arguments if word in _BENCHMARKS] or list(_BENCHMARKS):
        _BENCHMARKS[name](sizes or _SIZES[name])
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))

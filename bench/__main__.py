"""``make bench``: prints ratios; nothing here passes or fails.

python -m bench check 1 10 100 1000
"""

from __future__ import annotations

import argparse
import os
import sys
import tempfile
from collections.abc import Callable
from functools import partial
from itertools import product
from pathlib import Path

from bench import check, paper, preview, publish, region, site, sources
from bench.departments import STEPS, make
from builder.findings.message_words import quoted

os.environ["PRESCRUB_CACHE"] = "off"  # what was kept from an earlier run is no measure of this one

# Publishing a thousand procedures takes long, so it comes last; `python -m bench publish 1 10` asks for less.
_ALL = (1, 10, 100, 1000)
_SIZES = {"check": _ALL, "publish": _ALL, "paper": (50,), "preview": (50,), "site": (100, 1000), "sources": ()}
# Asked for by name: with a thousand procedures a site takes a quarter of an hour and 14 GB; a region takes as long, so
# `python -m bench region 1` and `region 3` may be run on different days.
_RARE = {"site-all": (100, 1000), "region": (1, 3, 10), "region-workers": (5,)}
_REGION = (100, 50)
"""Departments, and procedures of each, to which a region is extrapolated."""


def _check(sizes: tuple[int, ...]) -> None:
    sys.stdout.write(f"check: processor seconds against bare YAML + Markdown + pybtex ({STEPS} steps a procedure)\n")
    heads = f"{'ours s':>8} {'bare s':>8} {'ratio':>6} {'growth':>7} {'peak MiB':>9}"
    sys.stdout.write(f"{'procedures':>10} {'texts':>5} {heads}\n")
    before: dict[bool, float] = {}
    for size, own_words in product(sizes, (False, True)):
        with tempfile.TemporaryDirectory() as folder:
            ours, bare = check.compare(make(Path(folder) / "department", size, own_words=own_words))
        growth = f"{ours.cpu / before[own_words]:7.2f}" if own_words in before else " " * 7
        row = f"{ours.cpu:8.2f} {bare.cpu:8.2f} {ours.cpu / bare.cpu:6.2f} {growth} {ours.peak:9.0f}"
        sys.stdout.write(f"{size:>10} {'own' if own_words else 'alike':>5} {row}\n")
        sys.stdout.flush()
        before[own_words] = ours.cpu


def _publish(sizes: tuple[int, ...]) -> None:
    sys.stdout.write("publish: seconds of the processor against bare WeasyPrint + mkdocs on the same pages\n")
    sys.stdout.write(f"{'procedures':>10} {'ours s':>8} {'paper s':>8} {'site s':>8} {'ratio':>6} {'peak MiB':>9}\n")
    for size in sizes:
        with tempfile.TemporaryDirectory() as folder:
            work = Path(folder)
            ours, papers, site = publish.compare(make(work / "department", size), work / "work")
        ratio = ours.cpu / (papers.cpu + site.cpu)
        sys.stdout.write(
            f"{size:>10} {ours.cpu:8.2f} {papers.cpu:8.2f} {site.cpu:8.2f} {ratio:6.2f} {ours.peak:9.0f}\n"
        )
        sys.stdout.flush()


def _paper(sizes: tuple[int, ...]) -> None:
    sys.stdout.write("paper: seconds of the clock and of the processor, each with its ratio to bare WeasyPrint\n")
    for size in sizes:
        with tempfile.TemporaryDirectory() as folder:
            work = Path(folder)
            found = paper.compare(make(work / "department", size), work / "work")
        bare = found["bare"]
        for name, one in found.items():
            ratios = f"{one.wall:8.2f} {one.wall / bare.wall:6.3f} {one.cpu:8.2f} {one.cpu / bare.cpu:6.3f}"
            sys.stdout.write(f"{size:>5} {name:<26} {ratios}\n")
        sys.stdout.flush()


def _site(sizes: tuple[int, ...], *, all_pages: bool = False) -> None:
    sys.stdout.write("site: our engine, and all of publish --only site, against bare mkdocs builds of the same text\n")
    heads = ("procedures", "", "pages", "wall s", "growth", "cpu s", "growth", "MB", "growth", "peak MiB")
    line = "{:>10} {:<18} {:>6} {:>8} {:>6} {:>8} {:>6} {:>8} {:>6} {:>8}"
    sys.stdout.write(f"{line.format(*heads)}  ours : it, wall cpu MB\n")
    before: dict[str, site.Built] = {}
    for size in sizes:
        with tempfile.TemporaryDirectory() as folder:
            work = Path(folder)
            found = site.compare(make(work / "department", size), work / "work", all_pages=all_pages)
        for name, one in found.items():
            sys.stdout.write(f"{size:>10} {name:<18} {_site_row(one, before.get(name), found['ours'])}\n")
        alone = found["our engine"].took.cpu / found["bare, our frame"].took.cpu
        sys.stdout.write(f"{size:>10} our engine : mkdocs, the same finished pages = {alone:.2f} in processor time\n")
        sys.stdout.flush()
        before = found


def _site_row(one: site.Built, smaller: site.Built | None, ours: site.Built) -> str:
    here, reference = _weighed(one), _weighed(ours)
    row = f"{one.pages:>6}"
    for place, value in enumerate(here):
        growth = f"{value / _weighed(smaller)[place]:6.2f}" if smaller else " " * 6
        row += f" {value:8.2f} {growth}"
    ratios = " ".join(f"{its / value:.2f}" for its, value in zip(reference, here, strict=True))
    return f"{row} {one.took.peak:8.0f}  {ratios}"


def _weighed(one: site.Built) -> tuple[float, float, float]:
    """What is compared: seconds of the clock and of the processor, and MB."""
    return one.took.wall, one.took.cpu, one.bytes / 1e6


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


def _preview(sizes: tuple[int, ...]) -> None:
    sys.stdout.write("preview: seconds from saving a step to what the browser shows, medians of 40 saves\n")
    sys.stdout.write(f"{'procedures':>10} {'page':>7} {'finding':>8} {'card':>7} {'all':>7} {'slowest':>8}\n")
    for size in sizes:
        with tempfile.TemporaryDirectory() as folder:
            one = preview.saves(make(Path(folder) / "department", size), 40)
        times = f"{one.page:7.3f} {one.findings:8.3f} {one.card:7.3f} {one.all:7.3f} {one.slowest:8.3f}"
        sys.stdout.write(f"{size:>10} {times}\n")
        sys.stdout.flush()


def _region(sizes: tuple[int, ...]) -> None:
    procedures = region.FROM_PARENT + region.OWN
    sys.stdout.write(
        f"region: departments of {procedures} procedures, {region.FROM_PARENT} of them the common library's; processor "
        "seconds of the command. Before the 2nd night nothing changes, before the usual one a step of one procedure.\n"
        f"{'departments':>11} {'artefacts':>9} {'MB':>7} {'1st night':>9} {'a dept':>7} {'growth':>7} "
        f"{'2nd night':>9} {'of 1st':>7} {'usual':>7} {'x one procedure':>15}\n"
    )
    smallest = 0.0
    for size in sizes:
        with tempfile.TemporaryDirectory() as folder:
            root = region.make_region(Path(folder) / "region", size)
            found = region.nights(root, Path(folder) / "public", size)
        smallest = smallest or found.each
        sys.stdout.write(
            f"{size:>11} {found.artefacts:>9} {found.bytes / 1e6:7.1f} {found.first.cpu:9.1f} {found.each:7.1f} "
            f"{found.each / smallest:7.2f} {found.second.cpu:9.2f} {found.second.cpu / found.first.cpu:7.2%} "
            f"{found.usual.cpu:7.1f} {found.usual.cpu / found.each * procedures:15.2f}\n"
        )
        hours = found.each / procedures * _REGION[0] * _REGION[1] / 3600
        gigabytes = found.bytes / size / procedures * _REGION[0] * _REGION[1] / 1e9
        sys.stdout.write(
            f"{'':>11} extrapolated, not measured, to {_REGION[0]} departments of {_REGION[1]} procedures: "
            f"{hours:.1f} processor hours, {gigabytes:.1f} GB\n"
        )
        sys.stdout.flush()


def _region_workers(sizes: tuple[int, ...]) -> None:
    for size in sizes:
        load = f"load before it {os.getloadavg()[0]:.1f} on {os.cpu_count()} processors"
        sys.stdout.write(f"region-workers: one department of {size} procedures, by workers of dask; {load}\n")
        sys.stdout.write(
            f"{'workers':>9} {'clock s':>8} {'x one':>6} {'orders s':>8} {'work s':>7} {'at best':>7} digest\n"
        )
        alone = 0.0
        with tempfile.TemporaryDirectory() as folder:
            for one in region.workers(make(Path(folder) / "department", size), Path(folder)):
                alone = one.took.wall if one.workers == 1 else alone
                faster = f"{alone / one.took.wall:6.2f}" if alone else " " * 6
                sys.stdout.write(
                    f"{one.workers or 'none':>9} {one.took.wall:8.1f} {faster} {one.took.cpu:8.1f} {one.theirs:7.1f} "
                    f"{one.at_best:7.2f} {one.digest}\n"
                )
                sys.stdout.flush()


_BENCHMARKS: dict[str, Callable[[tuple[int, ...]], None]] = {
    "check": _check,
    "publish": _publish,
    "paper": _paper,
    "preview": _preview,
    "site": _site,
    "site-all": partial(_site, all_pages=True),
    "sources": _sources,
    "region": _region,
    "region-workers": _region_workers,
}


def _word(written: str) -> str | int:
    if written in _BENCHMARKS:
        return written
    if written.isdigit():
        return int(written)
    raise argparse.ArgumentTypeError(f"{quoted(written)} is neither a benchmark nor a number of procedures")


def main(arguments: list[str]) -> int:
    """Run the benchmarks that are named, or all, for the sizes that follow."""
    parser = argparse.ArgumentParser(
        "python -m bench",
        description="Measure how long the program takes beside the bare engines. Nothing passes or fails.",
        epilog="For example: python -m bench check publish 1 10",
    )
    parser.add_argument(
        "words",
        nargs="*",
        type=_word,
        metavar="benchmark or size",
        help=f"a benchmark ({', '.join(_BENCHMARKS)}), or how many procedures the department has; "
        f"without a benchmark all but {', '.join(_RARE)}, without a size those it is usually measured with",
    )
    words: list[str | int] = parser.parse_args(arguments).words
    sizes = tuple(word for word in words if isinstance(word, int))
    for name in [word for word in words if isinstance(word, str)] or list(_SIZES):
        _BENCHMARKS[name](sizes or (_SIZES | _RARE)[name])
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))

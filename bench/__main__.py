"""``make bench``: prints ratios; nothing here passes or fails.

python -m bench check 1 10 100 1000
"""

from __future__ import annotations

import sys
import tempfile
from pathlib import Path

from bench import check
from bench.departments import STEPS, make

_SIZES = (1, 10, 100, 1000)


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


def main(arguments: list[str]) -> int:
    """Run the benchmark named first, or all, for the sizes that follow."""
    sizes = tuple(int(word) for word in arguments if word.isdigit()) or _SIZES
    _check(sizes)
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))

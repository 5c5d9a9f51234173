"""The files of the common catalogue, which ships with the program."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

from builder.load.frontmatter import Value, read_values

FOLDER = Path(__file__).resolve().parent.parent / "common"


def common_values(pattern: str) -> Iterator[tuple[str, Value]]:
    """Yield ``(kind, values)`` of each file whose name fits ``pattern``; the kind is its name up to the first hyphen."""
    for path in sorted(FOLDER.glob(pattern)):
        values, _ = read_values(path.read_text(encoding="utf-8"), f"the common catalogue, {path.name}")
        yield path.stem.partition("-")[0], values

"""The files of the common catalogue, which ships with the program: JSON, one row a line, read in a few milliseconds."""

import json
from collections.abc import Iterator
from pathlib import Path
from typing import Any

from builder.place import Place, Text

FOLDER = Path(__file__).resolve().parent.parent / "common"


def common_rows(pattern: str) -> Iterator[Any]:
    """Yield each row of the files whose names fit ``pattern``, in order; its texts know their line."""
    for path in sorted(FOLDER.glob(pattern)):
        for line, row in enumerate(json.loads(path.read_text(encoding="utf-8")), start=2):
            yield _placed(row, Place(f"the common catalogue, {path.name}", line))


def _placed(value: Any, at: Place) -> Any:
    if isinstance(value, str):
        return Text(value, at)
    if isinstance(value, list):
        return tuple(_placed(part, at) for part in value)
    if isinstance(value, dict):
        return {key: _placed(part, at) for key, part in value.items()}
    return value

"""Writing a single file whole or not at all."""

from __future__ import annotations

import os
import tempfile
from pathlib import Path


class NotWritten(Exception):
    """Nothing was written; the text says why and what to do."""


def write_text(path: Path, text: str) -> None:
    """Write ``text`` to ``path`` in UTF-8; a reader sees the old file or the new one, never a part. Makes folders."""
    path.parent.mkdir(parents=True, exist_ok=True)
    handle, name = tempfile.mkstemp(dir=path.parent, prefix=".", suffix=".part")
    try:
        with os.fdopen(handle, "w", encoding="utf-8", newline="\n") as file:
            file.write(text)
        Path(name).chmod(0o644)
        Path(name).replace(path)
    except BaseException:
        Path(name).unlink(missing_ok=True)
        raise

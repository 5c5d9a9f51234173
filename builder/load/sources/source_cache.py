"""Parsed sources kept between runs, keyed by the content of the .bib file."""

from __future__ import annotations

import os
from collections.abc import Iterable
from hashlib import sha256
from importlib.metadata import version
from pathlib import Path

from builder.load.kept.kept_files import KeptValues, users_folder
from builder.load.sources.raw_source import RawSource

_FORMAT = 2
_MOST_FILES = 16
_MOST_BYTES = 128 * 1024 * 1024


class SourceCache:
    """Remembers the sources of .bib texts in ``folder``, which is made when first written to."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self._kept = KeptValues(folder, _MOST_FILES, _MOST_BYTES)

    @classmethod
    def of_user(cls) -> SourceCache | None:
        """Return the cache of the person who runs the program, or None where it is switched off."""
        folder = users_folder(os.environ)
        return cls(folder / "sources") if folder else None

    def rows(self, text: str, file: str) -> list[RawSource] | None:
        """Return the sources of ``text`` as standing in ``file``, or None where they are not known."""
        rows = self._kept.get(_key(text))
        try:
            return None if rows is None else [RawSource.of_row(row, file) for row in rows]
        except (ValueError, TypeError):
            return None

    def keep(self, text: str, sources: Iterable[RawSource]) -> None:
        """Remember ``sources`` for ``text``. A cache that cannot be written is none: nothing is raised."""
        self._kept.keep(_key(text), [source.row() for source in sources])


def _key(text: str) -> str:
    # What pybtex makes of a text may change with its version, so that is part of the key.
    known = sha256(f"{_FORMAT} {version('pybtex')}\n".encode())
    known.update(text.encode("utf-8", "surrogatepass"))
    return known.hexdigest()

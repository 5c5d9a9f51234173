"""Parsed sources kept between runs in the user's cache folder, keyed by the content of the .bib file.

Plain JSON behind a checksum: nothing in it is ever run, and a file that is damaged or of another version is passed
over. The folder is that of the XDG Base Directory Specification. Nothing is lost when it is deleted.
"""

from __future__ import annotations

import contextlib
import json
import os
import tempfile
from collections.abc import Iterable
from hashlib import sha256
from importlib.metadata import version
from pathlib import Path

from builder.load.raw_source import RawSource

_FORMAT = 1
_MOST_FILES = 16
_MOST_BYTES = 128 * 1024 * 1024


class SourceCache:
    """Remembers the sources of .bib texts in ``folder``, which is made when first written to."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder

    @classmethod
    def of_user(cls) -> SourceCache:
        """Return the cache of the person who runs the program."""
        base = os.environ.get("XDG_CACHE_HOME", "")
        # The specification: a relative path is invalid and to be ignored.
        home = base if base.startswith("/") else os.path.expanduser("~/.cache")  # noqa: PTH111 (Path.home may raise)
        return cls(Path(home) / "prescrub" / "sources")

    def rows(self, text: str, file: str) -> list[RawSource] | None:
        """Return the sources of ``text`` as standing in ``file``, or None where they are not known."""
        path = self._path(text)
        try:
            if path.stat().st_size > _MOST_BYTES:
                return None
            digest, _, body = path.read_bytes().partition(b"\n")
            if digest.decode("ascii") != sha256(body).hexdigest():
                return None
            return [RawSource.of_row(row, file) for row in json.loads(body)]
        except (OSError, ValueError, TypeError, RecursionError):
            return None

    def keep(self, text: str, sources: Iterable[RawSource]) -> None:
        """Remember ``sources`` for ``text``. A cache that cannot be written is none: nothing is raised."""
        body = json.dumps([source.row() for source in sources], ensure_ascii=False, separators=(",", ":")).encode()
        with contextlib.suppress(OSError):
            self.folder.mkdir(mode=0o700, parents=True, exist_ok=True)
            handle, name = tempfile.mkstemp(dir=self.folder, suffix=".new")
            try:
                with os.fdopen(handle, "wb") as file:
                    file.write(sha256(body).hexdigest().encode("ascii") + b"\n" + body)
                Path(name).replace(self._path(text))
            finally:
                Path(name).unlink(missing_ok=True)
            self._trim()

    def _path(self, text: str) -> Path:
        # What pybtex makes of a text may change with its version, so that is part of the key.
        known = sha256(f"{_FORMAT} {version('pybtex')}\n".encode())
        known.update(text.encode("utf-8", "surrogatepass"))
        return self.folder / f"{known.hexdigest()}.json"

    def _trim(self) -> None:
        """Keep the newest files only."""
        kept = sorted(self.folder.glob("*.json"), key=lambda path: path.stat().st_mtime, reverse=True)
        for path in kept[_MOST_FILES:]:
            path.unlink(missing_ok=True)

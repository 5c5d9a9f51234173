"""Artefacts kept from earlier publishes, by the hash of everything that entered them.

Only what passed its proofs is kept, with its own hash: a kept file that is damaged is made again. The folder is the
user's cache (``PRESCRUB_CACHE``, else where the system keeps caches); it may be deleted at any time.
"""

from __future__ import annotations

import hashlib
import json
import os
import shutil
import tempfile
from collections.abc import Mapping
from dataclasses import asdict, dataclass, replace
from pathlib import Path
from typing import Any

from builder.compose.document import Document, LeftOut, Must
from builder.load.kept.kept_files import users_folder
from builder.publish.output import ReadBack

MOST_BYTES = 1024**3


@dataclass(frozen=True, slots=True)
class Kept:
    """What was read back of a kept file, when it was made."""

    pages: int | None
    smallest_type_pt: float | None
    problems: tuple[str, ...] = ()


class Cache:
    """Artefacts below ``folder``. A cache that cannot be read or written is as good as an empty one."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder

    def take(self, key: str, folder: Path) -> tuple[Document, Kept] | None:
        """Copy what is kept under ``key`` to its place below ``folder``; None where nothing whole is kept."""
        try:
            card = json.loads(self._path(key, "json").read_text(encoding="utf-8"))
            data = self._path(key, "data").read_bytes()
            if hashlib.sha256(data).hexdigest() != card["sha256"]:
                return None
            document = _document(card["document"])
            path = folder / document.name
            path.parent.mkdir(parents=True, exist_ok=True)
            path.write_bytes(data)
            os.utime(self._path(key, "json"))
            return document, Kept(card["pages"], card["smallest_type_pt"])
        except (OSError, ValueError, KeyError, TypeError):
            return None

    def keep(self, key: str, document: Document, path: Path, found: ReadBack) -> None:
        """Keep the finished file at ``path`` under ``key``."""
        if type(document) is not Document or found.problems:
            return
        data = path.read_bytes()
        bare = asdict(replace(document, text="", of=None, placed=()))
        card = {
            "document": bare,
            "pages": found.pages,
            "smallest_type_pt": found.smallest_type_pt,
            "sha256": hashlib.sha256(data).hexdigest(),
        }
        try:
            self._write(self._path(key, "data"), data)
            self._write(self._path(key, "json"), json.dumps(card, ensure_ascii=False).encode())
        except OSError:
            return  # a full disk must not stop a publish that has all it needs

    def prune(self, most: int = MOST_BYTES) -> None:
        """Delete what was used longest ago until at most ``most`` bytes are kept."""
        try:
            cards = sorted(self.folder.glob("*/*.json"), key=lambda path: -path.stat().st_mtime)
            size = 0
            for card in cards:
                data = card.with_suffix(".data")
                size += card.stat().st_size + data.stat().st_size
                if size > most:
                    card.unlink()
                    data.unlink()
        except OSError:
            return

    def _path(self, key: str, ending: str) -> Path:
        return self.folder / key[:2] / f"{key}.{ending}"

    def _write(self, path: Path, data: bytes) -> None:
        path.parent.mkdir(parents=True, exist_ok=True)
        handle, name = tempfile.mkstemp(dir=path.parent, prefix=".")
        try:
            with os.fdopen(handle, "wb") as file:
                file.write(data)
            shutil.move(name, path)
        except BaseException:
            Path(name).unlink(missing_ok=True)
            raise


def _document(values: dict[str, Any]) -> Document:
    lists: dict[str, Any] = {
        "resources": tuple(values.pop("resources")),
        "musts": tuple(Must(**one) for one in values.pop("musts")),
        "left_out": tuple(LeftOut(**one) for one in values.pop("left_out")),
        "placed": tuple(values.pop("placed")),
    }
    return Document(**values, **lists)


def users_cache(environment: Mapping[str, str] = os.environ) -> Cache | None:
    """Return the cache of whoever runs the program, or None where ``PRESCRUB_CACHE`` says ``off``."""
    folder = users_folder(environment)
    return Cache(folder / "artefacts") if folder else None

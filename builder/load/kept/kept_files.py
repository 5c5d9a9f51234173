"""What the program keeps between runs, in the cache folder of whoever runs it: plain JSON after a checksum.

Nothing kept is ever run, a file that is damaged or was written by another version is passed over, and the folder may
be deleted at any time.
"""

import contextlib
import json
import os
import sys
import tempfile
from collections.abc import Callable, Mapping
from hashlib import sha256
from pathlib import Path
from typing import Any, ClassVar, Self, TypeVar

T = TypeVar("T")
_OFF = frozenset({"", "off", "no", "0"})


def users_folder(environment: Mapping[str, str]) -> Path | None:
    """Return the cache folder of whoever runs the program, or None where ``PRESCRUB_CACHE`` says ``off``.

    ``PRESCRUB_CACHE`` may name another folder. Else it is where the system keeps caches; on Linux after the XDG Base
    Directory Specification.
    """
    chosen = environment.get("PRESCRUB_CACHE")
    if chosen is not None:
        return None if chosen.strip().casefold() in _OFF else Path(chosen)
    home = Path(os.path.expanduser("~"))  # noqa: PTH111 (Path.home raises where there is none)
    if sys.platform == "win32":
        return Path(environment.get("LOCALAPPDATA") or home / "AppData/Local") / "prescrub" / "cache"
    if sys.platform == "darwin":
        return home / "Library" / "Caches" / "prescrub"
    base = environment.get("XDG_CACHE_HOME", "")
    # The specification: a relative path is invalid and to be ignored.
    return (Path(base) if base.startswith("/") else home / ".cache") / "prescrub"


def put_whole(path: Path, content: bytes) -> None:
    """Write ``content`` to ``path`` so that nobody ever reads half of it; its folder is made where it is missing."""
    path.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
    handle, name = tempfile.mkstemp(dir=path.parent, suffix=".new")
    try:
        with os.fdopen(handle, "wb") as file:
            file.write(content)
        Path(name).replace(path)
    finally:
        Path(name).unlink(missing_ok=True)


class KeptValues:
    """JSON values by key in ``folder``, which is made when first written to.

    They lie in the ``part`` of the cache folder; at most ``most_files`` are kept, the newest, each of at most
    ``most_bytes`` bytes.
    """

    part: ClassVar[str]
    most_files: ClassVar[int]
    most_bytes: ClassVar[int]

    def __init__(self, folder: Path) -> None:
        self.folder = folder

    @classmethod
    def of_user(cls) -> Self | None:
        """Return the cache of the person who runs the program, or None where it is switched off."""
        folder = users_folder(os.environ)
        return cls(folder / cls.part) if folder else None

    def _get(self, key: str, read: Callable[[Any], T]) -> T | None:
        """Return what is kept under ``key`` (a name of a file) as ``read``, or None where nothing whole is kept."""
        path = self._path(key)
        try:
            if path.stat().st_size > self.most_bytes:
                return None
            digest, _, body = path.read_bytes().partition(b"\n")
            if digest.decode("ascii") != sha256(body).hexdigest():
                return None
            return read(json.loads(body))
        except (OSError, ValueError, TypeError, LookupError, RecursionError):
            return None

    def _keep(self, key: str, value: Any) -> None:
        """Keep ``value``. Where the cache cannot be written nothing is kept and nothing is raised."""
        # Names of files may contain lone surrogates, which only ASCII can carry.
        body = json.dumps(value, separators=(",", ":")).encode("ascii")
        if len(body) + 65 > self.most_bytes:
            return
        with contextlib.suppress(OSError):
            put_whole(self._path(key), sha256(body).hexdigest().encode("ascii") + b"\n" + body)
            self._trim()

    def _path(self, key: str) -> Path:
        return self.folder / f"{key}.json"

    def _trim(self) -> None:
        kept = sorted(self.folder.glob("*.json"), key=lambda path: path.stat().st_mtime, reverse=True)
        for path in kept[self.most_files :]:
            path.unlink(missing_ok=True)

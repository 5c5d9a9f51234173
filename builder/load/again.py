"""Reads a department again and again, as preview does: a file whose bytes are the same is not parsed again.

A file is known by its stamp (what the file system says of it). A stamp alone can lie: two writes within one tick of the
clock leave the same one. So a file that was changed within the last two seconds is compared byte for byte.
"""

import os
import stat
import time
from collections.abc import Iterable
from dataclasses import dataclass, replace
from datetime import date
from hashlib import sha256
from pathlib import Path

from builder.findings.finding import Refused
from builder.load.folder import FolderReader, Loaded, names_in
from builder.load.limits import MAX_SOURCES_BYTES
from builder.load.sources.bibliography import SourceCache

_COARSEST_CLOCK_NS = 2_000_000_000
"""FAT keeps times to two seconds; no other file system in use is coarser. From memory."""

Stamp = tuple[int, ...]


@dataclass(frozen=True, slots=True)
class _KeptFile:
    """What was read of one file. ``digest`` is empty where the stamp tells enough."""

    stamp: Stamp
    digest: str
    part: FolderReader


class Again:
    """Reads the department in ``root``, any number of times; what ``load`` gives, without reading all of it."""

    def __init__(self, root: Path, cache: SourceCache | None = None, above: int = 0) -> None:
        self.root = root
        self.is_whole = True
        """Whether every folder could be opened the last time; where not, what is in it was not seen."""
        self.changed = True
        """Whether the last load read any file anew, or missed one that was there before."""
        self._cache = cache
        self._kept: dict[str, _KeptFile] = {}
        self._above = above
        self._parent: Again | None = None

    def load(self, today: date) -> Loaded:
        """Read what has changed, and return the whole. Never raises for what is written there."""
        reader = FolderReader(self.root, today, self._cache, self._above)
        before, self._kept = self._kept, {}
        was_whole, self.is_whole = self.is_whole, True
        try:
            for name, is_link in names_in(self.root):
                self._kept[name] = kept = self._read(name, is_link, before.get(name), today)
                reader.join(kept.part)
        except Refused as refusal:
            self.is_whole = False
            reader.findings.append(refusal.finding)
        same = self._kept.keys() == before.keys() and all(
            kept.part is before[name].part for name, kept in self._kept.items()
        )
        self.changed = not same or was_whole != self.is_whole
        return reader.loaded(self._of_parent(reader, today))

    def _of_parent(self, reader: FolderReader, today: date) -> Loaded | None:
        """Read what has changed in the parent that ``reader`` found; where that is another than before, all of it."""
        root, before = reader.parent_root(), self._parent
        if before is None or root != before.root:
            self._parent = Again(root, self._cache, self._above + 1) if root else None
        loaded = self._parent.load(today) if self._parent else None
        self.changed |= self._parent is not before or (self._parent is not None and self._parent.changed)
        return loaded

    def names(self) -> Iterable[str]:
        """Return the files that were seen the last time, relative to the folder."""
        return self._kept.keys()

    def _read(self, name: str, is_link: bool, before: _KeptFile | None, today: date) -> _KeptFile:
        path = f"{self.root}/{name}"
        stamp = stamp_of(path)
        if before is not None and before.stamp == stamp and not before.digest:
            return before
        # Taken before the file is read: where it changes in between, the next look sees another stamp or digest.
        is_settled = bool(stamp) and max(stamp[3:]) < time.time_ns() - _COARSEST_CLOCK_NS
        digest = "" if is_settled else _digest(path, stamp)
        if before is not None and before.digest and before.digest == (digest or _digest(path, stamp)):
            return replace(before, stamp=stamp, digest=digest)
        part = FolderReader(self.root, today, self._cache, self._above)
        part.take(name, is_link)
        return _KeptFile(stamp, digest, part)


def stamp_of(path: str) -> Stamp:
    """Return what the file system says of ``path`` without reading it; empty where it says nothing."""
    try:
        status = os.lstat(path)
    except OSError:
        return ()
    return (status.st_mode, status.st_ino, status.st_size, status.st_mtime_ns, status.st_ctime_ns)


def _digest(path: str, stamp: Stamp) -> str:
    """Return the digest of a plain file; of anything else one that equals no other."""
    if stamp and stat.S_ISREG(stamp[0]) and stamp[2] <= MAX_SOURCES_BYTES:
        try:
            return sha256(Path(path).read_bytes()).hexdigest()
        except OSError:
            pass
    return f"unread {time.monotonic_ns()}"

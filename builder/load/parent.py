"""The folder of the department over which another is laid: a folder, or what is in a wheel or an archive.

A folder is read where it is. A file is read as one whose digest the department has written down, and is unpacked for as
long as the program runs: nothing that was unpacked earlier is trusted.
"""

import tarfile
import zipfile
from collections.abc import Iterator
from functools import cache
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

from builder.findings.finding import Refused
from builder.findings.message_words import quoted
from builder.findings.register import refuse
from builder.load.files import digest_of
from builder.load.frontmatter import read_values, split
from builder.load.limits import MAX_FILES, MAX_SOURCES_BYTES
from builder.place import WHERE_KEY, Place, Text, Where

PACKED = ("wheel", "archive")
KINDS = ("folder", *PACKED)
MOST_ABOVE = 3
_MOST_BYTES = 16 * MAX_SOURCES_BYTES
_HEAD = "content/department.md"
_PACKED_IN: dict[Path, Path] = {}


def parent_folder(root: Path, named: Any, above: int) -> Path:
    """Return the folder of what ``named``, the value of ``parent:`` of the department in ``root``, names.

    ``above`` is how many departments are laid over that one. Raises Refused where there is none that can be used.
    """
    at, kind, path = _named(root, named)
    if above >= MOST_ABOVE:
        hint = "Lay the department over one that has fewer parents of its own; none may be laid over itself."
        raise refuse("parent-unusable", at, f"{quoted(named[kind])} is more than {MOST_ABOVE} parents away", hint)
    if kind == "folder":
        if not (path / _HEAD).is_file():
            raise _unusable(at, named[kind], f"is not a department's folder: it has no {_HEAD}")
        return path
    try:
        content = path.read_bytes()
    except OSError as error:
        raise _unusable(at, named[kind], f"cannot be read: {error.strerror or error}") from None
    digest = digest_of(content)
    written = named.get("digest")
    if not isinstance(written, Text):
        hint = f"Compare it with what the publisher of the file says, then write `digest: {digest}`."
        raise refuse("parent-unusable", at, f"{quoted(named[kind])} has no digest written beside it", hint)
    if str(written).strip().casefold() != digest:
        message = f"{quoted(str(written)[:12])} is not how the digest of {quoted(named[kind])} begins: {digest[:12]}"
        hint = f"Ask where the file comes from and look at what is new in it; then write `digest: {digest}`."
        raise refuse("parent-unusable", written.at, message, hint)
    try:
        folder = _top_of(Path(_unpacked(path, digest).name))
        _PACKED_IN[folder] = path
        return folder
    except (OSError, tarfile.TarError, zipfile.BadZipFile, _Unfit) as error:
        raise _unusable(at, named[kind], f"cannot be unpacked: {error}") from None


def packed_in(folder: Path) -> Path:
    """Return the file in which what is in ``folder`` lies packed, or the folder itself."""
    return _PACKED_IN.get(folder, folder)


def named_parent(root: Path) -> tuple[str, str] | None:
    """Return what the department in ``root`` names as its parent: one of KINDS, and the path as it is written. None
    where it names none, or none that could be used."""
    head = root / _HEAD
    if not head.is_file():
        return None
    try:
        front, _ = read_values(split(head.read_text("utf-8", "replace"), _HEAD).front, _HEAD)
        named: Any = front.get("parent") if isinstance(front, dict) else None
        _, kind, _ = _named(root, named)
    except Refused:
        return None
    return kind, str(named[kind])


class _Unfit(Exception):
    """There is more, or something else, in the file than a department."""


def _named(root: Path, named: Any) -> tuple[Place, str, Path]:
    kinds = [kind for kind in KINDS if isinstance(named, dict) and isinstance(named.get(kind), Text)]
    if len(kinds) != 1:
        at = named.at if isinstance(named, Text) else _start(named)
        hint = "Write `parent: {folder: ../region}`, or `{archive: region.zip, digest: ...}`, or the same with `wheel`."
        raise refuse("parent-unusable", at, "'parent' does not name one folder, wheel or archive", hint)
    return named[kinds[0]].at, kinds[0], root / named[kinds[0]]


def _start(named: Any) -> Place:
    where = named.get(WHERE_KEY) if isinstance(named, dict) else None
    return where.start if isinstance(where, Where) else Place(_HEAD)


def _unusable(at: Place, name: str, why: str) -> Refused:
    hint = "Name the folder that contains content/ and references/, or a wheel, .zip or .tar.gz in which it is."
    return refuse("parent-unusable", at, f"{quoted(name)} {why}", hint)


@cache
def _unpacked(path: Path, digest: str) -> "TemporaryDirectory[str]":
    """Unpack the file ``path``, whose ``digest`` is known. The folder goes when the program ends."""
    folder = TemporaryDirectory(prefix=f"prescrub-parent-{digest[:8]}-")
    try:
        if zipfile.is_zipfile(path):
            with zipfile.ZipFile(path) as packed:
                _weigh(one.file_size for one in packed.infolist())
                packed.extractall(folder.name)  # noqa: S202  # weighed; a name that leaves the folder is put into it
        else:
            with tarfile.open(path) as packed:
                _weigh(one.size for one in packed)
                packed.extractall(folder.name, filter="data")
    except BaseException:
        folder.cleanup()
        raise
    return folder


def _weigh(sizes: Iterator[int]) -> None:
    total = 0
    for number, size in enumerate(sizes, start=1):
        total += size
        if number > MAX_FILES or total > _MOST_BYTES:
            raise _Unfit("it is larger than any department")


def _top_of(folder: Path) -> Path:
    tops = sorted((path.parents[1] for path in folder.rglob(_HEAD)), key=lambda path: (len(path.parts), path))
    if not tops:
        raise _Unfit(f"there is no {_HEAD} in it")
    return tops[0]

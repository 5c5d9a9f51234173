"""Findings are kept between runs, never trusted: their key is every byte a check read, the day, and the check's code.

Kept only where reading the folder once more would give the same: no links, no pipes, nothing unreadable, no change
while the check ran. ``publish`` never asks for them, and ``check --fresh`` passes them by. A test hears Python's audit
events and fails when a check starts to read something that the key does not hold.
"""

import os
import re
import stat
import sys
from collections.abc import Iterable, Iterator, Mapping
from datetime import date
from hashlib import sha256
from pathlib import Path
from typing import Any

from builder import __version__
from builder.findings.finding import Finding, SecondPlace, Severity
from builder.load.files import AS_IT_IS
from builder.load.kept.kept_files import KeptValues
from builder.load.limits import MAX_FILES, MAX_SOURCES_BYTES
from builder.place import Place

_FORMAT = 4
_READ = ("content", "references", "ledger")
_PROGRAM = Path(__file__).parents[2]
_PARENT = re.compile(rb"^[\"']?parent", re.MULTILINE)
_STAGES = ("findings", "load", "model", "facts", "check")
"""What a check runs; what it finds depends on no other stage (``tests/test_stages.py``)."""


class CheckCache(KeptValues):
    """Remembers findings."""

    part, most_files, most_bytes = "checks", 32, 16 * 1024 * 1024

    def findings(self, key: str) -> tuple[list[Finding], dict[str, Any]] | None:
        """Return the findings and the coverage kept under ``key``, or None where there are none whole."""
        return self._get(key, _read_back)

    def keep(self, key: str, findings: Iterable[Finding], coverage: Mapping[str, Any]) -> None:
        """Keep ``findings`` and ``coverage``. Where that cannot be written nothing is kept and nothing is raised."""
        self._keep(key, [[_row(finding) for finding in findings], coverage])


def fingerprint(root: Path, today: date) -> str | None:
    """Return what the findings in ``root`` on the day ``today`` depend on, as one hexadecimal number.

    None where they depend on more than bytes: a link, something that is not a file, something that cannot be read.
    """
    digest = sha256()
    digest.update(f"{_FORMAT} {__version__} {sys.version} {today.isoformat()}\n".encode())
    try:
        for part in (*_program(), *_department(root)):
            digest.update(len(part).to_bytes(8))
            digest.update(part)
    except (OSError, _DependsOnMore):
        return None
    return digest.hexdigest()


class _DependsOnMore(Exception):
    """There is something here whose meaning is not in its bytes."""


def _department(root: Path) -> Iterator[bytes]:
    """Yield name and content of everything that a check reads, and the names of folders: an empty one counts too.

    What a parent says stands in no file of the department's own, so nothing is kept of one that has a parent.
    """
    page = root / "content/department.md"
    if os.path.lexists(page) and _PARENT.search(_content(str(page))):
        raise _DependsOnMore
    for top in _READ:
        if os.path.lexists(root / top):
            yield from _below(f"{root}/{top}", top)


def _program() -> Iterator[bytes]:
    """Yield the code and data of the check, and which version of which package is installed beside it."""
    for name in ("__init__.py", "place.py"):
        yield name.encode()
        yield _content(f"{_PROGRAM}/{name}")
    for stage in _STAGES:
        yield from _below(f"{_PROGRAM}/{stage}", stage)
    for folder in map(Path, filter(None, sys.path)):
        if folder.is_dir():
            yield from sorted(os.fsencode(package.name) for package in folder.glob("*-info"))


def _below(path: str, name: str) -> Iterator[bytes]:
    """Yield name and content of all below ``path``, in an order of its own. Raises OSError and _DependsOnMore.

    What is hidden is passed over, as the check does, and so is what Python compiled.
    """
    if os.path.islink(path):  # noqa: PTH114 (pathlib takes twice as long, and there are thousands)
        raise _DependsOnMore
    waiting = [(path, name)]
    seen = 0
    while waiting:
        path, name = waiting.pop()
        yield os.fsencode(f"{name}/")
        with os.scandir(path) as unsorted:
            entries = sorted(unsorted, key=lambda entry: entry.name)
        for entry in entries:
            seen += 1
            if seen > MAX_FILES:
                raise _DependsOnMore
            if entry.name.startswith(".") or entry.name == "__pycache__":
                continue
            if entry.is_symlink():
                raise _DependsOnMore
            inner = f"{name}/{entry.name}"
            if entry.is_dir():
                waiting.append((entry.path, inner))
            else:
                yield os.fsencode(inner)
                yield _content(entry.path)


def _content(path: str) -> bytes:
    """Return the bytes of a file. Raises OSError, and _DependsOnMore where it is not a plain file or is too large."""
    with os.fdopen(os.open(path, AS_IT_IS), "rb") as file:
        status = os.fstat(file.fileno())
        if not stat.S_ISREG(status.st_mode) or status.st_size > MAX_SOURCES_BYTES:
            raise _DependsOnMore
        return file.read()


def _row(finding: Finding) -> list[Any]:
    also = [[second.at, second.message] for second in finding.also]
    place, words = finding.at, (finding.message, finding.hint)
    return [finding.name, finding.severity.value, place, *words, also, finding.path, finding.key]


def _read_back(kept: Any) -> tuple[list[Finding], dict[str, Any]]:
    rows, coverage = kept
    return [_finding(row) for row in rows], dict(coverage)


def _finding(row: Any) -> Finding:
    """Return the finding in ``row``. Raises ValueError or TypeError where there is none in it."""
    name, severity, (file, line, column), message, hint, also, path, key = row
    seconds = tuple(SecondPlace(Place(*where), said) for where, said in also)
    return Finding(name, Severity(severity), Place(file, line, column), message, hint, seconds, tuple(path), key)

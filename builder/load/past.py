"""An earlier state of a department: another folder, a revision of its git repository, or the code of an edition."""

import io
import re
import subprocess
import tarfile
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from os.path import normpath
from pathlib import Path
from shutil import copy

from builder.findings.message_words import quoted
from builder.load.parent import MOST_ABOVE, PACKED, named_parent

_CODE = re.compile(r"[0-9A-Z]{3}-[0-9A-Z]{3}-[0-9A-Z]{3}")
_LEDGER = "ledger/issued.jsonl"
_PROCEDURES = "content/procedures/"
_SECONDS = 120
"""For git to answer; a repository of many years takes some seconds."""


class NotFoundInPast(Exception):
    """There is no such state; the text says what was looked for and what can be named instead."""


@contextmanager
def past(root: Path, name: str, only: str = "") -> Iterator[Path]:
    """Provide the folder of the state ``name`` of the department in ``root``; what was unpacked for it is removed.

    Of a revision, nothing of other procedures than ``only`` is unpacked, where one is named. The parent comes along as
    it was then.

    ``name`` is a folder, the code of an issued edition (the state in which its line came into the ledger), or a
    revision of git. Raises NotFoundInPast.
    """
    folder = Path(name)
    if (folder / "content").is_dir():
        yield folder
        return
    revision = _first_with(root, name, _LEDGER) if _CODE.fullmatch(name) else name
    if not revision:
        raise NotFoundInPast(
            f"The code {name} came into {_LEDGER} with no revision that git knows. Name a folder or a revision instead."
        )
    with tempfile.TemporaryDirectory() as work:
        yield _unpack(root, name, revision, Path(work).joinpath(*"work"), only)


@contextmanager
def past_with(root: Path, text: str, file: str, only: str = "") -> Iterator[Path]:
    """Provide the folder of the state in which ``text`` first stood in ``file``, as ``past`` does. Raises
    NotFoundInPast."""
    revision = _first_with(root, text, file)
    if not revision:
        raise NotFoundInPast(f"{quoted(text)} came into {file} with no revision that git knows.")
    with past(root, revision, only) as folder:
        yield folder


def _first_with(root: Path, text: str, file: str) -> str:
    """Return the revision that brought ``text`` into ``file``, "" where git knows none."""
    revisions = _git(root, "log", "--format=%H", "--reverse", f"-S{text}", "--", file).decode().split()
    return next(iter(revisions), "")


def _unpack(root: Path, name: str, revision: str, top: Path, only: str) -> Path:
    """Unpack the department as it was at ``revision``, and those it is laid over, each at its place in the repository
    whose top is ``top``; return its folder."""
    if revision.startswith("-"):
        raise NotFoundInPast(f"{quoted(name)} cannot be the name of a revision.")
    known = _git(root, "rev-parse", "--verify", "--quiet", f"{revision}^{{commit}}", may_fail=True).decode().strip()
    if not known:
        raise NotFoundInPast(
            f"{quoted(name)} is not a department's folder, a code in {_LEDGER} or a revision that git knows here."
        )
    repository = Path(_git(root, "rev-parse", "--show-toplevel").decode().strip())
    folder = top / _git(root, "rev-parse", "--show-prefix").decode().strip()
    _take_out(repository, known, top, folder, only)
    if not (folder / "content").is_dir():
        raise NotFoundInPast(f"There was no department in this folder at {quoted(name)}.")
    laid_over = folder
    for _ in range(MOST_ABOVE):
        named = named_parent(laid_over)
        if named is None:
            break
        kind, path = named
        parent = Path(normpath(laid_over / path))
        if parent.is_relative_to(top):
            _take_out(repository, known, top, parent, only)
        elif kind in PACKED and (beside := Path(normpath(root / path))).is_file() and laid_over == folder:
            copy(beside, parent)  # its digest is written down, so it is what it was then, or refused
        if not parent.exists():
            why = f"The parent {quoted(path)} is not in this git repository as it was at {quoted(name)}"
            raise NotFoundInPast(f"{why}. Name two folders.")
        if kind in PACKED:
            break
        laid_over = parent
    return folder


def _take_out(repository: Path, known: str, top: Path, target: Path, only: str) -> None:
    """Unpack into ``target`` the folder or file that stands there in the revision ``known``, if any.

    git is asked at the top of the ``repository``: in a folder below, it would look for that folder once more.
    """
    inside = target.relative_to(top).as_posix()
    named = f"{known}:{'' if inside == '.' else inside}"
    if _git(repository, "cat-file", "-t", named, may_fail=True).strip() == b"blob":
        target.parent.mkdir(parents=True, exist_ok=True)
        target.write_bytes(_git(repository, "cat-file", "blob", named))
        return
    packed = _git(repository, "archive", "--format=tar", named, may_fail=True)
    if not packed:
        return
    target.mkdir(parents=True, exist_ok=True)
    with tarfile.open(fileobj=io.BytesIO(packed)) as archive:
        own = f"{_PROCEDURES}{only}/"
        members = [one for one in archive if not only or f"{one.name}/".startswith(own) or not _is_of_one(one.name)]
        archive.extractall(target, members, filter="data")


def _is_of_one(name: str) -> bool:
    return name.startswith(_PROCEDURES) and name != _PROCEDURES.rstrip("/")


def _git(root: Path, *words: str, may_fail: bool = False) -> bytes:
    """Return what git says to ``words`` in ``root``."""
    try:
        done = subprocess.run(["git", "-C", str(root), *words], capture_output=True, check=False, timeout=_SECONDS)  # noqa: S603, S607
    except (OSError, subprocess.TimeoutExpired):
        raise NotFoundInPast("git did not answer, and only git knows earlier states. Name two folders.") from None
    if done.returncode and not may_fail:
        raise NotFoundInPast(f"{root} is not in a git repository, which knows earlier states. Name two folders.")
    return done.stdout if not done.returncode else b""

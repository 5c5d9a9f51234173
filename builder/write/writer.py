"""The one writer: all files of a change or none, never over what its author has not seen, durable, with a way back.

What a change replaces is kept in ``.prescrub-undo/`` of the folder before anything is touched. A record is called
``.begun`` until all is in place: a writer that was killed in between is undone by whoever writes or starts next. New
files are made beside their place under names that the record tells, and only those names are ever removed; the lock of
the folder tells whether their writer still lives.
"""

from __future__ import annotations

import errno
import json
import os
import re
import secrets
import shutil
from collections.abc import Iterable, Iterator, Mapping, Sequence
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from builder.edit.changes import FileChange
from builder.findings.finding import Refused
from builder.findings.message_words import quoted
from builder.findings.register import refuse
from builder.load import limits
from builder.load.files import digest_of, keep_inside, read_bytes
from builder.place import Place
from builder.write.lock import CannotLock, NotWritten, locked

UNDO_FOLDER = ".prescrub-undo"
CONTENT = re.compile(r"(content|references)(/[^/\\.][^/\\]*)+\.(md|yml|png|bib|csv)")
"""What is written by default: no folder or file that is hidden, and nothing above."""
_BEGUN, _EDIT, _PART = _ENDS = (".begun", ".edit", ".part")
_IGNORE = ".gitignore"
_MOST_EDITS = 200
_MOST_BYTES = 64 * 1024 * 1024

_NOTHING: dict[str, Any] = {"label": "", "files": {}, "new": [], "token": "", "undoes": ""}

_Files = Mapping[str, bytes | None]


class ChangedUnderneath(NotWritten):
    """A file is not what the author of the change saw; ``files`` names them."""

    def __init__(self, files: list[str]) -> None:
        super().__init__(f"{', '.join(files)} was changed by another program in this very moment. Try again.")
        self.files = files


def write_files(
    root: Path, changes: Mapping[str, FileChange], label: str = "", names: re.Pattern[str] = CONTENT
) -> None:
    """Make all ``changes`` (by path) in the folder ``root``, or none; ``names`` are the paths that may be written.

    ``label`` says what they do; without one they cannot be undone. Raises ChangedUnderneath where a file is not as the
    author saw it, Refused where a path may not be written, NotWritten where another process keeps writing or the disk
    says no.
    """
    if not changes:
        return
    for name in changes:
        _refuse_others(root, name, names)
    after = {name: change.content for name, change in changes.items()}
    seen = {name: change.seen for name, change in changes.items()}
    with _held(root) as folder:
        _Change(root, folder, label, _before(root, seen), after).make()


def digest_now(root: Path, name: str) -> str | None:
    """Return the digest of ``name`` in ``root`` for whoever replaces a file, whatever it holds; None where none is."""
    return _digest(_bytes_now(root, name))


def recover(root: Path) -> None:
    """Undo what a killed writer left half done in ``root``; where one is at work, or nobody can write, do nothing."""
    if (root / UNDO_FOLDER).is_dir():
        with suppress(NotWritten), _held(root, patience=0):
            pass


def last_edit(root: Path) -> str:
    """Return what the last change did, in words; empty where there is none that can be undone."""
    records = _records(root / UNDO_FOLDER)
    return str(_read(records[-1])["label"]) if records else ""


def forget_last(root: Path) -> None:
    """Forget the last change, which can no longer be undone."""
    for record in _records(root / UNDO_FOLDER)[-1:]:
        record.unlink(missing_ok=True)


def undo(root: Path) -> tuple[str, list[str]]:
    """Take the last change back; return what it did and which files it had changed.

    Raises ChangedUnderneath where one of them was changed since, LookupError where there is no change, and all that
    ``write_files`` does.
    """
    with _held(root) as folder:
        records = _records(folder)
        told = _read(records[-1]) if records else _NOTHING
        if not told["files"]:
            raise LookupError
        before = _before(root, {name: held["after"] for name, held in told["files"].items()})
        after = {name: _kept(held) for name, held in told["files"].items()}
        _Change(root, folder, "", before, after, records[-1], told["new"]).make()
    return str(told["label"]), list(told["files"])


def _refuse_others(root: Path, name: str, names: re.Pattern[str]) -> None:
    """Refuse a path that is not among ``names``, or passes through a link."""
    if not names.fullmatch(name):
        hint = "Only files of content/ and references/ are edited."
        raise refuse("link-not-followed", Place(name), f"{quoted(name)} is not a file that is edited here", hint)
    keep_inside(root, name)


@contextmanager
def _held(root: Path, patience: float | None = None) -> Iterator[Path]:
    """Give the folder of records, locked, with nothing left of a writer that was killed."""
    folder = root / UNDO_FOLDER
    try:
        with locked(folder, f"Another prescrub is writing in {root}. Try again in a moment.", patience):
            for part in (*folder.glob(f"[0-9]*{_BEGUN}{_PART}"), folder / f"{_IGNORE}{_PART}"):
                part.unlink(missing_ok=True)
            for begun in _records(folder, _BEGUN):
                _take_back(root, folder, begun)
            yield folder
    except CannotLock:
        folder.mkdir(exist_ok=True)  # then nothing is cleared away: the writer of it may be at work
        yield folder
    except OSError as error:
        raise NotWritten(f"It could not be written ({error.strerror or error}). Nothing was changed.") from error


def _bytes_now(root: Path, name: str) -> bytes | None:
    try:
        return read_bytes(root, name, limits.MAX_SOURCES_BYTES)
    except Refused:
        if os.path.lexists(root / name):
            raise
        return None


def _digest(raw: bytes | None) -> str | None:
    return None if raw is None else digest_of(raw)


def _before(root: Path, seen: Mapping[str, str | None]) -> _Files:
    """Return what the files hold now. Raises ChangedUnderneath where that is not what was ``seen``."""
    now = {name: _bytes_now(root, name) for name in seen}
    wrong = [name for name, raw in now.items() if _digest(raw) != seen[name]]
    if wrong:
        raise ChangedUnderneath(wrong)
    return now


@dataclass(frozen=True)
class _Change:
    """One change, from what files hold ``before`` to what they hold ``after``.

    ``undoes`` is the record that it takes back, and ``emptied`` are the folders that were made for that.
    """

    root: Path
    folder: Path
    label: str
    before: _Files
    after: _Files
    undoes: Path | None = None
    emptied: Sequence[str] = ()

    def make(self) -> None:
        """Write every new file beside its place first, then move all into place; what fails puts all back."""
        told = self._told()
        number = max((int(path.stem) for end in _ENDS for path in _records(self.folder, end)), default=0) + 1
        begun = self.folder / f"{number:08d}{_BEGUN}"
        _write_whole(begun, json.dumps(told).encode())
        _settle(self.folder)
        try:
            places = _places(self.root, told)
            for name, raw in self.after.items():
                if raw is not None:
                    _write_new(_staged(places, self.root / name), raw, self.root / name)
            for target, staged in places.items():
                self._move(staged, target)
            _remove_empty(self.root, self.emptied)
            for parent in {target.parent for target in places}:
                _settle(parent)
        except BaseException:
            _take_back(self.root, self.folder, begun)
            raise
        self._done(begun)

    def _told(self) -> dict[str, Any]:
        """Return the record of this change: enough to take it back, whole or half done."""
        files = {
            name: {"before": None if raw is None else raw.decode("utf-8", "surrogateescape"), "after": _digest(after)}
            for (name, raw), after in zip(self.before.items(), self.after.values(), strict=True)
        }
        new = dict.fromkeys(filter(None, (_new_folder(self.root, name) for name in files)))
        undoes = self.undoes.name if self.undoes else ""
        return {"label": self.label, "files": files, "new": [*new], "token": secrets.token_hex(8), "undoes": undoes}

    def _move(self, staged: Path, target: Path) -> None:
        """Look once more in the moment before the move: an editor may have saved since."""
        own = [name for name in self.before if (self.root / name).is_relative_to(target)]
        _before(self.root, {name: _digest(self.before[name]) for name in own})
        if staged.is_dir():
            try:
                staged.rename(target)
            except OSError as error:
                if error.errno in (errno.ENOTEMPTY, errno.EEXIST, errno.ENOTDIR):
                    raise ChangedUnderneath(own) from None
                raise
        elif staged.exists():
            staged.replace(target)
        else:
            target.unlink(missing_ok=True)

    def _done(self, begun: Path) -> None:
        if self.label:
            ignore = self.folder / _IGNORE
            if not ignore.exists():
                _write_whole(ignore, b"*\n")
            begun.rename(begun.with_suffix(_EDIT))
            _trim(self.folder)
        else:
            if self.undoes:
                self.undoes.unlink(missing_ok=True)
            begun.unlink()
        _settle(self.folder)


def _take_back(root: Path, folder: Path, begun: Path) -> None:
    """Put everything back as it was before the change of the record ``begun``; what others wrote since stays."""
    told = _read(begun)
    if not told["undoes"] or (folder / told["undoes"]).exists():  # else all of it was in place
        places = _places(root, told)
        for staged in places.values():
            _remove(staged)
        for name, held in told["files"].items():
            with suppress(Refused):
                if held["after"] == digest_now(root, name):
                    _restore(root / name, _kept(held), _staged(places, root / name))
        _remove_empty(root, told["new"])
    begun.unlink()


def _restore(path: Path, raw: bytes | None, staged: Path) -> None:
    if raw is None:
        path.unlink(missing_ok=True)
        return
    path.parent.mkdir(parents=True, exist_ok=True)
    _write_new(staged, raw, path)
    staged.replace(path)


def _places(root: Path, told: Mapping[str, Any]) -> dict[Path, Path]:
    """Return for each place that something is moved to, a file or a new folder as a whole, where it is made."""
    targets = dict.fromkeys(
        next((new for new in told["new"] if name.startswith(f"{new}/")), name) for name in told["files"]
    )
    return {
        root / target: (root / target).with_name(f".prescrub-{told['token']}-{number}.part")
        for number, target in enumerate(targets)
    }


def _staged(places: Mapping[Path, Path], path: Path) -> Path:
    target = next(target for target in places if path.is_relative_to(target))
    return places[target] / path.relative_to(target)


def _new_folder(root: Path, name: str) -> str | None:
    """Return the topmost folder above ``name`` that is not there yet."""
    parts = name.split("/")
    tops = ("/".join(parts[:depth]) for depth in range(1, len(parts)))
    return next((top for top in tops if not (root / top).exists()), None)


def _write_new(path: Path, raw: bytes, like: Path) -> None:
    """Write a file that is not there yet, with the rights of the one it will replace, through to the disk."""
    path.parent.mkdir(parents=True, exist_ok=True)
    with os.fdopen(os.open(path, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o666), "wb") as file:
        file.write(raw)
        file.flush()
        os.fsync(file.fileno())
    if like.exists():
        path.chmod(like.stat().st_mode & 0o777)


def _write_whole(path: Path, raw: bytes) -> None:
    part = path.with_name(f"{path.name}{_PART}")
    try:
        _write_new(part, raw, path)
        part.replace(path)
    except BaseException:
        part.unlink(missing_ok=True)
        raise


def _settle(folder: Path) -> None:
    """Have the names in ``folder`` written through to the disk, where the system can."""
    with suppress(OSError):
        handle = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(handle)
        finally:
            os.close(handle)


def _remove(staged: Path) -> None:
    if staged.is_dir() and not staged.is_symlink():
        shutil.rmtree(staged)
    else:
        staged.unlink(missing_ok=True)


def _remove_empty(root: Path, folders: Iterable[str]) -> None:
    for name in folders:
        for folder, _, _ in os.walk(root / name, topdown=False):
            with suppress(OSError):
                Path(folder).rmdir()


def _records(folder: Path, end: str = _EDIT) -> list[Path]:
    return sorted(path for path in folder.glob(f"*{end}") if path.stem.isdecimal())


def _read(record: Path) -> dict[str, Any]:
    try:
        told = json.loads(record.read_bytes())
        return _NOTHING | told if isinstance(told["files"], dict) else _NOTHING
    except (OSError, ValueError, TypeError, KeyError):
        return _NOTHING


def _kept(held: Mapping[str, str | None]) -> bytes | None:
    text = held["before"]
    return None if text is None else text.encode("utf-8", "surrogateescape")


def _trim(folder: Path) -> None:
    """Forget the oldest records where there are too many, or they are too large."""
    size = 0
    for number, record in enumerate(reversed(_records(folder))):
        size += record.stat().st_size
        if number >= _MOST_EDITS or (number and size > _MOST_BYTES):
            record.unlink(missing_ok=True)

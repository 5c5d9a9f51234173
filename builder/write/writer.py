"""The one writer: all files of a change or none, never over what its author has not seen, durable, with a way back.

What a change replaces is kept in ``.prescrub-undo/`` of the folder before anything is touched. A record is called
``.begun`` until all is in place: a writer that was killed in between is undone by whoever writes or starts next. New
files are made beside their place under names that the record tells, and only those names are ever removed; the lock of
the folder tells whether their writer still lives.
"""

import errno
import json
import os
import re
import secrets
import shutil
from collections.abc import Iterable, Iterator, Mapping
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import Any

from builder.edit.file_change import FileChange
from builder.findings.finding import Refused
from builder.findings.message_words import quoted
from builder.findings.register import refuse
from builder.load import limits
from builder.load.files import digest_of, keep_inside, read_bytes
from builder.place import Place
from builder.write.lock import UNDO_FOLDER, CannotLock, NotWritten, locked

CONTENT = re.compile(r"(content|references)(/[^/\\.][^/\\]*)+\.(md|yml|png|bib|csv)")
"""What is written by default: no folder or file that is hidden, and nothing above."""
_BEGUN, _EDIT, _PART = _ENDS = (".begun", ".edit", ".part")
_IGNORE = ".gitignore"
_MOST_EDITS = 200
_MOST_BYTES = 64 * 1024 * 1024

_NOTHING: dict[str, Any] = {"label": "", "files": {}, "new": [], "emptied": [], "token": "", "undoes": ""}
"""A record: what the change does; what each file held and the digest of what it holds now; which folders are new, or to
be emptied; what the names of new files hold until they are in place; and which record the change takes back."""

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
    for name in changes:
        if not names.fullmatch(name):
            hint = "Only files of content/ and references/ are edited."
            raise refuse("link-not-followed", Place(name), f"{quoted(name)} is not a file that is edited here", hint)
        keep_inside(root, name)
    if changes:
        with _held(root) as folder:
            before = _seen(root, {name: change.seen for name, change in changes.items()})
            _make(root, folder, before, {name: change.content for name, change in changes.items()}, {"label": label})


def digest_now(root: Path, name: str) -> str | None:
    """Return the digest of ``name`` in ``root`` for whoever replaces a file, whatever it holds; None where none is."""
    return _digest(_bytes_now(root, name))


def recover(root: Path) -> None:
    """Undo what a killed writer left half done in ``root``; where one is at work, or nobody can write, do nothing."""
    with suppress(NotWritten), _held(root, patience=0):
        pass


def last_edit(root: Path) -> str:
    """Return what the last change did, in words; empty where there is none that can be undone."""
    return str(_last(root / UNDO_FOLDER)[1]["label"])


def forget_last(root: Path) -> None:
    """Forget the last change, which can no longer be undone."""
    _last(root / UNDO_FOLDER)[0].unlink(missing_ok=True)


def undo(root: Path) -> tuple[str, list[str]]:
    """Take the last change back; return what it did and which files it had changed.

    Raises ChangedUnderneath where one of them was changed since, LookupError where there is no change, and all that
    ``write_files`` does.
    """
    with _held(root) as folder:
        record, told = _last(folder)
        if not told["files"]:
            raise LookupError
        before = _seen(root, {name: held["after"] for name, held in told["files"].items()})
        after = {name: _kept(held) for name, held in told["files"].items()}
        _make(root, folder, before, after, {"undoes": record.name, "emptied": told["new"]})
    return str(told["label"]), list(told["files"])


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
        raise NotWritten(f"It could not be written ({error.strerror or error}).") from error


def _bytes_now(root: Path, name: str) -> bytes | None:
    try:
        return read_bytes(root, name, limits.MAX_SOURCES_BYTES)
    except Refused:
        if os.path.lexists(root / name):
            raise
        return None


def _digest(raw: bytes | None) -> str | None:
    return None if raw is None else digest_of(raw)


def _seen(root: Path, digests: Mapping[str, str | None]) -> _Files:
    """Return what the files hold now. Raises ChangedUnderneath where that has not the ``digests``."""
    now = {name: _bytes_now(root, name) for name in digests}
    wrong = [name for name, raw in now.items() if _digest(raw) != digests[name]]
    if wrong:
        raise ChangedUnderneath(wrong)
    return now


def _make(root: Path, folder: Path, before: _Files, after: _Files, said: dict[str, Any]) -> None:
    """Write every new file beside its place first, then move all into place; what fails puts all back."""
    told = _NOTHING | said | _told(root, before, after)
    number = max((int(path.stem) for end in _ENDS for path in _records(folder, end)), default=0) + 1
    begun = folder / f"{number:08d}{_BEGUN}"
    _write_whole(begun, json.dumps(told).encode())
    _settle(folder)
    places = _places(root, told)
    try:
        for name, raw in after.items():
            if raw is not None:
                _write_new(_staged(places, root / name), raw, root / name)
        for target, staged in places.items():
            own = [name for name in before if (root / name).is_relative_to(target)]
            _seen(root, {name: _digest(before[name]) for name in own})  # an editor may have saved since
            _move(staged, target, own)
        _remove_empty(root, told["emptied"])
        for parent in {target.parent for target in places}:
            _settle(parent)
        _end(folder, begun, told)
    except BaseException:
        _take_back(root, folder, begun)
        raise
    with suppress(OSError):
        _tidy(folder)
    _settle(folder)


def _end(folder: Path, begun: Path, told: Mapping[str, Any]) -> None:
    """Let the record say that all is in place."""
    if told["label"]:
        begun.rename(begun.with_suffix(_EDIT))
    else:
        if told["undoes"]:
            (folder / told["undoes"]).unlink()
        begun.unlink()


def _told(root: Path, before: _Files, after: _Files) -> dict[str, Any]:
    """Return what the record of a change says beside its label: enough to take it back, whole or half done."""
    files = {
        name: {"before": None if raw is None else raw.decode("utf-8", "surrogateescape"), "after": _digest(after[name])}
        for name, raw in before.items()
    }
    above = {name: ["/".join(name.split("/")[:depth]) for depth in range(1, name.count("/") + 1)] for name in files}
    new = (next((top for top in tops if not (root / top).exists()), None) for tops in above.values())
    return {"files": files, "new": [*dict.fromkeys(filter(None, new))], "token": secrets.token_hex(8)}


def _move(staged: Path, target: Path, names: list[str]) -> None:
    if not staged.exists():
        target.unlink(missing_ok=True)
        return
    try:
        staged.replace(target)
    except OSError as error:
        # A new folder does not replace one that has come in between, unless that is empty.
        if error.errno in (errno.ENOTEMPTY, errno.EEXIST, errno.ENOTDIR):
            raise ChangedUnderneath(names) from None
        raise


def _take_back(root: Path, folder: Path, begun: Path) -> None:
    """Put everything back as it was before the change of the record ``begun``; what others wrote since stays."""
    told = _read(begun)
    if not told["undoes"] or (folder / told["undoes"]).exists():  # else all of it was in place
        places = _places(root, told)
        for staged in places.values():
            _remove(staged)
        for name, held in told["files"].items():
            with suppress(Refused):
                raw, path, staged = _kept(held), root / name, _staged(places, root / name)
                if held["after"] == digest_now(root, name) and raw is not None:
                    path.parent.mkdir(parents=True, exist_ok=True)
                    _write_new(staged, raw, path)
                    staged.replace(path)
                elif held["after"] == digest_now(root, name):
                    path.unlink(missing_ok=True)
        _remove_empty(root, told["new"])
    begun.unlink(missing_ok=True)


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


def _write_new(path: Path, raw: bytes, like: Path) -> None:
    """Write a file that is not there yet, with the rights of the one it will replace, through to the disk."""
    path.parent.mkdir(parents=True, exist_ok=True)
    with path.open("xb") as file:
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


def _last(folder: Path) -> tuple[Path, dict[str, Any]]:
    """Return the record of the last change and what it tells; of none where there is none."""
    record = next(reversed(_records(folder)), folder / "none")
    return record, _read(record)


def _read(record: Path) -> dict[str, Any]:
    try:
        told = json.loads(record.read_bytes())
        return _NOTHING | told if isinstance(told["files"], dict) else _NOTHING
    except (OSError, ValueError, TypeError, KeyError):
        return _NOTHING


def _kept(held: Mapping[str, str | None]) -> bytes | None:
    text = held["before"]
    return None if text is None else text.encode("utf-8", "surrogateescape")


def _tidy(folder: Path) -> None:
    """Have git pass by the folder; forget the oldest records where there are too many, or they are too large."""
    if _records(folder) and not (folder / _IGNORE).exists():
        _write_whole(folder / _IGNORE, b"*\n")
    size = 0
    for number, record in enumerate(reversed(_records(folder))):
        size += record.stat().st_size
        if number >= _MOST_EDITS or (number and size > _MOST_BYTES):
            record.unlink(missing_ok=True)

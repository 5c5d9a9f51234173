"""Writes edited files: all of one edit or none, never over a change that the editor has not seen, and with a way back.

What an edit replaced is kept in ``.prescrub-undo/`` of the department's folder, outside ``content/``, so that an edit
can be undone after the preview was closed and opened again. The folder tells git to pass it by.
"""

from __future__ import annotations

import hashlib
import json
import os
import tempfile
from collections.abc import Mapping
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path

from builder.findings.finding import Refused
from builder.findings.register import refuse
from builder.load import limits
from builder.load.files import read_bytes
from builder.place import Place

UNDO_FOLDER = ".prescrub-undo"
_MOST_EDITS = 200
_WRITABLE = ("content/", "references/")
_ENDINGS = (".md", ".yml", ".bib")


@dataclass(frozen=True, slots=True)
class FileChange:
    """What is to become of one file: ``text`` None takes it away; ``seen`` is the digest of what the editor saw.

    ``seen`` None: the file must not be there yet.
    """

    text: str | None
    seen: str | None


class ChangedUnderneath(Exception):
    """Raised where a file is not what the editor saw; nothing was written. ``files`` names them."""

    def __init__(self, files: list[str]) -> None:
        super().__init__(", ".join(files))
        self.files = files


@dataclass(frozen=True, slots=True)
class OpenedFile:
    """A file as an editor sees it: its ``text`` with its own line ends, and the ``digest`` of its bytes (SHA-256)."""

    text: str
    digest: str


def open_file(root: Path, name: str) -> OpenedFile:
    """Return the file ``name`` of the department in ``root``. Raises Refused where it cannot be read as text."""
    raw = read_bytes(root, name, limits.MAX_TEXT_BYTES)
    try:
        return OpenedFile(raw.decode("utf-8"), digest_of(raw))
    except UnicodeDecodeError:
        raise refuse(
            "file-not-utf8", Place(name), f"{name} is not written in UTF-8", "Save it again as UTF-8."
        ) from None


def digest_of(raw: bytes) -> str:
    """Return the SHA-256 of ``raw`` in hexadecimal."""
    return hashlib.sha256(raw).hexdigest()


def write_files(root: Path, changes: Mapping[str, FileChange], label: str) -> None:
    """Make all ``changes`` (path to Change) in the department in ``root``, or none; ``label`` says what they do.

    Raises ChangedUnderneath where a file is not as the editor saw it, Refused where a path may not be written, OSError
    where the disk says no. A line end of a text is written as it is.
    """
    for name in changes:
        _keep_to_content(root, name)
    before = {name: _bytes_now(root, name) for name in changes}
    wrong = [name for name, change in changes.items() if _digest(before[name]) != change.seen]
    if wrong:
        raise ChangedUnderneath(wrong)
    after = {name: None if change.text is None else change.text.encode("utf-8") for name, change in changes.items()}
    log = UndoLog(root)
    log.begin(label, before, after)
    try:
        _replace_all(root, before, after)
    except BaseException:
        log.forget_last()
        raise
    log.done()


def _keep_to_content(root: Path, name: str) -> None:
    """Refuse a path that leaves the folders of content, or passes through a link."""
    parts = name.split("/")
    is_plain = name.startswith(_WRITABLE) and name.endswith(_ENDINGS) and "\\" not in name
    if not is_plain or any(part in ("", ".", "..") or part.startswith(".") for part in parts):
        hint = "Edit files of content/ and references/ only."
        raise refuse("link-not-followed", Place(name), f"{name!r} is no file that is edited here", hint)
    if any((root / "/".join(parts[:depth])).is_symlink() for depth in range(1, len(parts) + 1)):
        raise refuse(
            "link-not-followed", Place(name), f"{name} is a link; links are not followed", "Copy the file itself here."
        )


def _bytes_now(root: Path, name: str) -> bytes | None:
    try:
        return read_bytes(root, name, limits.MAX_SOURCES_BYTES)
    except Refused:
        if (root / name).is_symlink() or (root / name).exists():
            raise
        return None


def _digest(raw: bytes | None) -> str | None:
    return None if raw is None else digest_of(raw)


def _replace_all(root: Path, before: Mapping[str, bytes | None], after: Mapping[str, bytes | None]) -> None:
    """Write every new text beside its file first, then move all into place; what fails puts all back."""
    ready: dict[str, Path] = {}
    made: list[Path] = []
    moved: list[str] = []
    try:
        for name, raw in after.items():
            if raw is not None:
                made += _folders(root / name)
                ready[name] = _beside(root / name, raw)
        for name, raw in after.items():
            _keep_as_seen(root, name, before[name])
            moved.append(name)
            if raw is None:
                (root / name).unlink(missing_ok=True)
            else:
                ready[name].replace(root / name)
    except BaseException:
        for name in moved:
            _put_back(root / name, before[name])
        _clear(ready)
        for folder in reversed(made):
            with suppress(OSError):
                folder.rmdir()
        raise
    finally:
        _clear(ready)


def _clear(ready: Mapping[str, Path]) -> None:
    for beside in ready.values():
        beside.unlink(missing_ok=True)


def _keep_as_seen(root: Path, name: str, seen: bytes | None) -> None:
    """Look once more in the moment before the move: an editor may have saved since."""
    if _bytes_now(root, name) != seen:
        raise ChangedUnderneath([name])


def _folders(path: Path) -> list[Path]:
    missing = [folder for folder in path.parents if not folder.exists()]
    for folder in reversed(missing):
        folder.mkdir()
    return list(reversed(missing))


def _beside(path: Path, raw: bytes) -> Path:
    handle, name = tempfile.mkstemp(dir=path.parent, prefix=f".{path.name}.", suffix=".part")
    beside = Path(name)
    try:
        with os.fdopen(handle, "wb") as file:
            file.write(raw)
            file.flush()
            os.fsync(file.fileno())
        beside.chmod(path.stat().st_mode & 0o777 if path.exists() else 0o644)
    except BaseException:
        beside.unlink(missing_ok=True)
        raise
    return beside


def _put_back(path: Path, raw: bytes | None) -> None:
    if raw is None:
        path.unlink(missing_ok=True)
    else:
        _beside(path, raw).replace(path)


class UndoLog:
    """The edits of a department that can be undone, the last first; one file an edit.

    A record is written before the edit and named ``.begun`` until the edit is whole: after a crash in between, the next
    start puts back what had already been moved.
    """

    def __init__(self, root: Path) -> None:
        self.root = root
        self.folder = root / UNDO_FOLDER

    def begin(self, label: str, before: Mapping[str, bytes | None], after: Mapping[str, bytes | None]) -> None:
        """Keep what an edit is about to replace."""
        self.folder.mkdir(exist_ok=True)
        ignore = self.folder / ".gitignore"
        if not ignore.exists():
            ignore.write_text("*\n", encoding="utf-8")
        files = {
            name: {"before": None if raw is None else raw.decode("utf-8"), "after": _digest(after[name])}
            for name, raw in before.items()
        }
        number = max((int(path.name.split(".")[0]) for path in self._records()), default=0) + 1
        record = json.dumps({"label": label, "files": files}, ensure_ascii=False)
        path = self.folder / f"{number:08d}.begun"
        _beside(path, record.encode("utf-8")).replace(path)

    def done(self) -> None:
        """The edit begun last is whole."""
        path = self._records()[-1]
        path.rename(path.with_suffix(".edit"))
        for old in self._records()[:-_MOST_EDITS]:
            old.unlink(missing_ok=True)

    def forget_last(self) -> None:
        """The edit begun last was not made."""
        self._records()[-1].unlink(missing_ok=True)

    def recover(self) -> list[str]:
        """Put back the files of an edit that a crash cut in two; return their names."""
        found: list[str] = []
        for path in self._records():
            if path.suffix == ".begun":
                for name, held in self._read(path)["files"].items():
                    if _digest(_bytes_now(self.root, name)) == held["after"]:
                        before = held["before"]
                        _put_back(self.root / name, None if before is None else before.encode("utf-8"))
                        found.append(name)
                path.unlink(missing_ok=True)
        return found

    def last(self) -> str:
        """Return what the last edit did, in words; empty where there is none."""
        records = [path for path in self._records() if path.suffix == ".edit"]
        return str(self._read(records[-1])["label"]) if records else ""

    def undo(self) -> tuple[str, list[str]]:
        """Take the last edit back; return what it did and which files it had changed.

        Raises ChangedUnderneath where one of them was changed since, and LookupError where there is no edit.
        """
        records = [path for path in self._records() if path.suffix == ".edit"]
        if not records:
            raise LookupError
        record = self._read(records[-1])
        files = record["files"]
        now = {name: _bytes_now(self.root, name) for name in files}
        wrong = [name for name, raw in now.items() if _digest(raw) != files[name]["after"]]
        if wrong:
            raise ChangedUnderneath(wrong)
        after = {name: None if one["before"] is None else one["before"].encode("utf-8") for name, one in files.items()}
        _replace_all(self.root, now, after)
        records[-1].unlink(missing_ok=True)
        return str(record["label"]), list(files)

    def drop_last(self) -> None:
        """Forget the last edit, which can no longer be undone."""
        records = [path for path in self._records() if path.suffix == ".edit"]
        if records:
            records[-1].unlink(missing_ok=True)

    def _records(self) -> list[Path]:
        if not self.folder.is_dir():
            return []
        return sorted(path for path in self.folder.iterdir() if path.suffix in (".edit", ".begun"))

    def _read(self, path: Path) -> dict[str, dict[str, dict[str, str | None]]]:
        try:
            found = json.loads(path.read_text(encoding="utf-8"))
            return found if isinstance(found, dict) and isinstance(found.get("files"), dict) else _NOTHING
        except (OSError, ValueError):
            return _NOTHING


_NOTHING: dict[str, dict[str, dict[str, str | None]]] = {"label": {}, "files": {}}

"""Takes the mark ``proposed: true`` out of files that the educator has read; nothing else of them is touched."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from pathlib import Path

from builder.edit.changes import FileChange
from builder.edit.forms.form_files import FormFile, target_of
from builder.edit.operations import confirmed
from builder.edit.values import CannotEdit
from builder.load.files import open_file, walk
from builder.write.lock import NotWritten
from builder.write.writer import write_files


def confirm(root: Path, names: Iterable[str]) -> dict[str, int]:
    """Take the marks out of the files ``names`` (paths below ``root``; a procedure's folder means all of its files).

    Return how many were taken out of which file. All files are changed, or none. Raises NotWritten where a name is no
    page or a page cannot be edited, and Refused where one cannot be read.
    """
    changes: dict[str, FileChange] = {}
    counts: dict[str, int] = {}
    for target in dict.fromkeys(target for given in names for target in _pages(root, given)):
        opened = open_file(root, target.file)
        try:
            text, marks = confirmed(opened.text, target.kind)
        except CannotEdit as reason:
            raise NotWritten(f"{target.file}: {reason.reason}. {reason.hint}") from None
        if marks:
            changes[target.file] = FileChange(text, opened.digest)
            counts[target.file] = marks
    write_files(root, changes, f"{', '.join(changes)}: confirmed")
    return counts


def _pages(root: Path, given: str) -> Iterator[FormFile]:
    top = root.absolute()
    paths = [path for path in (Path(given).absolute(), top / given) if path.is_relative_to(top) and path.exists()]
    if not paths:
        raise NotWritten(f"There is no {given} in {root}. Name the file, then the department's folder.")
    name = paths[0].relative_to(top).as_posix()
    inside = [name] if paths[0].is_file() else [f"{name}/{one}" for one, _ in walk(root / name)]
    pages = [target for target in map(target_of, inside) if target]
    if not pages or (len(inside) > 1 and name.count("/") != 2):
        raise NotWritten(f"{given} is not a page of a procedure. Name a step, a caution, or a procedure's folder.")
    yield from pages

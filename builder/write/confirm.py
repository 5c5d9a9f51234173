"""Takes the mark ``proposed: true`` out of files that the educator has read; nothing else of them is touched."""

from __future__ import annotations

import os
import re
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from pathlib import Path

from builder.edit.changes import FileChange
from builder.load.files import open_file, walk
from builder.write.lock import NotWritten
from builder.write.writer import write_files

_PAGE = re.compile(
    r"content/(?:procedures/[^/]+/(?:procedure|steps/[^/]+|cautions/[^/]+|aftercare/[^/]+)|shared/[^/]+/[^/]+)\.md"
)
_MARK = re.compile(r"^[ \t]*proposed:[ \t]*true[ \t]*(?:#[^\r\n]*)?(?:\r\n|\n|$)", re.MULTILINE)
_INLINE = re.compile(r",[ \t]*proposed:[ \t]*true(?=[ \t]*[,}])|(?<=\{)[ \t]*proposed:[ \t]*true[ \t]*,[ \t]*")
"""In a mapping on one line: ``{identify: nerve, proposed: true}``."""


@dataclass(frozen=True, slots=True)
class Confirmed:
    """A file of which ``marks`` were taken out."""

    file: str
    marks: int


def confirm(root: Path, names: Iterable[str]) -> tuple[Confirmed, ...]:
    """Take the marks out of the files ``names`` (paths below ``root``; a procedure's folder means all of its files).

    All files are changed, or none. Raises NotWritten where a name is no page, and Refused where one cannot be read.
    """
    changes: dict[str, FileChange] = {}
    found: list[Confirmed] = []
    for name in dict.fromkeys(one for given in names for one in _pages(root, given)):
        opened = open_file(root, name)
        changed, marks = without_marks(opened.text)
        if marks:
            changes[name] = FileChange(changed, opened.digest)
            found.append(Confirmed(name, marks))
    if changes:
        write_files(root, changes, f"{', '.join(changes)}: confirmed")
    return tuple(found)


def without_marks(text: str) -> tuple[str, int]:
    """Return the text of a page without the marks in its front matter, and how many there were."""
    ends = re.search(r"^---[ \t]*\r?$", text[4:], re.MULTILINE)
    head = ends.start() + 4 if ends else 0
    front, lines = _MARK.subn("", text[:head])
    front, inline = _INLINE.subn("", front)
    return front + text[head:], lines + inline


def _pages(root: Path, given: str) -> Iterator[str]:
    top = root.absolute()
    paths = [path for path in (Path(given).absolute(), top / given) if path.is_relative_to(top) and path.exists()]
    if not paths:
        raise NotWritten(f"There is no {given} in {root}. Name the file, then the department's folder.")
    name = paths[0].relative_to(top).as_posix()
    if (root / name).is_dir() and re.fullmatch(r"content/procedures/[^/]+", name):
        yield from (f"{name}/{one}" for one, _ in walk(root / name) if _PAGE.fullmatch(f"{name}/{one}"))
    elif _PAGE.fullmatch(name) and os.path.lexists(root / name):
        yield name
    else:
        raise NotWritten(f"{given} is not a page of a procedure. Name a step, a caution, or a procedure's folder.")

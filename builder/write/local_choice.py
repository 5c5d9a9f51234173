"""Choosing between what the department wrote and what its parent says now: the choice is kept in the entry itself."""

import re
from collections.abc import Mapping, Sequence
from types import MappingProxyType

from builder.edit.file_change import Drop, Edit, FileChange, Put, Value
from builder.edit.operations import edited, new_text, put_in
from builder.load.files import open_file
from builder.model.library import Library
from builder.model.local_layers import DEPARTMENT
from builder.model.local_page import LocalChange
from builder.write.lock import NotWritten
from builder.write.writer import CONTENT, digest_now, write_files

_FILES = re.compile(CONTENT.pattern.replace("|png|", "|png|svg|"))


def page_of(change: LocalChange) -> str:
    """Return the file in which ``change`` is written."""
    return f"content/local/{change.procedure or DEPARTMENT}.md"


def keep_ours(library: Library, change: LocalChange) -> None:
    """Write that the department keeps its own, knowing what the parent says now. Raises CannotEdit, Refused and
    NotWritten; then nothing was written."""
    edit = Put(("changes", change.number, "was"), change.digest)
    _write(library, change, edit, f"{change.target}: kept ours")


def take_theirs(library: Library, change: LocalChange) -> None:
    """Remove the entry, and the file of the department's own that it speaks of. Raises as ``keep_ours`` does."""
    if change.own and change.kind == "procedure":
        raise NotWritten(f"Remove content/procedures/{change.procedure}/ yourself: it has more files than one.")
    _write(library, change, Drop(("changes", change.number)), f"{change.target}: took the parent’s", change.own)


def add_entries(
    library: Library,
    procedure: str,
    entries: Sequence[Mapping[str, str]],
    files: Mapping[str, str] = MappingProxyType({}),
) -> None:
    """Write new ``entries`` into the page of ``procedure``, with the new ``files`` that they speak of. Raises as
    ``keep_ours`` does."""
    name = f"content/local/{procedure}.md"
    values: list[Value] = [dict(entry) for entry in entries]
    if (library.root / name).exists():
        opened = open_file(library.root, name)
        text = opened.text
        for value in values:
            text = put_in(text, "local", ("changes",), value)
        change = FileChange(text, opened.digest)
    else:
        change = FileChange(new_text("local", {"changes": values}), None)
    label = next(iter(entries[0].values()))
    changes = {name: change, **{file: FileChange(text, None) for file, text in files.items()}}
    write_files(library.root, changes, f"{label}: changed over the parent")


def _write(library: Library, change: LocalChange, edit: Edit, label: str, gone: str = "") -> None:
    name = page_of(change)
    opened = open_file(library.root, name)
    changes = {name: FileChange(edited(opened.text, "local", [edit]), opened.digest)}
    if gone:
        changes[gone] = FileChange(None, digest_now(library.root, gone))
    write_files(library.root, changes, label, _FILES)

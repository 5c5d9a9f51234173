"""Writes a list of notices to references/notices/: what of an export concerns the department."""

from __future__ import annotations

from pathlib import Path

from builder.edit.changes import FileChange
from builder.load.sources.notices import fault
from builder.load.sources.notices_export import Export, list_text
from builder.place import Place
from builder.write.sources_file import SourcesNotAdded, slug
from builder.write.writer import digest_now, write_files


def notices_file(path: Path) -> str:
    """Return where the list made from the export at ``path`` stands in a department's folder."""
    return f"references/notices/{slug(path.stem) or 'notices'}.csv"


def add_notices(root: Path, path: Path, export: Export) -> str:
    """Write the list made from ``export`` (read from ``path``) and return its name in the department's folder.

    It replaces an older list made from a file of the same name. Raises SourcesNotAdded where the export told no date
    or could not be read.
    """
    if export.newest is None:
        undated = fault(Place(path.name), "the export holds no date", "Download it again.")
        raise SourcesNotAdded(export.faults or (undated,))
    name = notices_file(path)
    title = f"notices on sources of this department, from {path.name} ({export.read} rows)"
    text = list_text(title, export.newest, export.kept)
    write_files(root, {name: FileChange(text, digest_now(root, name))}, f"{name}: taken from {path.name}")
    return name

"""Writes one draft out of several experts' texts: the whole folder of a new procedure, or nothing."""

from builder.draft.experts import SideBySide
from builder.draft.merging import merged
from builder.edit.file_change import FileChange
from builder.edit.ids import slug
from builder.findings.message_words import quoted
from builder.model.library import Library
from builder.write.draft_files import refuse_existing
from builder.write.lock import NotWritten
from builder.write.writer import write_files


def write_merged(library: Library, side: SideBySide, title: str) -> tuple[str, ...]:
    """Write the draft called ``title`` to the department of ``library``, and return the paths written.

    Raises NotWritten where the folder exists or cannot be made.
    """
    title = " ".join(title.split())
    if not slug(title):
        raise NotWritten(
            f"{quoted(title)} gives no name for a folder. Write it in letters, such as Open appendicectomy."
        )
    folder = refuse_existing(library.root, slug(title))
    files = merged(side, title, frozenset(map(str, library.sources)))
    changes = {f"{folder}/{name}": FileChange(text, None) for name, text in files.items()}
    write_files(library.root, changes, f"{title}: laid together")
    return tuple(changes)

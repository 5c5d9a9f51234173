"""Lines added to a file of the ledger: nothing that stands there is ever written again."""

import os
import re
from collections.abc import Iterable
from pathlib import Path

from builder.edit.file_change import FileChange
from builder.load.files import digest_of, read_bytes
from builder.load.ledger import Approved, Issued, line_of
from builder.load.limits import MAX_SOURCES_BYTES

LEDGER_FILES = re.compile(r"ledger/((issued|approved)\.jsonl|\.gitattributes)")
# Two people may add lines at the same time: they stand side by side, and git keeps both.
_ATTRIBUTES, _UNITED = "ledger/.gitattributes", "*.jsonl text eol=lf merge=union\n"


def with_lines_added(root: Path, name: str, lines: Iterable[Issued | Approved]) -> dict[str, FileChange]:
    """Return the change that adds ``lines`` to the file ``name`` of the ledger in ``root``. Raises Refused."""
    is_there = os.path.lexists(root / name)
    before = read_bytes(root, name, MAX_SOURCES_BYTES) if is_there else b""
    joint = b"" if before.endswith(b"\n") or not before else b"\n"
    added = "".join(f"{line_of(line)}\n" for line in lines).encode()
    changes = {name: FileChange(before + joint + added, digest_of(before) if is_there else None)}
    if not (root / _ATTRIBUTES).exists():
        changes[_ATTRIBUTES] = FileChange(_UNITED, None)
    return changes

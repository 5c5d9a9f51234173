"""The draft of a talk on the gallbladder, which tests of drafts and of preview begin with."""

from __future__ import annotations

import shutil
from pathlib import Path

from department import BASE, read

from builder.draft import propose
from builder.load.told.source_file import read_source
from builder.publish.pictures import clean_photograph
from builder.write.draft_files import write

TALK = Path(__file__).parent / "preview/talks/gallbladder.vtt"


def drafted_in(root: Path) -> Path:
    """Lay the base department with the draft into ``root``; return it."""
    shutil.copytree(BASE, root)
    write(root, propose("Gallbladder", read_source(TALK), read(root)[0]), clean_photograph)
    return root

"""Reads a phone card back: it shows its whole plan, and is small, without a script, and complete in itself."""

from pathlib import Path

from builder.compose.card.phone_card import MOST_BYTES
from builder.compose.document import Document
from builder.publish.build_report import FileRead
from builder.readback.site import page

NAMES = (*page.NAMES, "it is one file of at most 60 kB that needs no other and runs nothing")


def read_back(document: Document, path: Path) -> FileRead:
    """Return what is wrong with the phone card at ``path`` that was made of ``document``."""
    raw = path.read_bytes()
    problems = list(page.read_back(document, path).problems)
    if len(raw) > MOST_BYTES:
        problems.append(f"it has {len(raw) / 1000:.1f} kB; at most {MOST_BYTES // 1000} kB are allowed")
    if b"<script" in raw.lower():
        problems.append("it runs a script")
    fetched = page.shown_by(raw).fetched
    problems += [f"it needs {name} to be shown" for name in fetched]
    return FileRead(tuple(problems))

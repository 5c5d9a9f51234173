"""Writes the committee's copy as a .docx: plain parts of ECMA-376, each paragraph whole in a bookmark that is its id.

The same copy gives the same bytes. What was sent of each passage stands in custom properties, as a short digest, so
that what comes back can be held against it without keeping the copy.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import groupby
from typing import Any

from builder.compose.changes.committee_copy import CommitteeCopy, CopyPassage
from builder.compose.changes.sent import sent_words
from builder.compose.document import Renderer
from builder.compose.view.words import SHORT_CAUTION
from builder.load.marked_text import PROPERTY
from builder.publish.output import packed

_PARTS = (
    ("[Content_Types].xml", "parts"), ("_rels/.rels", "links"), ("word/document.xml", "document"),
    ("word/_rels/document.xml.rels", "word_links"), ("word/styles.xml", "styles"), ("word/settings.xml", "settings"),
    ("word/footer1.xml", "footer"), ("docProps/core.xml", "core"), ("docProps/custom.xml", "custom"),
)  # fmt: skip
_MOST_OF_A_PROPERTY = 240


@dataclass(frozen=True, slots=True)
class _Paragraph:
    number: int
    name: str
    look: str
    texts: tuple[str, ...]


def committee_file(copy: CommitteeCopy, language: str, renderer: Renderer) -> bytes:
    """Return ``copy`` as a word-processor file in ``language``."""
    words = sent_words(copy)
    parts = (words[at : at + _MOST_OF_A_PROPERTY] for at in range(0, len(words), _MOST_OF_A_PROPERTY))
    values: dict[str, Any] = {
        "title": copy.title, "language": language, "caution": SHORT_CAUTION, "groups": list(_groups(copy)),
        "sent": [(f"{PROPERTY}{number}", part) for number, part in enumerate(parts, 1)],
    }  # fmt: skip
    return packed((name, renderer.render(f"committee/{part}.xml.j2", **values).encode()) for name, part in _PARTS)


def _groups(copy: CommitteeCopy) -> Iterator[dict[str, Any]]:
    numbered = list(enumerate(copy.passages, 1))
    for table, passages in groupby(numbered, lambda pair: pair[1].cell[0] if pair[1].cell else 0):
        if not table:
            yield from ({"rows": (), "one": _paragraph(*pair)} for pair in passages)
            continue
        rows = groupby(passages, lambda pair: pair[1].cell[1] if pair[1].cell else 0)
        yield {"rows": [[_paragraph(*pair) for pair in row] for _, row in rows]}


def _paragraph(number: int, passage: CopyPassage) -> _Paragraph:
    return _Paragraph(number, passage.name, passage.look, tuple(piece.shown for piece in passage.pieces))

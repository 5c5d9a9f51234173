"""Writes the committee's copy as a .docx: plain parts of ECMA-376, each paragraph whole in a bookmark that is its id,
each drawing as a PNG.

The same copy gives the same bytes. What was sent of each passage stands in custom properties, as a short digest, so
that what comes back can be held against it without keeping the copy.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import groupby
from pathlib import Path
from typing import Any

from builder.compose.changes.committee_copy import CommitteeCopy, CopyPassage
from builder.compose.changes.sent import sent_words
from builder.compose.document import Renderer
from builder.compose.slides.slide import SlidePicture
from builder.compose.view.words import SHORT_CAUTION
from builder.load.files import read_bytes
from builder.load.limits import MAX_FIGURE_BYTES
from builder.load.marked_text import PROPERTY
from builder.load.program_words import gettext
from builder.publish.output import packed
from builder.publish.pictures import frame_of, safe_drawing
from builder.publish.slides.pptx_file import shown

_PARTS = (
    ("[Content_Types].xml", "parts"), ("_rels/.rels", "links"), ("word/document.xml", "document"),
    ("word/_rels/document.xml.rels", "word_links"), ("word/styles.xml", "styles"), ("word/settings.xml", "settings"),
    ("word/footer1.xml", "footer"), ("docProps/core.xml", "core"), ("docProps/custom.xml", "custom"),
)  # fmt: skip
_MOST_OF_A_PROPERTY = 240
_WIDEST, _HIGHEST = 110 * 36_000, 90 * 36_000
"""Of a drawing: 36,000 are a millimetre."""


@dataclass(frozen=True, slots=True)
class _Paragraph:
    number: int
    name: str
    look: str
    texts: tuple[str, ...]
    picture: "_Picture | None" = None


@dataclass(frozen=True, slots=True)
class _Picture:
    """A drawing as points, and how large it is shown, in English metric units (ECMA-376-1, 20.1.2.1)."""

    points: bytes
    wide: int
    high: int


def committee_file(copy: CommitteeCopy, language: str, renderer: Renderer, root: Path) -> bytes:
    """Return ``copy`` as a word-processor file in ``language``, which is spoken; its drawings lie in the folder
    ``root``. Raises PublishError and Refused where one cannot be shown."""
    paragraphs = [_paragraph(*pair, root) for pair in enumerate(copy.passages, 1)]
    drawn = [(one.number, one.picture.points) for one in paragraphs if one.picture]
    words = sent_words(copy)
    parts = (words[at : at + _MOST_OF_A_PROPERTY] for at in range(0, len(words), _MOST_OF_A_PROPERTY))
    values: dict[str, Any] = {
        "title": copy.title, "language": language, "caution": gettext(SHORT_CAUTION),
        "groups": list(_groups(copy, paragraphs)),
        "pictures": [number for number, _ in drawn],
        "sent": [(f"{PROPERTY}{number}", part) for number, part in enumerate(parts, 1)],
    }  # fmt: skip
    texts = ((name, renderer.render(f"committee/{part}.xml.j2", **values).encode()) for name, part in _PARTS)
    return packed((*texts, *((f"word/media/drawing{number}.png", points) for number, points in drawn)))


def _groups(copy: CommitteeCopy, paragraphs: list[_Paragraph]) -> Iterator[dict[str, Any]]:
    pairs = zip(copy.passages, paragraphs, strict=True)
    for table, passages in groupby(pairs, lambda pair: pair[0].cell[0] if pair[0].cell else 0):
        if not table:
            yield from ({"rows": (), "one": paragraph} for _, paragraph in passages)
            continue
        rows = groupby(passages, lambda pair: pair[0].cell[1] if pair[0].cell else 0)
        yield {"rows": [[paragraph for _, paragraph in row] for _, row in rows]}


def _paragraph(number: int, passage: CopyPassage, root: Path) -> _Paragraph:
    texts = tuple(piece.shown for piece in passage.pieces)
    return _Paragraph(number, passage.name, passage.look, texts, _picture(passage.picture, root))


def _picture(path: str, root: Path) -> _Picture | None:
    if not path:
        return None
    _, _, width, height = frame_of(safe_drawing(path, read_bytes(root, path, MAX_FIGURE_BYTES)))
    wide = min(_WIDEST, _HIGHEST * width / height)
    points, _ = shown(root, SlidePicture(path, "", round(width / height, 3)))
    return _Picture(points, round(wide), round(wide * height / width))

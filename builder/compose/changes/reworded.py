"""Where new words of a passage belong in its file; what touches words that are ours belongs nowhere, and says so."""

import re
from collections.abc import Iterator
from difflib import SequenceMatcher
from typing import NamedTuple

from builder.compose.changes.committee_copy import PROSE, CopyPassage, CopyPiece
from builder.edit.file_change import Path

_TOKEN = re.compile(r"\s+|[^\W_]+|[\W_]")
_IS_MARKUP = re.compile(r"[\[\]*`\\]|<[A-Za-z/!]|^\s*#")


class PieceEdit(NamedTuple):
    """The letters from ``start`` to ``end`` of the value at ``path`` become ``words``."""

    path: Path
    start: int
    end: int
    words: str


class CannotReword(Exception):
    """The new words have no certain place; says why."""


def reworded(passage: CopyPassage, words: str) -> tuple[PieceEdit, ...]:
    """Return what makes ``passage`` say ``words``. Raises CannotReword where that would touch what is not text of the
    file."""
    old = "".join(piece.shown for piece in passage.pieces)
    return tuple(_placed(passage.pieces, *change) for change in _changes(old, words))


def _changes(old: str, new: str) -> Iterator[tuple[int, int, str]]:
    """Yield what differs: which letters of ``old`` become which words. A difference in white space alone is none."""
    before, after = _tokens(old), _tokens(new)
    old_keys, new_keys = ([" " if token.isspace() else token for _, token in tokens] for tokens in (before, after))
    for tag, start, stop, from_, to in SequenceMatcher(None, old_keys, new_keys, autojunk=False).get_opcodes():
        if tag != "equal":
            first = before[start][0] if start < len(before) else len(old)
            last = before[stop][0] if stop < len(before) else len(old)
            come = "".join(token for _, token in after[from_:to])
            if old[first:last].strip() or come.strip():
                yield first, last, come
            elif bool(old[first:last]) != bool(come) and first > 0 and last < len(old):
                yield first, last, come  # two words that became one, or one that became two


def _tokens(text: str) -> list[tuple[int, str]]:
    return [(match.start(), match[0]) for match in _TOKEN.finditer(text)]


def _placed(pieces: tuple[CopyPiece, ...], start: int, end: int, words: str) -> PieceEdit:
    spans: list[tuple[int, int, CopyPiece]] = []
    at = 0
    for piece in pieces:
        spans.append((at, at + len(piece.shown), piece))
        at += len(piece.shown)
    if start == end:
        touched = [span for span in spans if span[0] <= start <= span[1] and span[2].path is not None]
        # Between two pieces of one text, new words stand outside the link that ends or begins there.
        touched = sorted(touched, key=lambda span: span[1] - span[0], reverse=True)[:1]
    else:
        touched = [span for span in spans if span[0] < end and start < span[1]]
    if len(touched) > 1 and all(span[2].path == PROSE for span in touched):
        raise CannotReword("the change runs over the beginning or end of a link, or of words set off in the text")
    if len(touched) != 1 or touched[0][2].path is None:
        ours = "".join(span[2].shown for span in touched if span[2].path is None).strip() or words.strip()
        raise CannotReword(f"it changes “{ours}”, which is not text of the file")
    begin, _, piece = touched[0]
    assert piece.path is not None
    if piece.path == PROSE and _IS_MARKUP.search(words):
        raise CannotReword("it puts in a sign that means something else in the file (such as * or [)")
    return PieceEdit(piece.path, piece.start + start - begin, piece.start + end - begin, words)

"""Every file of a department as it was written, in one string, so that a rule reads all of it in one pass.

``texts`` has what is said; this has what else is in the files: ids, addresses, comments, the words of drawings, the
fields of sources.
"""

import re
from bisect import bisect_right
from collections.abc import Iterator
from enum import Enum
from typing import NamedTuple

from builder.facts.remembered import once_per_library
from builder.facts.texts import SEPARATOR
from builder.grouping import word_set
from builder.model.library import Library
from builder.place import Place


class Part(Enum):
    """What a piece is part of: a page or catalogue, a drawing, a source, or somebody's notes on a source."""

    PAGE = "page"
    DRAWING = "drawing"
    SOURCE = "source"
    NOTE_ON_SOURCE = "note on source"


class WrittenPiece(NamedTuple):
    """Words that stand together: where they start in the whole, their file, where in it, and what they are part of."""

    start: int
    file: str
    offset: int
    part: Part


class Written:
    """All files, joined; of a drawing only its words, of sources only the fields that people read."""

    def __init__(self, texts: dict[str, str]) -> None:
        self.pieces: list[WrittenPiece] = []
        self._texts = texts
        words: list[str] = []
        start = 0
        for file, text in texts.items():
            for offset, part, said in _pieces(file, text):
                self.pieces.append(WrittenPiece(start, file, offset, part))
                words.append(said)
                start += len(said) + len(SEPARATOR)
        self.whole = SEPARATOR.join(words)
        self._starts = [piece.start for piece in self.pieces]

    def piece(self, offset: int) -> WrittenPiece:
        """Return the piece that the character at ``offset`` of the whole belongs to."""
        return self.pieces[bisect_right(self._starts, offset) - 1]

    def place(self, offset: int) -> Place:
        """Return the place of the character at ``offset`` of the whole."""
        piece = self.piece(offset)
        return Place.after(piece.file, self._texts[piece.file][: piece.offset + offset - piece.start])


@once_per_library
def written(library: Library) -> Written:
    """Return everything that was written in the files of ``library``."""
    return Written(dict(library.texts))


def _pieces(file: str, text: str) -> Iterator[tuple[int, Part, str]]:
    """Yield where each piece of ``text`` starts in it, what it is part of, and its words."""
    if file.endswith(".svg"):
        return _of_drawing(text)
    if file.endswith(".bib"):
        return _of_sources(text)
    return iter(((0, Part.PAGE, text),))


# SVG 2, chapter 11: the text of a text element runs on through tspan, textPath and a; everything else parts it.
_TAG = re.compile(r"<!--(?P<comment>.*?)-->|<(?P<within>/?(?:tspan|textPath|a)\b)?[^<>]*>", re.DOTALL)
# Attributes that hold words. An address of the kind data: is a picture; its letters and digits say nothing.
_ATTRIBUTE = re.compile(
    r"(?:\b|:)(?:id|class|title|label|docname|export-filename|href|absref|alt|aria-[a-z]+|data-[\w-]+)\s*=\s*"
    r"(?P<mark>[\"'])(?P<value>(?!\s*data:)[^<]*?)(?P=mark)"
)


def _of_drawing(text: str) -> Iterator[tuple[int, Part, str]]:
    """Yield the words of a drawing; a word that is split over elements of one text is one word.

    A word that was put together is placed at its first letter.
    """
    start, words, end = 0, "", 0
    for tag in _TAG.finditer(text):
        words += text[end : tag.start()]
        if not tag["within"]:
            if words.strip():
                yield start, Part.DRAWING, words
            start, words = tag.end(), ""
        if tag["comment"]:
            yield tag.start("comment"), Part.DRAWING, tag["comment"]
        for attribute in _ATTRIBUTE.finditer(text, tag.start(), tag.end()):
            yield attribute.start("value"), Part.DRAWING, attribute["value"]
        end = tag.end()


# What no reader reads, and no person is named in: identifiers and addresses.
_IDENTIFIERS = word_set("doi url eprint isbn issn pmid pmcid orcid eid crossref urldate abstract")
_NOTES = frozenset(("note", "annote", "annotation", "comment", "addendum", "keywords", "file", "howpublished"))
_FIELD = re.compile(
    r"^[ \t]*(?P<name>[A-Za-z][\w-]*)[ \t]*=(?P<value>[^=@]*?)(?=^[ \t]*[A-Za-z][\w-]*[ \t]*=|^[ \t]*[@}]|\Z)",
    re.MULTILINE,
)
_BETWEEN = re.compile(r"^[ \t]*(?:%|@[ \t]*\w+[ \t]*[{(])(?P<said>[^\n]*)", re.MULTILINE)


def _of_sources(text: str) -> Iterator[tuple[int, Part, str]]:
    for field in _FIELD.finditer(text):
        name = field["name"].lower()
        if name not in _IDENTIFIERS:
            yield field.start("value"), Part.NOTE_ON_SOURCE if name in _NOTES else Part.SOURCE, field["value"]
    for line in _BETWEEN.finditer(text):
        yield line.start("said"), Part.NOTE_ON_SOURCE, line["said"]

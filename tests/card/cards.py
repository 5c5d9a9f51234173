"""Cards of the demo and of the base, made once for all tests of a process, and what stands on the finished files."""

from __future__ import annotations

from functools import cache

import pypdfium2
from department import DEMO
from papers import library, renderer, typesetter

from builder.compose.card import card, card_ways
from builder.compose.document import Document
from builder.model.library import Library
from builder.model.pages import Procedure
from builder.readback.comparison import bare


@cache
def card_of(procedure: str, way: str = "") -> Document:
    """The card of a demo procedure, of every way or of one."""
    one = demo().by_id[procedure]
    if way:
        return card_ways.compose(library(DEMO), one, renderer(DEMO), way)
    return card.compose(library(DEMO), one, renderer(DEMO))


@cache
def file_of(procedure: str, way: str = "") -> bytes:
    return typesetter(DEMO).pdf(card_of(procedure, way))


@cache
def sides_of(procedure: str, way: str = "") -> tuple[str, ...]:
    """The words of each side of the finished file, as they are compared: read by another reader than ours."""
    document = pypdfium2.PdfDocument(file_of(procedure, way))
    texts = (page.get_textpage().get_text_range() for page in document)
    return tuple(bare(text.replace("\ufffe", "-")) for text in texts)  # how PDFium gives a hyphen at the end of a line


def one_way(procedure: Procedure) -> str:
    """The longest way of a procedure: most is on its card."""
    return max(card_ways.names_of(procedure), key=len)


def demo() -> Library:
    return library(DEMO)

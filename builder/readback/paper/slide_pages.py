"""Proof: each page of slides is one slide of 16:9 with one heading, and no type on it is below the least."""

from __future__ import annotations

from collections.abc import Iterator

from builder.compose.document import Document
from builder.compose.slides.slide import HEIGHT, WIDTH
from builder.compose.slides.slide_type import LEAST_PT
from builder.readback.composed_words import bare, composed
from builder.readback.paper.finished_pdf import FinishedPdf

_KIND = "slides"
_TITLES = ("H1", "H2")


def prove(document: Document, artefact: FinishedPdf) -> Iterator[str]:
    """Look at every page, where ``document`` is a deck of slides."""
    if document.kind != _KIND:
        return
    count = len(composed(document.text).headings)
    if len(artefact.sheets) != count:
        yield f"it has {len(artefact.sheets)} pages for {count} slides: one runs over its page"
    titles = [node for node in artefact.tree.walk() if node.role in _TITLES]
    for number, title in enumerate(titles, start=1):
        on = {page for page, _ in title.marks()}
        if on != {number}:
            yield f"the title “{artefact.text_of(title)[:60]}” does not stand on slide {number}"
    for sheet in artefact.sheets:
        if (round(sheet.width), round(sheet.height)) != (WIDTH, HEIGHT):
            yield f"page {sheet.number} is {sheet.width:.0f} by {sheet.height:.0f} pt, not {WIDTH:g} by {HEIGHT:g}"
        for piece in sheet.pieces:
            if bare(piece.text) and piece.size_pt < LEAST_PT - 0.01:
                yield (
                    f"page {sheet.number}: “{piece.text.strip()[:60]}” is set at {piece.size_pt:.1f} pt; "
                    f"the smallest allowed on a slide is {LEAST_PT:g} pt"
                )

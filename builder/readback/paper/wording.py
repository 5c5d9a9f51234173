"""Proof: every word that was composed stands in the finished file, in reading order, and nothing else."""

from __future__ import annotations

from collections.abc import Iterator

from builder.compose.document import Document
from builder.readback.composed_words import bare, composed
from builder.readback.paper.finished_pdf import FinishedPdf, StructureElement

_SHOWN = 60


def prove(document: Document, artefact: FinishedPdf) -> Iterator[str]:
    """Compare the words composed with the words of the structure tree."""
    wanted = composed(document.text).text
    found = bare("".join(_spoken(artefact, artefact.tree)))
    if found != wanted:
        at = next((at for at, (one, other) in enumerate(zip(wanted, found, strict=False)) if one != other), None)
        at = min(len(wanted), len(found)) if at is None else at
        before = wanted[max(0, at - 30) : at]
        yield (
            f"its words are not those that were composed: after “{before}” should stand “{wanted[at : at + _SHOWN]}”, "
            f"but there stands “{found[at : at + _SHOWN]}”"
        )
    hung = set(artefact.tree.marks())
    for piece in artefact.pieces():
        if piece.mark >= 0 and (piece.page, piece.mark) not in hung and bare(piece.text):
            yield f"page {piece.page}: “{piece.text.strip()}” is painted but not in the reading order"


def _spoken(artefact: FinishedPdf, node: StructureElement) -> Iterator[str]:
    """Yield the text below ``node`` without the bullets and numbers that the typesetter gives to lists."""
    for kid in node.kids:
        if isinstance(kid, StructureElement):
            if kid.role != "Lbl":
                yield from _spoken(artefact, kid)
        else:
            yield from (piece.text for piece in artefact.by_mark.get(kid, ()))

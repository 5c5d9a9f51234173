"""Reads a finished PDF back and proves it. A new proof is a file in ``paper/`` and a row here."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from pathlib import Path

import pikepdf
import pypdfium2

from builder.compose.document import Document
from builder.readback.comparison import FileRead
from builder.readback.paper import cells, code, geometry, ink, promised, structure
from builder.readback.paper.finished_pdf import FinishedPdf, PaintedPage, PaintedText
from builder.readback.paper.painted import drawn_on, picture_of, sheets_of
from builder.readback.paper.tree import catalogue_of, tree_of

Prove = Callable[[Document, FinishedPdf], Iterator[str]]
_PROOFS: tuple[tuple[str, Prove], ...] = (
    ("every caution, dose, critical step, count and reference is there once, in order", promised.prove),
    ("the words are those composed, in reading order", structure.prove_words),
    ("headings, tables, pictures and tags are those composed", structure.prove_tags),
    ("all text is inside the margins, unclipped, in our type and not too small", geometry.prove),
    ("all text can be seen, at a contrast of 4.5 to 1 or more in colour and in grey", ink.prove),
    ("each page of slides is one slide with its title, in type of 24 pt or more", geometry.prove_slides),
    ("the QR code is painted whole, large enough, with white around it", code.prove),
)
# A sheet of cards is for the printer: it has no tags, and its words are those of the card.
_SHEET_PROOFS: tuple[tuple[str, Prove], ...] = (
    ("every cell shows its whole page, in order, with its QR code; each back meets its front", cells.prove),
    *(row for row in _PROOFS if row[1] in (geometry.prove, ink.prove)),
)
NAMES = tuple(name for name, _ in _PROOFS)
SHEET_NAMES = tuple(name for name, _ in _SHEET_PROOFS)
_MOST_PAGES = {"card": 2}


def read_back(document: Document, path: Path) -> FileRead:
    """Return what is wrong with the PDF at ``path`` that was made of ``document``."""
    try:
        artefact, close = _opened(path)
    except (pikepdf.PdfError, pypdfium2.PdfiumError) as error:
        return FileRead((f"it cannot be opened: {error}",), 0, 0.0)
    try:
        proofs = _PROOFS if document.of is None else _SHEET_PROOFS
        problems = [problem for _, prove in proofs for problem in prove(document, artefact)]
        most = _MOST_PAGES.get(document.kind)
        if most is not None and len(artefact.sheets) > most:
            problems.insert(0, f"it has {len(artefact.sheets)} pages; at most {most} are allowed")
        smallest = min((piece.size_pt for piece in artefact.texts()), default=0.0)
        return FileRead(tuple(dict.fromkeys(problems)), len(artefact.sheets), round(smallest, 2))
    finally:
        close()


def _opened(path: Path) -> tuple[FinishedPdf, Callable[[], None]]:
    painted = pypdfium2.PdfDocument(path)
    pages = list(painted)  # loaded once: to load a page is to parse it
    sheets = sheets_of(pages)
    with pikepdf.open(path) as pdf:
        tree, says = tree_of(pdf), catalogue_of(pdf)
    artefact = FinishedPdf(sheets, tree, says, picture_of(pages), _by_mark(sheets), drawn_on(pages))
    return artefact, painted.close


def _by_mark(sheets: tuple[PaintedPage, ...]) -> dict[tuple[int, int], tuple[PaintedText, ...]]:
    by_mark: dict[tuple[int, int], list[PaintedText]] = {}
    for sheet in sheets:
        for piece in sheet.pieces:
            if piece.mark >= 0:
                by_mark.setdefault((piece.page, piece.mark), []).append(piece)
    return {mark: tuple(pieces) for mark, pieces in by_mark.items()}

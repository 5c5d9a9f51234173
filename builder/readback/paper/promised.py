"""Proof: what the document must show is there, once, in order, and no caution is parted by a page."""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Iterator
from dataclasses import dataclass

from builder.compose.code_mark import QR
from builder.compose.document import Document
from builder.compose.view.view import Must
from builder.findings.message_words import quoted
from builder.readback.composed_words import bare
from builder.readback.paper.finished_pdf import FinishedPdf, PaintedText, StructureElement

# Where a must is the whole of a block, it may stand there once only: a heading on the page, a line on the card.
_BLOCKS = {
    "handout": {"step": "heading", "caution": "heading", "aftercare": "heading"},
    "card": {"step": "line", "caution": "line", "count": "line", "before": "line"},
    "count-sheet": {"step": "heading"},
    "what-now": {"sign": "heading", "step": "heading"},
    "rehearsal": {"step": "heading"},
}
_HEADINGS = frozenset({"H1", "H2", "H3", "H4", "H5", "H6"})
_TOGETHER = ("caution", "dose")  # kinds whose lines stay on one page
_SHOWN = 70


def prove(document: Document, artefact: FinishedPdf) -> Iterator[str]:
    """Find every must of ``document`` in the structure tree, one after the other."""
    stream = Stream(artefact)
    whole = _BLOCKS.get(document.kind, {})
    at = 0
    pages: dict[tuple[str, str], set[int]] = {}
    for must in document.musts:
        if must.kind == QR:
            continue  # a picture, read by the proof of its own
        if must.kind == "running":
            yield from _running(must, artefact)
        elif must.kind == "figure":
            yield from _figure(must, artefact)
        else:
            problem, start = stream.find(must, whole.get(must.kind, ""), at)
            if problem:
                yield problem
            if start is not None:
                at = start
                shown_on = {piece.page for piece in stream.pieces(start, start + len(bare(must.text)))}
                pages.setdefault((must.kind.removesuffix("-line"), must.id), set()).update(shown_on)
    for (kind, id), found in pages.items():
        if kind in _TOGETHER and len(found) > 1:
            yield f"the {kind} {quoted(id)} is parted over pages {' and '.join(str(page) for page in sorted(found))}"


def _running(must: Must, artefact: FinishedPdf) -> Iterator[str]:
    """The mark of a draft runs along on every page, outside the reading order."""
    for sheet in artefact.sheets:
        heads = bare("".join(piece.text for piece in sheet.pieces if piece.mark < 0 and not piece.figure))
        if bare(must.text) not in heads:
            yield f"page {sheet.number} does not bear the mark “{must.text}”"


def _figure(must: Must, artefact: FinishedPdf) -> Iterator[str]:
    found = [node for node in artefact.tree.walk() if node.role == "Figure" and node.alt == must.text]
    if len(found) != 1:
        times, shown = _times(len(found)), must.text[:_SHOWN]
        yield f"the figure {quoted(must.id)} stands there {times}, with the description “{shown}”"


@dataclass(frozen=True, slots=True)
class _Block:
    start: int
    end: int
    role: str


class Stream:
    """The text of the structure tree in reading order, as compared, with the way back to pieces and blocks."""

    def __init__(self, artefact: FinishedPdf) -> None:
        parts: list[str] = []
        self._starts: list[int] = []
        self._pieces: list[PaintedText] = []
        self._blocks: list[_Block] = []
        self._length = 0
        self._artefact = artefact
        self._collect(artefact.tree, parts)
        self.text = "".join(parts)

    def _collect(self, node: StructureElement, parts: list[str]) -> None:
        start = self._length
        for kid in node.kids:
            if isinstance(kid, StructureElement):
                if kid.role != "Lbl":
                    self._collect(kid, parts)
                continue
            for piece in self._artefact.by_mark.get(kid, ()):
                words = bare(piece.text)
                self._starts.append(self._length)
                self._pieces.append(piece)
                parts.append(words)
                self._length += len(words)
        if node.role in _HEADINGS or node.role in ("P", "LBody", "TD", "TH", "Caption"):
            self._blocks.append(_Block(start, self._length, node.role))

    def pieces(self, start: int, end: int) -> list[PaintedText]:
        """Return the pieces that paint the characters from ``start`` to ``end``."""
        first = max(0, bisect_right(self._starts, start) - 1)
        return [piece for at, piece in zip(self._starts[first:], self._pieces[first:], strict=True) if at < end]

    def find(self, must: Must, whole: str, at: int) -> tuple[str, int | None]:
        """Return what is wrong with ``must`` ("" = nothing) and where it was found from ``at`` on (None: nowhere)."""
        words = bare(must.text)
        name = f"the {must.kind.replace('-', ' ')} {quoted(must.id)} (“{must.text[:_SHOWN]}”)"
        if whole:
            starts = self._whole(words, heading=whole == "heading")
            if len(starts) != 1:
                return f"{name} stands there {_times(len(starts))}", starts[0] if starts else None
            problem = "" if starts[0] >= at else f"{name} stands before what it should follow"
            return problem, max(starts[0], at)
        start = self.text.find(words, at)
        if start >= 0:
            return "", start
        start = self.text.find(words)
        return (f"{name} stands before what it should follow" if start >= 0 else f"{name} is not there"), None

    def _whole(self, words: str, *, heading: bool) -> list[int]:
        if heading:
            headings = [block for block in self._blocks if block.role in _HEADINGS]
            return [block.start for block in headings if self.text[block.start : block.end] == words]
        lines = [block for block in self._blocks if block.role == "LBody"]
        return [block.start for block in lines if self.text.startswith(words, block.start)]


def _times(count: int) -> str:
    return {0: "nowhere", 1: "once", 2: "twice"}.get(count, f"{count} times")

"""Proof: what the document must show is there, once, in order, and no caution is parted by a page."""

from bisect import bisect_right
from collections.abc import Iterator

from builder.compose.code_mark import QR
from builder.compose.document import Document, Must
from builder.findings.message_words import quoted
from builder.readback.comparison import bare, named
from builder.readback.paper.finished_pdf import HEADINGS, FinishedPdf, PaintedText, StructureElement

# Where a must is the whole of a block, it may stand there once only: a heading on the page, a line on the card.
_BLOCKS = {
    "handout": {"step": "heading", "caution": "heading", "aftercare": "heading"},
    "card": {"step": "line", "caution": "line", "count": "line", "before": "line"},
    "count-sheet": {"step": "heading"},
    "what-now": {"sign": "heading", "step": "heading"},
    "rehearsal": {"step": "heading"},
}
_TOGETHER = ("caution", "dose")  # kinds whose lines stay on one page
_ON_THE_FIRST_PAGE = "help"


def prove(document: Document, artefact: FinishedPdf) -> Iterator[str]:
    """Find every must of ``document`` in the structure tree, one after the other."""
    stream = _Stream(artefact)
    whole = _BLOCKS.get(document.kind, {})
    at = 0
    pages: dict[tuple[str, str], set[int]] = {}
    for must in document.musts:
        if must.kind == "running":
            yield from _running(must, artefact)
        elif must.kind == "figure":
            yield from _figure(must, artefact)
        elif must.kind != QR:  # a picture, read by the proof of its own
            words = bare(must.text)
            problem, start = stream.find(words, whole.get(must.kind, ""), at)
            if problem:
                yield f"{named(must)} {problem}"
            if start is not None:
                at = start
                shown_on = pages.setdefault((must.kind.removesuffix("-line"), must.id), set())
                shown_on.update(piece.page for piece in stream.pieces(start, start + len(words)))
    for (kind, id), shown_on in pages.items():
        if kind in _TOGETHER and len(shown_on) > 1:
            yield f"the {kind} {quoted(id)} is parted over pages {' and '.join(map(str, sorted(shown_on)))}"
        if kind == _ON_THE_FIRST_PAGE and shown_on != {1}:
            yield f"the {kind} {quoted(id)} is not on the first page"


def _running(must: Must, artefact: FinishedPdf) -> Iterator[str]:
    """The mark of a draft runs along on every page, outside the reading order but on the first."""
    for sheet in artefact.sheets:
        told = (piece for piece in sheet.pieces if sheet.number == 1 or (piece.mark < 0 and not piece.figure))
        heads = bare("".join(piece.text for piece in told))
        if bare(must.text) not in heads:
            yield f"page {sheet.number} does not bear the mark “{must.text}”"


def _figure(must: Must, artefact: FinishedPdf) -> Iterator[str]:
    figures = [node for node in artefact.tree.walk() if node.role == "Figure" and node.alt == must.text]
    if len(figures) != 1:
        yield f"{named(must)} stands there {_times(len(figures))}, known by its description"


class _Stream:
    """The text of the structure tree in reading order, as compared, with the way back to pieces and blocks."""

    def __init__(self, artefact: FinishedPdf) -> None:
        self._artefact = artefact
        self._words: list[str] = []
        self._length = 0
        self._starts: list[int] = []
        self._pieces: list[PaintedText] = []
        self._blocks: list[tuple[str, int, int]] = []  # role of each, where it starts and ends
        self._collect(artefact.tree)
        self.text = "".join(self._words)

    def _collect(self, node: StructureElement) -> None:
        start = self._length
        for kid in node.kids:
            if isinstance(kid, StructureElement):
                if kid.role != "Lbl":
                    self._collect(kid)
                continue
            for piece in self._artefact.by_mark.get(kid, ()):
                self._starts.append(self._length)
                self._pieces.append(piece)
                self._words.append(bare(piece.text))
                self._length += len(self._words[-1])
        self._blocks.append((node.role, start, self._length))

    def pieces(self, start: int, end: int) -> list[PaintedText]:
        """Return the pieces that paint the characters from ``start`` to ``end``."""
        first = max(0, bisect_right(self._starts, start) - 1)
        return [piece for at, piece in zip(self._starts[first:], self._pieces[first:], strict=True) if at < end]

    def find(self, words: str, whole: str, at: int) -> tuple[str, int | None]:
        """Return what is wrong with ``words`` ("" = nothing) and where they stand from ``at`` on (None: nowhere).

        ``whole`` says of what they are the whole: a heading, or a line from its start; "" = of nothing.
        """
        if whole:
            if whole == "heading":
                starts = [at for role, at, end in self._blocks if role in HEADINGS and self.text[at:end] == words]
            else:
                starts = [at for role, at, _ in self._blocks if role == "LBody" and self.text.startswith(words, at)]
            if len(starts) != 1:
                return f"stands there {_times(len(starts))}", starts[0] if starts else None
            return "" if starts[0] >= at else _TOO_EARLY, max(starts[0], at)
        start = self.text.find(words, at)
        if start >= 0:
            return "", start
        return _TOO_EARLY if words in self.text else "is not there", None


_TOO_EARLY = "stands before what it should follow"


def _times(count: int) -> str:
    return {0: "nowhere", 1: "once", 2: "twice"}.get(count, f"{count} times")

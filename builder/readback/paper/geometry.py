"""Proof: all text is painted inside the margins, unclipped, in our type, not too small, and nothing lies over or
strikes through it.

Of slides besides: each page is one slide of 16:9 with one heading, and no type on it is below the least.
"""

import re
from collections.abc import Iterator, Sequence

from builder.compose.document import Document
from builder.compose.slides.slide import HEIGHT, WIDTH
from builder.compose.slides.slide_text import LEAST_PT
from builder.facts.directions import RIGHT_TO_LEFT_LETTER
from builder.grouping import grouped
from builder.readback.comparison import bare, composed
from builder.readback.paper.finished_pdf import MM, FinishedPdf, PaintedPage, PaintedText, Rectangle

# What stays free at each edge, in mm: a shared printer reaches no nearer (common practice).
EDGE_MM = 5.0
SMALLEST_PT = 7.0
_SMALLEST_OF = {"card": 8.5}
_CLIP_SLACK_PT = 0.6
# Between a line below and a line above, as shares of the height of the ink; a letter is about half an em wide.
_LOW, _HIGH, _LETTER_EM = 0.3, 0.75, 0.5
_OVERLAP = 0.35  # of the smaller box, above which two texts are printed on top of each other
_FACES = re.compile(r"(?:[A-Z]{6}\+)?(?:Prescrub-(?:Sans|Arabic)(?:-Bold|-Italic)?|emoji\b.*)")
"""What our type is called in a PDF. A face that it lacks, such as bold italic, is slanted by the machine if at all."""


def prove(document: Document, artefact: FinishedPdf) -> Iterator[str]:
    """Look at every piece of text of every page."""
    edge = EDGE_MM * MM
    smallest = _SMALLEST_OF.get(document.kind, SMALLEST_PT)
    turns = {180 if placed.turned else 0 for placed in document.placed} | {0}
    figures = {mark for node in artefact.tree.walk() if node.role == "Figure" for mark in node.marks()}
    plain = (mark for mark in artefact.lines if mark not in figures)  # a pointer may stand over a line of its figure
    lines = grouped((mark[0], line) for mark in plain for line in artefact.lines[mark])
    for sheet in artefact.sheets:
        room = Rectangle(edge, edge, sheet.width - edge, sheet.height - edge)
        for piece in sheet.pieces:
            wrong = _wrong(piece, room, turns, smallest) if bare(piece.text) else ()
            yield from (f"{piece.named} {what}" for what in (*_foreign(piece), *wrong))
        yield from _overprinted(sheet)
        yield from _struck(sheet, lines.get(sheet.number, ()))


def is_deck(document: Document) -> bool:
    """Tell whether ``document`` is a deck of slides."""
    return document.kind == "slides"


def prove_slides(document: Document, artefact: FinishedPdf) -> Iterator[str]:
    """Look at every page, where ``document`` is a deck of slides."""
    if not is_deck(document):
        return
    count = len(composed(document.text).headings)
    if len(artefact.sheets) != count:
        yield f"it has {len(artefact.sheets)} pages for {count} slides: one runs over its page"
    titles = [node for node in artefact.tree.walk() if node.role in ("H1", "H2")]
    for number, title in enumerate(titles, start=1):
        if {page for page, _ in title.marks()} != {number}:
            yield f"the title “{artefact.text_of(title)[:60]}” does not stand on slide {number}"
    for sheet in artefact.sheets:
        if (round(sheet.width), round(sheet.height)) != (WIDTH, HEIGHT):
            yield f"page {sheet.number} is {sheet.width:.0f} by {sheet.height:.0f} pt, not {WIDTH:g} by {HEIGHT:g}"
    for piece in artefact.texts():
        if piece.size_pt < LEAST_PT - 0.01:
            yield f"{piece.named} is set at {piece.size_pt:.1f} pt; the smallest allowed on a slide is {LEAST_PT:g} pt"


def _foreign(piece: PaintedText) -> Iterator[str]:
    """Of anything painted, a list's mark as well: what our type lacks is taken from whatever a machine has."""
    if not _FACES.fullmatch(piece.font):
        yield f"is printed in {piece.font}, because our type lacks one of its characters or such a face"


def _wrong(piece: PaintedText, room: Rectangle, turns: set[int], smallest: float) -> Iterator[str]:
    if not piece.box.inside(room, 0.3):
        left, bottom, right, top = (side / MM for side in piece.box)
        where = f"{left:.1f} to {right:.1f} mm across, {bottom:.1f} to {top:.1f} mm up"
        yield f"reaches into the margin or off the page ({where})"
    if piece.clip is not None and not piece.box.inside(piece.clip, _CLIP_SLACK_PT):
        yield "is cut off by the box it stands in"
    if piece.mirrored or (piece.mark >= 0 and piece.turn not in turns):
        yield "does not stand upright"
    if piece.invisible or piece.colour[3] < 255:
        yield "is transparent"
    if piece.size_pt < smallest - 0.01:
        yield f"is printed at {piece.size_pt:.1f} pt; the smallest allowed is {smallest:g} pt"
    if any(ord(sign) < 32 or sign in "\ufffd\ufffe\uffff" for sign in piece.text.strip()):
        yield "holds a character that the type cannot show"


def _overprinted(sheet: PaintedPage) -> Iterator[str]:
    """Yield pairs of text of the reading order that lie on top of each other; Arabic letters of one line may."""
    pieces = sorted((piece for piece in sheet.texts if piece.mark >= 0), key=lambda piece: -piece.box.top)
    for at, piece in enumerate(pieces):
        for other in pieces[at + 1 :]:
            if other.box.top <= piece.box.bottom:
                break
            is_joined = piece.mark == other.mark and RIGHT_TO_LEFT_LETTER.search(piece.text + other.text)
            if not is_joined and piece.box.shared(other.box) > _OVERLAP:
                both = f"“{piece.text.strip()[:40]}” and “{other.text.strip()[:40]}”"
                yield f"page {sheet.number}: {both} are printed on top of each other"


def _struck(sheet: PaintedPage, lines: Sequence[Rectangle]) -> Iterator[str]:
    """Yield the texts, those of figures apart, through which a line of a letter's width or more goes."""
    for piece in (piece for piece in sheet.texts if not piece.figure) if lines else ():
        low, height = piece.box.bottom, piece.box.top - piece.box.bottom
        for line in lines:
            across = min(line.right, piece.box.right) - max(line.left, piece.box.left)
            middle = (line.bottom + line.top) / 2
            if across > _LETTER_EM * piece.size_pt and low + _LOW * height < middle < low + _HIGH * height:
                yield f"{piece.named} is struck through"
                break

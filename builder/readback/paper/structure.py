"""Proofs of what a screen reader meets: words, headings, tables, pictures and the file's own statements are those that
were composed, as PDF/UA-1 asks for them."""

from collections.abc import Iterator

from builder.compose.document import Document
from builder.findings.message_words import quoted
from builder.readback.comparison import Composed, bare, composed, parting
from builder.readback.paper.finished_pdf import HEADINGS, FinishedPdf, StructureElement


def prove_words(document: Document, artefact: FinishedPdf) -> Iterator[str]:
    """Compare the words composed with those of the structure tree: all, in reading order, and nothing else."""
    wanted = composed(document.text).text
    shown = bare("".join(_spoken(artefact, artefact.tree)))
    if shown != wanted:
        yield f"its words are not those that were composed: {parting(wanted, shown)}"
    hung = set(artefact.tree.marks())
    for piece in artefact.texts():
        if piece.mark >= 0 and (piece.page, piece.mark) not in hung:
            yield f"{piece.named} is painted but not in the reading order"


def _spoken(artefact: FinishedPdf, node: StructureElement) -> Iterator[str]:
    """Yield the text below ``node`` without the bullets and numbers that the typesetter gives to lists."""
    for kid in node.kids:
        if not isinstance(kid, StructureElement):
            yield from (piece.text for piece in artefact.by_mark.get(kid, ()))
        elif kid.role != "Lbl":
            yield from _spoken(artefact, kid)


def prove_tags(document: Document, artefact: FinishedPdf) -> Iterator[str]:
    """Compare the structure tree and the catalogue with what was composed."""
    wanted = composed(document.text)
    nodes = list(artefact.tree.walk())
    yield from _catalogue(artefact, wanted)
    if artefact.catalogue.keywords != document.keywords:
        yield f"it says {quoted(artefact.catalogue.keywords)} of its edition, not {quoted(document.keywords)}"
    yield from _headings(artefact, nodes, wanted)
    yield from _tables(artefact, nodes, wanted)
    alts = [node.alt for node in nodes if node.role == "Figure"]
    if alts != wanted.pictures:
        yield f"{len(alts)} pictures have their descriptions in order; {len(wanted.pictures)} were composed"


def _catalogue(artefact: FinishedPdf, wanted: Composed) -> Iterator[str]:
    says = artefact.catalogue
    if says.title != wanted.title:
        yield f"its title is {quoted(says.title)}, not {quoted(wanted.title)}"
    if says.language != wanted.language:
        yield f"its language is {quoted(says.language)}, not {quoted(wanted.language)}"
    if not (says.marked and says.shows_title and says.claims == "1"):
        yield "it does not say that it is a tagged PDF/UA-1 file"
    if says.bookmarks != len(wanted.headings):
        yield f"it has {says.bookmarks} bookmarks for {len(wanted.headings)} headings"


def _headings(artefact: FinishedPdf, nodes: list[StructureElement], wanted: Composed) -> Iterator[str]:
    headings = [(node.role, bare(artefact.text_of(node))) for node in nodes if node.role in HEADINGS]
    for (role, words), (rank, told) in zip(headings, wanted.headings, strict=False):
        if (role, words) != (rank, told):
            yield f"where the heading “{told}” ({rank}) was composed, “{words}” ({role}) stands"
            return
    if len(headings) != len(wanted.headings):
        yield f"it has {len(headings)} headings; {len(wanted.headings)} were composed"


def _tables(artefact: FinishedPdf, nodes: list[StructureElement], wanted: Composed) -> Iterator[str]:
    tables = [node for node in nodes if node.role == "Table"]
    if len(tables) != wanted.tables:
        yield f"{wanted.tables} tables were composed, but it has {len(tables)}: one was lost or parted by a page"
    cells = [node for table in tables for node in table.walk()]
    headers = [node for node in cells if node.role == "TH"]
    if len(headers) != wanted.headers or sum(node.role == "TD" for node in cells) != wanted.cells:
        yield f"its tables do not have the {wanted.headers} header cells and {wanted.cells} cells that were composed"
    for header in headers:
        if header.scope not in ("Column", "Row"):
            yield f"the header cell “{artefact.text_of(header)}” does not say what it heads"
        if header.key and header.key not in artefact.catalogue.ids:
            yield f"the header cell “{artefact.text_of(header)}” cannot be found by its id"

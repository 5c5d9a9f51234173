"""Reads a finished PDF back and proves it. A new proof is a file in ``paper/`` and a row here."""

from collections.abc import Callable, Iterator
from contextlib import ExitStack, closing
from pathlib import Path
from typing import Any

import pikepdf
import pypdfium2

from builder.compose.document import Document
from builder.grouping import grouped
from builder.publish.build_report import FileRead
from builder.readback.paper import cells, code, geometry, ink, pointed, promised, structure, turned
from builder.readback.paper.finished_pdf import DocumentCatalogue, FinishedPdf, Rectangle, StructureElement
from builder.readback.paper.painted import PAGE, drawn_on, picture_of, sheets_of, times

Prove = Callable[[Document, FinishedPdf], Iterator[str]]
_PROOFS: tuple[tuple[str, Prove], ...] = (
    ("every caution, dose, critical step, count and reference is there once, in order", promised.prove),
    ("the words are those composed, in reading order", structure.prove_words),
    ("headings, tables, pictures and tags are those composed", structure.prove_tags),
    ("all text is inside the margins, unclipped, in our type and not too small", geometry.prove),
    ("all text can be seen, at a contrast of 4.5 to 1 or more in colour and in grey", ink.prove),
    ("each page of slides is one slide with its title, in type of 24 pt or more", geometry.prove_slides),
    ("each bar of a map reaches from where it begins to where it ends", pointed.prove_bars),
    ("each figure is shown, and each pointer over it stands at its place to a millimetre", pointed.prove),
    ("what is read from left to right is set apart in text that is read from right to left", turned.prove),
    ("the QR code is painted whole, large enough, with white around it", code.prove),
)
# A sheet of cards is for the printer: it has no tags, and its words are those of the card.
_SHEET_PROOFS: tuple[tuple[str, Prove], ...] = (
    ("every cell shows its whole page, in order, with its QR code; each back meets its front", cells.prove),
    *(row for row in _PROOFS if row[1] in (geometry.prove, ink.prove)),
)
NAMES = tuple(name for name, _ in _PROOFS)
_LOOKS_AT = {geometry.prove_slides: geometry.is_deck, code.prove: code.has_code, pointed.prove: pointed.has_pointers,
             turned.prove: turned.is_turned}  # fmt: skip
ONLY_OF = {name: _LOOKS_AT[prove] for name, prove in _PROOFS if prove in _LOOKS_AT}
"""By the name of a proof that looks at some documents only: whether it looks at one."""
SHEET_NAMES = tuple(name for name, _ in _SHEET_PROOFS)
_DEEPEST = 60
_NO_PAGE = 0  # of an element whose page is not in the file


def read_back(document: Document, path: Path) -> FileRead:
    """Return what is wrong with the PDF at ``path`` that was made of ``document``."""
    with ExitStack() as opened:
        try:
            artefact = _artefact(path, opened)
        except (pikepdf.PdfError, pypdfium2.PdfiumError) as error:
            return FileRead((f"it cannot be opened: {error}",), 0, 0.0)
        proofs = _PROOFS if document.of is None else _SHEET_PROOFS
        problems = [problem for _, prove in proofs for problem in prove(document, artefact)]
        sides = document.explained.get("sides")
        if sides is not None and len(artefact.sheets) != sides:
            problems.insert(0, f"it has {len(artefact.sheets)} sides and was filled for {sides}")
        smallest = min((piece.size_pt for piece in artefact.texts()), default=0.0)
        return FileRead(tuple(dict.fromkeys(problems)), len(artefact.sheets), round(smallest, 2))


def _artefact(path: Path, opened: ExitStack) -> FinishedPdf:
    pages = list(opened.enter_context(closing(pypdfium2.PdfDocument(path))))  # once: to load a page is to parse it
    pdf = opened.enter_context(pikepdf.open(path))
    catalogue = catalogue_of(pdf)
    sheets = sheets_of(pages, as_seen=catalogue.right_to_left)
    if catalogue.right_to_left:
        sheets = tuple(map(turned.turned, sheets))
    pieces = (piece for sheet in sheets for piece in sheet.pieces if piece.mark >= 0)
    by_mark = grouped(((piece.page, piece.mark), piece) for piece in pieces)
    read = sheets, tree_of(pdf), catalogue, picture_of(pages), by_mark, *drawn_on(pages)
    return FinishedPdf(*read, lambda mark: _clip_of(pdf.pages[mark[0] - 1], mark[1]))


def _clip_of(page: pikepdf.Page, content: int) -> Rectangle | None:
    """Return what clips the marked ``content`` of ``page``, by the operators that come before it."""
    frame, outer, last = PAGE, [PAGE], Rectangle(0, 0, 0, 0)
    for each in pikepdf.parse_content_stream(page, "q Q cm re W BDC"):
        operands: Any = each.operands
        match str(each.operator):
            case "q":
                outer.append(frame)
            case "Q":
                frame = outer.pop()
            case "cm":
                a, b, c, d, e, f = map(float, operands)
                frame = frame._replace(matrix=times((a, b, c, d, e, f), frame.matrix))
            case "re":
                x, y, width, height = map(float, operands)
                last = Rectangle(x, y, x + width, y + height)
            case "W":
                frame = frame._replace(clip=frame.clipped(last))
            case "BDC" if isinstance(operands[1], pikepdf.Dictionary) and operands[1].get("/MCID") == content:
                return frame.clip
    return None


def tree_of(pdf: pikepdf.Pdf) -> StructureElement:
    """Return the structure tree; an empty Document where there is none."""
    root = pdf.Root.get("/StructTreeRoot")
    if root is None:
        return StructureElement("Document")
    pages: dict[Any, int] = {page.objgen: number for number, page in enumerate(pdf.pages, start=1)}
    kids = tuple(_node(kid, pages, 0, 0) for kid in _kids(root) if isinstance(kid, pikepdf.Dictionary))
    return kids[0] if len(kids) == 1 else StructureElement("Document", kids)


def _node(element: Any, pages: dict[Any, int], page: int, depth: int) -> StructureElement:
    page = pages.get(element.Pg.objgen, _NO_PAGE) if "/Pg" in element else page
    kids: list[StructureElement | tuple[int, int]] = []
    for kid in _kids(element):
        if not isinstance(kid, pikepdf.Dictionary):
            kids.append((page, int(kid)))
        elif kid.get("/Type") == pikepdf.Name.MCR:
            kids.append((pages.get(kid.Pg.objgen, _NO_PAGE) if "/Pg" in kid else page, int(kid.MCID)))
        elif kid.get("/Type") != pikepdf.Name.OBJR and depth < _DEEPEST:
            kids.append(_node(kid, pages, page, depth + 1))
    attributes = element.get("/A")
    table = attributes if isinstance(attributes, pikepdf.Dictionary) else pikepdf.Dictionary()
    return StructureElement(
        role=str(element.get("/S", "/"))[1:],
        kids=tuple(kids),
        alt=str(element.get("/Alt", "")),
        scope=str(table.get("/Scope", "/"))[1:],
        key=str(element.get("/ID", "")),
    )


def _kids(element: Any) -> Iterator[Any]:
    kids = element.get("/K")
    if isinstance(kids, pikepdf.Array):
        yield from kids
    elif kids is not None:
        yield kids


def catalogue_of(pdf: pikepdf.Pdf) -> DocumentCatalogue:
    """Return what the file says of itself."""
    root = pdf.Root
    with pdf.open_outline() as outline:
        bookmarks = _count(outline.root)
    metadata = pdf.open_metadata()  # read only: used as a context it would mend the title of the file
    claims = str(metadata.get("pdfuaid:part", ""))
    tree = root.get("/StructTreeRoot", pikepdf.Dictionary())
    titles = {str(pdf.docinfo.get("/Title", "")), str(metadata.get("dc:title", ""))}
    preferences = root.get("/ViewerPreferences", pikepdf.Dictionary())
    mark = root.get("/MarkInfo", pikepdf.Dictionary())
    return DocumentCatalogue(
        title=titles.pop() if len(titles) == 1 else "",
        keywords=str(pdf.docinfo.get("/Keywords", "")),
        language=str(root.get("/Lang", "")),
        marked=bool(mark.get("/Marked", False)),
        shows_title=bool(preferences.get("/DisplayDocTitle", False)),
        bookmarks=bookmarks,
        ids=frozenset(map(str, pikepdf.NameTree(tree.IDTree) if "/IDTree" in tree else ())),
        claims=claims,
        right_to_left=str(preferences.get("/Direction", "")) == "/R2L",
    )


def _count(items: Any) -> int:
    return sum(1 + _count(item.children) for item in items)

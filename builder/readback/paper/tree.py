"""The structure tree and what the file says of itself, by pikepdf."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import pikepdf

from builder.readback.paper.finished_pdf import DocumentCatalogue, StructureElement

_DEEPEST = 60
_NO_PAGE = 0  # of an element whose page is not in the file


def tree_of(pdf: pikepdf.Pdf) -> StructureElement:
    """Return the structure tree; an empty Document where there is none."""
    root = pdf.Root.get("/StructTreeRoot")
    if root is None:
        return StructureElement("Document")
    pages: dict[tuple[int, int], int] = {_key(page): number for number, page in enumerate(pdf.pages, start=1)}
    kids = tuple(_node(kid, pages, 0, 0) for kid in _kids(root) if isinstance(kid, pikepdf.Dictionary))
    return kids[0] if len(kids) == 1 else StructureElement("Document", kids)


def _node(element: Any, pages: dict[tuple[int, int], int], page: int, depth: int) -> StructureElement:
    page = pages.get(_key(element.Pg), _NO_PAGE) if "/Pg" in element else page
    kids: list[StructureElement | tuple[int, int]] = []
    for kid in _kids(element):
        if not isinstance(kid, pikepdf.Dictionary):
            kids.append((page, int(kid)))
        elif kid.get("/Type") == pikepdf.Name.MCR:
            kids.append((pages.get(_key(kid.Pg), _NO_PAGE) if "/Pg" in kid else page, int(kid.MCID)))
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


def _key(page: Any) -> tuple[int, int]:
    number, generation = page.objgen
    return number, generation


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
        bookmarks = sum(1 for _ in _items(outline.root))
    metadata = pdf.open_metadata()  # read only: used as a context it would mend the title of the file
    claims = str(metadata.get("pdfuaid:part", ""))
    titles = {str(pdf.docinfo.get("/Title", "")), str(metadata.get("dc:title", ""))}
    preferences = root.get("/ViewerPreferences", pikepdf.Dictionary())
    mark = root.get("/MarkInfo", pikepdf.Dictionary())
    return DocumentCatalogue(
        title=titles.pop() if len(titles) == 1 else "",
        language=str(root.get("/Lang", "")),
        marked=bool(mark.get("/Marked", False)),
        shows_title=bool(preferences.get("/DisplayDocTitle", False)),
        bookmarks=bookmarks,
        ids=_ids(root.get("/StructTreeRoot")),
        claims=claims,
    )


def _items(items: Any) -> Iterator[Any]:
    for item in items:
        yield item
        yield from _items(item.children)


def _ids(root: Any) -> frozenset[str]:
    if root is None or "/IDTree" not in root:
        return frozenset()
    tree = pikepdf.NameTree(root.IDTree)
    return frozenset(str(key) for key in tree)

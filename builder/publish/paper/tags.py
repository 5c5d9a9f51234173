"""What PDF/UA-1 asks for and the typesetter leaves out, added before the file is written.

A file whose text is read from right to left says so (12.2). Header cells get a Scope, cells with an ID an IDTree
(ISO 32000-1, 14.7.2 and 14.8.5.7), running heads become artifacts (14.8.2.2), annotations are printed (12.5.3), and a
link is one annotation: the typesetter adds another for every element inside an ``a``, which hangs outside any Link
element.
"""

from collections.abc import Iterator
from typing import Any

import pydyf

from builder.publish.paper.arabic_letters import name_letters

_PRINT = 4
_PAGINATION = pydyf.Dictionary({"Type": "/Pagination"})


def finish_tags(document: Any, pdf: Any) -> None:
    """Complete the tags of ``pdf``, a tagged pydyf.PDF about to be written, of a laid-out ``document``."""
    if "StructTreeRoot" not in pdf.catalog:
        return
    if _is_right_to_left(document):
        pdf.catalog.setdefault("ViewerPreferences", pydyf.Dictionary())["Direction"] = "/R2L"
        name_letters(pdf)
    root = _referred(pdf, pdf.catalog["StructTreeRoot"])
    elements = list(_elements(pdf, root))
    _drop_echoed_links(pdf, root, elements)
    _add_scopes(pdf, elements)
    _add_id_tree(pdf, root, elements)
    _mark_artifacts(pdf, root, elements)
    for thing in pdf.objects:
        if isinstance(thing, pydyf.Dictionary) and thing.get("Type") == "/Annot":
            thing["F"] = _PRINT


def _is_right_to_left(document: Any) -> bool:
    return any(page._page_box.style["direction"] == "rtl" for page in document.pages)  # said nowhere else


def _referred(pdf: Any, reference: bytes) -> Any:
    return pdf.objects[int(reference.split()[0])]


def _elements(pdf: Any, root: Any) -> Iterator[Any]:
    """Yield every structure element that hangs in the tree, a parent before its children."""
    stack = list(reversed(root["K"]))
    while stack:
        kid = stack.pop()
        if isinstance(kid, bytes):
            element = _referred(pdf, kid)
            if element.get("Type") == "/StructElem":
                yield element
                stack.extend(reversed(element["K"]))


def _drop_echoed_links(pdf: Any, root: Any, elements: list[Any]) -> None:
    echoes = set()
    for element in elements:
        if element["S"] not in ("/Link", "/Form"):
            for kid in [kid for kid in element["K"] if isinstance(kid, bytes)]:
                objr = _referred(pdf, kid)
                if objr.get("Type") == "/OBJR":
                    element["K"].remove(kid)
                    echoes.add(objr["Obj"])
    numbers = _referred(pdf, root["ParentTree"])["Nums"]
    for page in _pages(pdf):
        kept = pydyf.Array(reference for reference in page.get("Annots", ()) if reference not in echoes)
        if kept:
            page["Annots"] = kept
        else:
            page.pop("Annots", None)
    for echo in echoes:
        at = numbers[::2].index(_referred(pdf, echo)["StructParent"])
        del numbers[2 * at : 2 * at + 2]


def _pages(pdf: Any) -> Iterator[Any]:
    return (thing for thing in pdf.objects if isinstance(thing, pydyf.Dictionary) and thing.get("Type") == "/Page")


def _add_scopes(pdf: Any, elements: list[Any]) -> None:
    for element in elements:
        if element["S"] == "/TH":
            row = _referred(pdf, element["P"])
            group = _referred(pdf, row["P"])
            element["A"]["Scope"] = "/Column" if group["S"] == "/THead" else "/Row"


def _add_id_tree(pdf: Any, root: Any, elements: list[Any]) -> None:
    named = sorted((element["ID"].data, element) for element in elements if "ID" in element)
    if not named:
        return
    names = pydyf.Array()
    for key, element in named:
        names.extend((key, element.reference))
    leaf = pydyf.Dictionary({"Limits": pydyf.Array((named[0][0], named[-1][0])), "Names": names})
    pdf.add_object(leaf)
    tree = pydyf.Dictionary({"Kids": pydyf.Array([leaf.reference])})
    pdf.add_object(tree)
    root["IDTree"] = tree.reference


def _mark_artifacts(pdf: Any, root: Any, elements: list[Any]) -> None:
    """Turn marked content whose element hangs nowhere (running heads and feet) into artifacts."""
    hanging = {element.number for element in elements}
    numbers = _referred(pdf, root["ParentTree"])["Nums"]
    parents = dict(zip(numbers[::2], numbers[1::2], strict=True))
    for page in _pages(pdf):
        row = parents[page["StructParents"]]
        loose = {mcid for mcid, reference in enumerate(row) if int(reference.split()[0]) not in hanging}
        stream = _referred(pdf, page["Contents"]).stream
        for at, operand in enumerate(stream):
            if isinstance(operand, pydyf.Dictionary) and operand.get("MCID") in loose:
                stream[at - 1], stream[at] = "/Artifact", _PAGINATION
        for mcid in loose:
            row[mcid] = "null"

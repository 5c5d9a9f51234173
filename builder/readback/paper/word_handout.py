"""Reads a handout in .docx back: every word that was promised is in it, in order, and its mark on every page."""

import zipfile
from collections.abc import Iterator
from pathlib import Path
from typing import Any

from lxml import etree

from builder.compose.code_mark import QR
from builder.compose.document import Document, Must
from builder.publish.build_report import FileRead
from builder.readback.comparison import bare, missing, named

NAMES = (
    "everything promised is there, in order, and every figure has its description",
    "the mark of what is not approved runs along on every page",
    "the file says which edition it is, with its code",
)
_W = "{http://schemas.openxmlformats.org/wordprocessingml/2006/main}"
_DRAWING = "{http://schemas.openxmlformats.org/drawingml/2006/wordprocessingDrawing}docPr"


def read_back(document: Document, path: Path) -> FileRead:
    """Return what is wrong with the handout at ``path`` that was made of ``document``."""
    try:
        with zipfile.ZipFile(path) as package:
            trees = {name: etree.fromstring(package.read(name)) for name in package.namelist() if name.endswith(".xml")}
    except (zipfile.BadZipFile, etree.XMLSyntaxError) as error:
        return FileRead((f"it cannot be opened ({error})",))
    return FileRead(tuple(_wrong_with(document, trees)))


def _wrong_with(document: Document, trees: dict[str, Any]) -> Iterator[str]:
    shown = bare("".join(_words(trees["word/document.xml"])))
    yield from missing((must for must in document.musts if _is_read(must)), shown)
    heads = [bare("".join(_words(tree))) for name, tree in trees.items() if name.startswith("word/header")]
    for must in document.musts:
        if must.kind == "running" and not any(bare(must.text) in head for head in heads):
            yield f"{named(must)} does not run along"
    if document.keywords not in "".join(trees["docProps/core.xml"].itertext()):
        yield "it does not say which edition it is"


def _is_read(must: Must) -> bool:
    return must.kind not in (QR, "running") and (must.kind, must.id) != ("figure", "code")


def _words(tree: Any) -> Iterator[str]:
    for node in tree.iter(f"{_W}t", _DRAWING):
        yield node.get("descr", "") if node.tag == _DRAWING else node.text or ""

"""Reads an e-book back: it is packed as readers want it, lists all that is in it, and shows what the page shows."""

import zipfile
from collections.abc import Iterator
from pathlib import Path

from lxml import etree

from builder.compose.document import Document
from builder.compose.site.book import FOLDER, MIMETYPE, PACKAGE, chapter_of
from builder.publish.build_report import FileRead
from builder.readback.packed_page import LISTED, read_packed, unlisted
from builder.readback.site import page

NAMES = (*page.NAMES, LISTED, "every text in it is well-formed, and is read in an order that the package gives")
_OPF = "{http://www.idpf.org/2007/opf}"
_ITS_OWN = {"mimetype", "META-INF/container.xml", PACKAGE}


def read_back(document: Document, path: Path) -> FileRead:
    """Return what is wrong with the e-book at ``path`` that was made of ``document``."""
    return read_packed(document, path, chapter_of(document.procedure), _wrong_with)


def _wrong_with(package: zipfile.ZipFile) -> Iterator[str]:
    first, *_ = package.infolist()
    if first.filename != "mimetype" or first.compress_type or package.read(first) != MIMETYPE.encode():
        yield "it does not begin with its kind, as it lies"
    texts = [name for name in package.namelist() if name.endswith((".xml", ".opf", ".xhtml"))]
    trees = {name: etree.fromstring(package.read(name)) for name in texts}
    listed = {f"{FOLDER}/{item.get('href')}": item.get("id") for item in trees[PACKAGE].iter(f"{_OPF}item")}
    yield from unlisted(set(listed), set(package.namelist()) - _ITS_OWN)
    read = {one.get("idref") for one in trees[PACKAGE].iter(f"{_OPF}itemref")}
    wanted = {listed.get(name) for name in texts if name.endswith(".xhtml")}
    if read != wanted:
        yield "not every text is in the order of reading, or something else is"

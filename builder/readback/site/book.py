"""Reads an e-book back: it is packed as readers want it, lists all that is in it, and shows what the page shows."""

import zipfile
from collections.abc import Iterator
from pathlib import Path
from tempfile import TemporaryDirectory

from lxml import etree

from builder.compose.document import Document
from builder.compose.site.book import FOLDER, MIMETYPE, PACKAGE, chapter_of
from builder.findings.message_words import quoted
from builder.publish.build_report import FileRead
from builder.readback.site import page

NAMES = (
    *page.NAMES,
    "the package lists every file in it and no other, and every text in it is well-formed",
)
_OPF = "{http://www.idpf.org/2007/opf}"
_ITS_OWN = {"mimetype", "META-INF/container.xml", PACKAGE}


def read_back(document: Document, path: Path) -> FileRead:
    """Return what is wrong with the e-book at ``path`` that was made of ``document``."""
    try:
        with zipfile.ZipFile(path) as package, TemporaryDirectory() as folder:
            problems = list(_packed_wrong(package))
            package.extractall(folder)
            chapter = Path(folder) / chapter_of(document.procedure)
            if not chapter.is_file():
                return FileRead((*problems, f"it has no chapter {chapter_of(document.procedure)}"))
            return FileRead((*problems, *page.read_back(document, chapter).problems))
    except (zipfile.BadZipFile, etree.XMLSyntaxError) as error:
        return FileRead((f"it cannot be opened ({error})",))


def _packed_wrong(package: zipfile.ZipFile) -> Iterator[str]:
    first, *_ = package.infolist()
    if first.filename != "mimetype" or first.compress_type or package.read(first) != MIMETYPE.encode():
        yield "it does not begin with its kind, as it lies"
    trees = {
        name: etree.fromstring(package.read(name))
        for name in package.namelist()
        if name.endswith((".xml", ".opf", ".xhtml"))
    }
    listed = {f"{FOLDER}/{item.get('href')}" for item in trees[PACKAGE].iter(f"{_OPF}item")}
    for name in sorted(listed ^ (set(package.namelist()) - _ITS_OWN)):
        yield f"{quoted(name)} is in the book or in its list, not in both"
    ids = {item.get("id") for item in trees[PACKAGE].iter(f"{_OPF}item")}
    for reference in trees[PACKAGE].iter(f"{_OPF}itemref"):
        if reference.get("idref") not in ids:
            yield f"{quoted(str(reference.get('idref')))} is to be read and not in the list"

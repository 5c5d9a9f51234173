"""Reads back a page that lies in a package with all it needs: it shows what a page must, and all is listed."""

import zipfile
from collections.abc import Callable, Iterator
from pathlib import Path
from tempfile import TemporaryDirectory

from lxml import etree

from builder.compose.document import Document
from builder.findings.message_words import quoted
from builder.publish.build_report import FileRead
from builder.readback.site import page

LISTED = "the package lists every file in it and no other"


def read_packed(
    document: Document, path: Path, shown: str, wrong_with: Callable[[zipfile.ZipFile], Iterator[str]]
) -> FileRead:
    """Return what is wrong with the package at ``path``, made of ``document``, whose page is the member ``shown``."""
    try:
        with zipfile.ZipFile(path) as package, TemporaryDirectory() as folder:
            problems = list(wrong_with(package))
            package.extractall(folder)
            if not (Path(folder) / shown).is_file():
                return FileRead((*problems, f"it has no {shown}"))
            return FileRead((*problems, *page.read_back(document, Path(folder) / shown).problems))
    except (zipfile.BadZipFile, etree.XMLSyntaxError, KeyError) as error:
        return FileRead((f"it cannot be opened ({error})",))


def unlisted(listed: set[str], there: set[str]) -> Iterator[str]:
    """Yield each name that is only ``listed``, or only ``there``."""
    for name in sorted(listed ^ there):
        yield f"{quoted(name)} is in the package or in its list, not in both"

"""Reads a SCORM package back: its manifest lists every file, and its page asks and answers every question."""

import zipfile
from collections.abc import Iterator
from pathlib import Path

from lxml import etree

from builder.compose.document import Document
from builder.compose.selftest.scorm import MANIFEST, PAGE
from builder.publish.build_report import FileRead
from builder.readback.packed_page import LISTED, read_packed, unlisted
from builder.readback.site import page

NAMES = (*page.NAMES, LISTED)


def read_back(document: Document, path: Path) -> FileRead:
    """Return what is wrong with the package at ``path`` that was made of ``document``."""
    return read_packed(document, path, PAGE, _wrong_with)


def _wrong_with(package: zipfile.ZipFile) -> Iterator[str]:
    manifest = etree.fromstring(package.read(MANIFEST))
    yield from unlisted(set(manifest.xpath("//*[local-name()='file']/@href")), set(package.namelist()) - {MANIFEST})
    if manifest.xpath("//*[local-name()='resource']/@href") != [PAGE]:
        yield f"it does not begin with {PAGE}"

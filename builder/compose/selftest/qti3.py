"""The self-test after QTI 3.0 (1EdTech, 2022): the package of QTI 2.1 with the names of its successor.

QTI 3.0 keeps the model of 2.1. Its own elements begin with ``qti-``, names are in small letters with hyphens, and what
a learner is told stands in a ``qti-content-body``. HTML within a question keeps its names.
"""

import json
import re
from dataclasses import replace
from typing import Any

from lxml import etree

from builder.compose.document import Document, Renderer, xml_of
from builder.compose.selftest.selftest import PACKAGING, QTI, package
from builder.model.library import Library
from builder.model.pages import Procedure

QTI_3 = "http://www.imsglobal.org/xsd/imsqtiasi_v3p0"
PACKAGING_3 = "http://www.imsglobal.org/xsd/qti/qtiv3p0/imscp_v1p1"
_HTML = frozenset({"p", "img"})
_TELLING = frozenset({"modalFeedback", "rubricBlock"})
_OF_MANIFEST = {
    "QTIv2.1 Package": "QTI Package", "1.0.0": "3.0.0", "imsqti_item_xmlv2p1": "imsqti_item_xmlv3p0",
    "imsqti_test_xmlv2p1": "imsqti_test_xmlv3p0",
}  # fmt: skip
_CAPITAL = re.compile(r"(?<=[a-z])(?=[A-Z])")


def compose(library: Library, procedure: Procedure, renderer: Renderer) -> Document:
    """Return the package of ``procedure``; ``text`` is JSON as that of the older package."""
    older = package(library, procedure, renderer)
    files = {
        name: xml_of(_newer(etree.fromstring(told.encode()))) if isinstance(told, str) else told
        for name, told in json.loads(older.text).items()
    }
    return replace(
        older,
        name=older.name.replace("-qti", "-qti3"),
        text=json.dumps(files, ensure_ascii=False),
        explained={**older.explained, "format": "QTI 3.0"},
    )


def _newer(node: Any) -> Any:
    """Return ``node`` of a question, a test or the manifest, and all in it, as QTI 3.0 has it."""
    name = etree.QName(node)
    if name.namespace == PACKAGING:
        tag = f"{{{PACKAGING_3}}}{name.localname}"
        attributes = {key: _OF_MANIFEST.get(value, value) for key, value in node.attrib.items()}
    else:
        local = name.localname if name.localname in _HTML else f"qti-{hyphened(name.localname)}"
        tag = f"{{{QTI_3}}}{local}"
        attributes = {hyphened(key): value for key, value in node.attrib.items()}
    made = etree.Element(tag, attributes, nsmap={None: tag[1:].partition("}")[0]})
    telling = name.namespace == QTI and name.localname in _TELLING
    inner = etree.SubElement(made, f"{{{QTI_3}}}qti-content-body") if telling else made
    if name.localname == "rubricBlock":
        made.set("use", "instructions")
    text = (node.text or "").strip()
    inner.text = _OF_MANIFEST.get(text, text) if name.namespace == PACKAGING else node.text
    inner.extend(_newer(kid) for kid in node)
    return made


def hyphened(name: str) -> str:
    """Return ``response-identifier`` for ``responseIdentifier``."""
    return _CAPITAL.sub("-", name).lower()

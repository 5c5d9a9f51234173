"""Reads a package of questions back: every file is named, every question there, every answer one of its choices."""

import zipfile
from collections.abc import Iterator
from pathlib import Path
from xml.etree import ElementTree as ET

from builder.compose.document import Document
from builder.compose.selftest.qti3 import PACKAGING_3, QTI_3
from builder.publish.build_report import FileRead

NAMES = (
    "every file of the package is named in its manifest, and every name is a file",
    "every question is there, in order",
    "every right answer is one of the choices",
    "every answer tells the learner why it is right, and every wrong choice what it is",
)
_CP = "{http://www.imsglobal.org/xsd/imscp_v1p1}"
_QTI = "{http://www.imsglobal.org/xsd/imsqti_v2p1}"
_NEWER = {f"{{{PACKAGING_3}}}": _CP, f"{{{QTI_3}}}": _QTI}


def read_back(document: Document, path: Path) -> FileRead:
    """Return what is wrong with the package at ``path`` that was made of ``document``."""
    try:
        with zipfile.ZipFile(path) as package:
            trees = {name: ET.fromstring(package.read(name)) for name in package.namelist() if name.endswith(".xml")}  # noqa: S314  # our own
            pictures = {name for name in package.namelist() if not name.endswith(".xml")}
    except (zipfile.BadZipFile, ET.ParseError) as error:
        return FileRead((f"it cannot be opened ({error})",))
    for node in (node for tree in trees.values() for node in tree.iter()):
        _name_as_before(node)
    if "imsmanifest.xml" not in trees or "test.xml" not in trees:
        return FileRead(("it has no manifest or no test",))
    problems = (*_names(trees, pictures), *_questions(document, trees), *_answers(trees), *_told(trees))
    return FileRead(problems)


def _name_as_before(node: ET.Element) -> None:
    """Give a node of QTI 3.0 the names of 2.1, which the proof speaks of."""
    space, _, local = node.tag.partition("}")
    if older := _NEWER.get(f"{space}}}"):
        node.tag = older + _joined(local.removeprefix("qti-"))
        node.attrib.update({_joined(name): value for name, value in node.attrib.items()})


def _joined(name: str) -> str:
    first, *rest = name.split("-")
    return first + "".join(part.capitalize() for part in rest)


def _names(trees: dict[str, ET.Element], pictures: set[str]) -> Iterator[str]:
    named = {str(file.get("href")) for file in trees["imsmanifest.xml"].iter(f"{_CP}file")}
    shown = {f"items/{image.get('src')}" for tree in trees.values() for image in tree.iter(f"{_QTI}img")}
    for name in sorted(shown ^ pictures):
        yield f"{name} is shown by a question or in the package, not both"
    for name in sorted(named ^ ((trees.keys() | pictures) - {"imsmanifest.xml"})):
        yield f"{name} is in the package or in its manifest, not in both"


def _questions(document: Document, trees: dict[str, ET.Element]) -> Iterator[str]:
    asked = []
    for reference in trees["test.xml"].iter(f"{_QTI}assessmentItemRef"):
        item = trees.get(str(reference.get("href")))
        prompt = item.find(f".//{_QTI}prompt") if item is not None else None
        asked.append(prompt.text if prompt is not None else None)
    if asked != [must.text for must in document.musts]:
        yield "its questions are not those that were promised, in their order"


def _answers(trees: dict[str, ET.Element]) -> Iterator[str]:
    for name, item in trees.items():
        choices = {choice.get("identifier") for choice in item.iter(f"{_QTI}simpleChoice")}
        right = [value.text for value in item.findall(f"{_QTI}responseDeclaration/{_QTI}correctResponse/{_QTI}value")]
        if choices and (not right or not set(right) <= choices):
            yield f"{name} has no right answer among its choices"


def _told(trees: dict[str, ET.Element]) -> Iterator[str]:
    for name, item in trees.items():
        choices = [str(choice.get("identifier")) for choice in item.iter(f"{_QTI}simpleChoice")]
        told = {
            str(part.get("identifier"))
            for part in item.iter(f"{_QTI}modalFeedback")
            if "".join(part.itertext()).strip()
        }
        declared = item.find(f"{_QTI}responseDeclaration")
        right = [value.text for value in item.findall(f"{_QTI}responseDeclaration/{_QTI}correctResponse/{_QTI}value")]
        is_order = declared is not None and declared.get("cardinality") == "ordered"
        wanted = set() if is_order else set(choices) - set(right)
        if choices and not {"why", *wanted} <= told:
            yield f"{name} does not tell the learner why an answer is right or wrong"

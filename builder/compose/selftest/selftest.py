"""The self-test of a procedure: a page that works offline, with the keyboard alone, and on paper; and a package of
items for a learning system, after IMS Question and Test Interoperability 2.1.

The texts of the package are composed here; publish puts them into one file. Elements, attributes and the response
template are those of the QTI 2.1 information model; the manifest is that of IMS Content Packaging 1.1.
"""

import json
from collections.abc import Iterable, Sequence
from itertools import groupby
from xml.etree import ElementTree as ET

from builder.compose.document import Document, Must, Renderer
from builder.compose.selftest.questions import Question, questions_of
from builder.compose.site.web import Offer, WebPage
from builder.compose.view.head import page_marks
from builder.compose.view.words import USUAL_CAUTION
from builder.model.library import Library
from builder.model.pages import Procedure

QTI = "http://www.imsglobal.org/xsd/imsqti_v2p1"
PACKAGING = "http://www.imsglobal.org/xsd/imscp_v1p1"
MATCH_CORRECT = "http://www.imsglobal.org/question/qti_v2p1/rptemplates/match_correct"
_TEST = "test.xml"
_CARDINALITY = {"one": "single", "many": "multiple", "order": "ordered"}


def compose(library: Library, procedure: Procedure, renderer: Renderer, _: Sequence[Offer] = ()) -> WebPage | None:
    """Return the self-test of ``procedure``, or None where its text holds nothing to ask."""
    questions = questions_of(library, procedure)
    if not questions:
        return None
    numbered = ((number, question, _right(question)) for number, question in enumerate(questions, start=1))
    groups = [(name, list(members)) for name, members in groupby(numbered, lambda row: row[1].group)]
    html = renderer.render(
        "selftest/selftest.html.j2",
        procedure=procedure,
        groups=groups,
        total=len(questions),
        marks=page_marks(library, procedure),
        store=f"{procedure.id} {procedure.edition}",
    )
    title = f"Self-test: {procedure.title}"
    return WebPage.about(
        procedure,
        "self-test",
        "self-test.html",
        html,
        title=title,
        description=f"{len(questions)} questions with answers",
        musts=tuple(Must("question", question.id, question.asks) for question in questions),
        explained={"questions": len(questions)},
    )


def _right(question: Question) -> list[int]:
    """Return for each choice its place in an order, else whether it is right."""
    if question.kind == "order":
        return [question.answer.index(choice) + 1 for choice in question.choices]
    return [int(choice in question.answer) for choice in question.choices]


def package(library: Library, procedure: Procedure, renderer: Renderer) -> Document:  # noqa: ARG001  # one signature
    """Return the package of ``procedure``; ``text`` is JSON, path to XML, in the order in which they are packed."""
    questions = questions_of(library, procedure)
    title = f"Self-test: {procedure.title}"
    files = {
        "imsmanifest.xml": _manifest(procedure, questions),
        _TEST: _test(procedure, title, questions),
        **{_path(question): _item(question) for question in questions},
    }
    return Document.about(
        procedure,
        "self-test",
        "self-test-qti.zip",
        json.dumps(files, ensure_ascii=False),
        title=title,
        musts=tuple(Must("question", question.id, question.asks) for question in questions),
        explained={"questions": len(questions), "format": "QTI 2.1"},
    )


def _path(question: Question) -> str:
    return f"items/{question.id}.xml"


def _xml(root: ET.Element) -> str:
    ET.indent(root)
    return '<?xml version="1.0" encoding="UTF-8"?>\n' + ET.tostring(root, encoding="unicode") + "\n"


def _manifest(procedure: Procedure, questions: Iterable[Question]) -> str:
    root = ET.Element("manifest", {"xmlns": PACKAGING, "identifier": f"self-test-{procedure.id}"})
    metadata = ET.SubElement(root, "metadata")
    ET.SubElement(metadata, "schema").text = "QTIv2.1 Package"
    ET.SubElement(metadata, "schemaversion").text = "1.0.0"
    ET.SubElement(root, "organizations")
    resources = ET.SubElement(root, "resources")
    test = _resource(resources, "test", "imsqti_test_xmlv2p1", _TEST)
    for question in questions:
        _resource(resources, question.id, "imsqti_item_xmlv2p1", _path(question))
        ET.SubElement(test, "dependency", {"identifierref": question.id})
    return _xml(root)


def _resource(resources: ET.Element, id: str, kind: str, path: str) -> ET.Element:
    resource = ET.SubElement(resources, "resource", {"identifier": id, "type": kind, "href": path})
    ET.SubElement(resource, "file", {"href": path})
    return resource


def _test(procedure: Procedure, title: str, questions: Iterable[Question]) -> str:
    root = ET.Element("assessmentTest", {"xmlns": QTI, "identifier": f"self-test-{procedure.id}", "title": title})
    modes = {"identifier": "part", "navigationMode": "nonlinear", "submissionMode": "individual"}
    part = ET.SubElement(root, "testPart", modes)
    for number, (name, members) in enumerate(groupby(questions, lambda question: question.group), start=1):
        named = {"identifier": f"group-{number}", "title": name, "visible": "true"}
        section = ET.SubElement(part, "assessmentSection", named)
        rubric = ET.SubElement(section, "rubricBlock", {"view": "candidate"})
        ET.SubElement(rubric, "p").text = f"Edition {procedure.edition}. {USUAL_CAUTION}"
        for question in members:
            ET.SubElement(section, "assessmentItemRef", {"identifier": question.id, "href": _path(question)})
    return _xml(root)


def _item(question: Question) -> str:
    names = {choice: f"choice-{number}" for number, choice in enumerate(question.choices, start=1)}
    fixed = {"adaptive": "false", "timeDependent": "false"}
    root = ET.Element("assessmentItem", {"xmlns": QTI, "identifier": question.id, "title": question.asks, **fixed})
    cardinality = _CARDINALITY[question.kind]
    declared = {"identifier": "RESPONSE", "cardinality": cardinality, "baseType": "identifier"}
    correct = ET.SubElement(ET.SubElement(root, "responseDeclaration", declared), "correctResponse")
    for text in question.answer:
        ET.SubElement(correct, "value").text = names[text]
    score = {"identifier": "SCORE", "cardinality": "single", "baseType": "float"}
    default = ET.SubElement(ET.SubElement(root, "outcomeDeclaration", score), "defaultValue")
    ET.SubElement(default, "value").text = "0"
    body = ET.SubElement(root, "itemBody")
    rubric = ET.SubElement(body, "rubricBlock", {"view": "scorer tutor"})
    ET.SubElement(rubric, "p").text = question.proof
    asked = {"responseIdentifier": "RESPONSE", "shuffle": "false"}
    if question.kind != "order":
        asked["maxChoices"] = str(int(question.kind == "one"))
    interaction = ET.SubElement(body, "orderInteraction" if question.kind == "order" else "choiceInteraction", asked)
    ET.SubElement(interaction, "prompt").text = question.asks
    for text, name in names.items():
        ET.SubElement(interaction, "simpleChoice", {"identifier": name}).text = text
    ET.SubElement(root, "responseProcessing", {"template": MATCH_CORRECT})
    return _xml(root)

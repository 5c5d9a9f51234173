"""The self-test as a package for a learning system that keeps marks: SCORM 1.2 (ADL, 2001).

It is the page of the self-test with what it needs beside it. The learning system is told the score, whether the pass
mark was reached, each answer, and what to show as right at the next visit. The pass mark is said by the page itself and
not in the manifest: a learning system that reads it there calls an unfinished test failed.
"""

import json
import re
from collections.abc import Iterable, Sequence
from math import ceil
from pathlib import PurePosixPath
from typing import Any

from lxml import etree
from lxml.builder import ElementMaker

from builder.compose.document import Document, Must, Renderer, xml_of
from builder.compose.selftest.question import Question
from builder.compose.selftest.questions import self_test
from builder.compose.selftest.selftest import (
    figures_shown,
    page_of_questions,
    question_musts,
    title_of_test,
)
from builder.compose.site.own_look import SCREEN
from builder.compose.site.own_page import own_page
from builder.compose.site.page_citation import page_address
from builder.compose.view.words import USUAL_CAUTION
from builder.load.program_words import gettext, spoken_script
from builder.model.library import Library
from builder.model.pages import Procedure

PASS_MARK = 80
"""Per cent. Common practice of tests that may be taken again."""
PAGE, MANIFEST = "index.html", "imsmanifest.xml"
_PACKAGING = "http://www.imsproject.org/xsd/imscp_rootv1p1p2"
_ADL = "http://www.adlnet.org/xsd/adlcp_rootv1p2"
_FONT = re.compile(r"@font-face \{.*?\}\n?", re.DOTALL)


def compose(library: Library, procedure: Procedure, renderer: Renderer) -> Document:
    """Return the package of ``procedure``; ``text`` is JSON, path to text, or to a figure of the folder."""
    made = self_test(library, procedure)
    questions = made.questions
    values = {
        **page_of_questions(library, procedure, questions),
        "home": page_address(library, procedure),
        "apart": True,
        "title": title_of_test(procedure),
        "language": str(library.department.language),
        "department": str(library.department.name),
        "usual_caution": gettext(USUAL_CAUTION),
        "pass_mark": PASS_MARK,
        "enough": ceil(len(questions) * PASS_MARK / 100),
    }
    html, look = own_page(procedure, renderer, "selftest/scorm.html.j2", SCREEN, values)
    files: dict[str, Any] = {
        PAGE: html,
        "scorm.js": spoken_script(renderer.templates["selftest/scorm.js"]),
        "site.js": spoken_script(renderer.templates["site/look/site.js"]),
        "site.css": _FONT.sub(
            "", renderer.templates[SCREEN]
        ),  # type of the reader's own: a font is larger than the test
        **{f"figures/{PurePosixPath(path).name}": {"path": path} for path in figures_shown(questions)},
    }
    manifest = xml_of(_manifest(procedure, list(files)))
    return Document.about(
        procedure,
        "self-test",
        "self-test-scorm.zip",
        json.dumps({MANIFEST: manifest, **files}, ensure_ascii=False),
        title=title_of_test(procedure),
        resources=figures_shown(questions),
        musts=(
            *look,
            *question_musts(questions),
            *_answers(questions),
            Must("caution", "usual", gettext(USUAL_CAUTION)),
        ),
        left_out=made.left_out,
        explained={"questions": len(questions), "format": "SCORM 1.2", "pass_mark": PASS_MARK},
    )


def _answers(questions: Sequence[Question]) -> Iterable[Must]:
    return (Must("answer", question.id, f"{question.right} {question.proof}") for question in questions)


def _manifest(procedure: Procedure, files: list[str]) -> Any:
    make = ElementMaker(namespace=_PACKAGING, nsmap={None: _PACKAGING, "adlcp": _ADL})
    id = re.sub(r"[^\w.-]", "-", f"self-test-{procedure.id}-{procedure.edition}")
    resource = make.resource(
        *(make.file(href=name) for name in files),
        {"identifier": "test", "type": "webcontent", "href": PAGE, etree.QName(_ADL, "scormtype"): "sco"},
    )
    title = title_of_test(procedure)
    item = make.item(make.title(title), identifier="item", identifierref="test", isvisible="true")
    return make.manifest(
        make.metadata(make.schema("ADL SCORM"), make.schemaversion("1.2")),
        make.organizations(make.organization(make.title(title), item, identifier="tests"), default="tests"),
        make.resources(resource),
        identifier=id,
        version="1.1",
    )

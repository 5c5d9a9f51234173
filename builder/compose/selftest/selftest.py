"""The self-test of a procedure: a page that works offline, with the keyboard alone, and on paper; and a package of the
same questions for a learning system, after IMS Question and Test Interoperability 2.1.

The texts of the package are composed here; publish puts them into one file, and marks the figures. Elements, attributes
and the ways to score and to tell the learner are those of the QTI 2.1 information model; the manifest is that of IMS
Content Packaging 1.1. Titles and identifiers carry the edition, so that two editions do not pass for one another.
"""

import json
import re
from collections.abc import Iterator, Sequence
from itertools import groupby
from pathlib import PurePosixPath
from typing import Any

from lxml.builder import ElementMaker

from builder.compose.document import Document, Must, Renderer, xml_of
from builder.compose.selftest.question import FigureMark, Question
from builder.compose.selftest.questions import questions_of, self_test
from builder.compose.site.own_look import SCREEN
from builder.compose.site.own_page import own_page
from builder.compose.site.web import Offer, WebPage
from builder.compose.view.head import page_marks
from builder.compose.view.words import USUAL_CAUTION
from builder.load.program_words import gettext, ngettext
from builder.model.library import Library
from builder.model.pages import Procedure

QTI = "http://www.imsglobal.org/xsd/imsqti_v2p1"
PACKAGING = "http://www.imsglobal.org/xsd/imscp_v1p1"
_Q, _P = (ElementMaker(namespace=space, nsmap={None: space}) for space in (QTI, PACKAGING))
_TEST = "test.xml"
_CARDINALITY = {"one": "single", "many": "multiple", "order": "ordered"}
_WHY, _TOLD = "WHY", "TOLD"
"""Outcomes that show the learner why the answer is right, and what the one that was taken is."""


def compose(library: Library, procedure: Procedure, renderer: Renderer, _: Sequence[Offer] = ()) -> WebPage | None:
    """Return the self-test of ``procedure``, or None where its text holds nothing to ask."""
    made = self_test(library, procedure)
    questions = made.questions
    if not questions:
        return None
    values = {**page_of_questions(library, procedure, questions), "home": "index.html", "apart": False}
    html, look = own_page(procedure, renderer, "selftest/selftest.html.j2", SCREEN, values)
    return WebPage.about(
        procedure,
        "self-test",
        "self-test.html",
        html,
        title=title_of_test(procedure),
        description=ngettext("%(num)s question with answers", "%(num)s questions with answers", len(questions)),
        resources=figures_shown(questions),
        musts=(*look, *question_musts(questions)),
        left_out=made.left_out,
        explained={"questions": len(questions), "not_asked": made.not_asked},
    )


def page_of_questions(library: Library, procedure: Procedure, questions: Sequence[Question]) -> dict[str, Any]:
    """Return what the template of the ``questions`` is filled with, but for where the procedure's page is."""
    numbered = ((number, question, _right(question)) for number, question in enumerate(questions, start=1))
    return {
        "procedure": procedure,
        "groups": [(name, list(members)) for name, members in groupby(numbered, lambda row: row[1].group)],
        "total": len(questions),
        "marks": page_marks(library, procedure),
        "store": f"{procedure.id} {procedure.edition}",
    }


def figures_shown(questions: Sequence[Question]) -> tuple[str, ...]:
    """Return the files of the department's folder that ``questions`` show."""
    return tuple(dict.fromkeys(question.mark.figure.path for question in questions if question.mark))


def title_of_test(procedure: Procedure) -> str:
    """Return the title of the self-test of ``procedure``."""
    return gettext("Self-test: %(title)s, edition %(edition)s", title=procedure.title, edition=procedure.edition)


def question_musts(questions: Sequence[Question]) -> tuple[Must, ...]:
    """Return what asks each of ``questions``."""
    return tuple(Must("question", question.id, question.asks) for question in questions)


def _right(question: Question) -> list[int]:
    """Return for each choice its place in an order, else whether it is right."""
    if question.kind == "order":
        return [question.answer.index(choice) + 1 for choice in question.choices]
    return [int(choice in question.answer) for choice in question.choices]


def package(library: Library, procedure: Procedure, renderer: Renderer) -> Document:  # noqa: ARG001  # one signature
    """Return the package of ``procedure``; ``text`` is JSON, path to XML, or to a figure and the place of its mark."""
    questions = questions_of(library, procedure)
    edition = re.sub(r"[^\w.-]", "-", str(procedure.edition))
    files: dict[str, Any] = {
        "imsmanifest.xml": xml_of(_manifest(procedure, edition, questions)),
        _TEST: xml_of(_test(procedure, edition, questions)),
    }
    for number, question in enumerate(questions, start=1):
        files[_path(question)] = xml_of(_item(question, number, edition))
        if mark := question.mark:
            files[_picture(question.id, mark)] = {"path": mark.figure.path, "x": mark.x, "y": mark.y}
    return Document.about(
        procedure,
        "self-test",
        "self-test-qti.zip",
        json.dumps(files, ensure_ascii=False),
        title=title_of_test(procedure),
        resources=figures_shown(questions),
        musts=question_musts(questions),
        explained={"questions": len(questions), "format": "QTI 2.1"},
    )


def _path(question: Question) -> str:
    return f"items/{question.id}.xml"


def _picture(id: str, mark: FigureMark) -> str:
    """Return the name in the package of the figure that the question ``id`` shows."""
    return f"items/{id}{PurePosixPath(mark.figure.path).suffix}"


def _manifest(procedure: Procedure, edition: str, questions: Sequence[Question]) -> Any:
    ids = {question.id: f"{question.id}-{edition}" for question in questions}
    items = (
        _resource(
            ids[question.id], "imsqti_item_xmlv2p1", _path(question),
            *([_picture(question.id, question.mark)] if question.mark else []),
        )
        for question in questions
    )  # fmt: skip
    test = _resource(f"test-{edition}", "imsqti_test_xmlv2p1", _TEST)
    test.extend(_P.dependency(identifierref=id) for id in ids.values())
    return _P.manifest(
        _P.metadata(_P.schema("QTIv2.1 Package"), _P.schemaversion("1.0.0")),
        _P.organizations(),
        _P.resources(test, *items),
        identifier=f"self-test-{procedure.id}-{edition}",
    )


def _resource(id: str, kind: str, *paths: str) -> Any:
    return _P.resource(*(_P.file(href=path) for path in paths), identifier=id, type=kind, href=paths[0])


def _test(procedure: Procedure, edition: str, questions: Sequence[Question]) -> Any:
    sections = []
    for number, (name, members) in enumerate(groupby(questions, lambda question: question.group), start=1):
        told = _Q.p(f"{gettext('Edition %(edition)s.', edition=procedure.edition)} {gettext(USUAL_CAUTION)}")
        items = (_Q.assessmentItemRef(identifier=f"{one.id}-{edition}", href=_path(one)) for one in members)
        rubric = _Q.rubricBlock(told, view="candidate")
        sections.append(_Q.assessmentSection(rubric, *items, identifier=f"group-{number}", title=name, visible="true"))
    part = _Q.testPart(*sections, identifier="part", navigationMode="nonlinear", submissionMode="individual")
    return _Q.assessmentTest(part, identifier=f"self-test-{procedure.id}-{edition}", title=title_of_test(procedure))


def _item(question: Question, number: int, edition: str) -> Any:
    names = {choice: f"choice-{at}" for at, choice in enumerate(question.choices, start=1)}
    kept = "single" if question.kind == "one" else "multiple"
    told = [(names[choice], words) for choice, words in zip(question.choices, question.told, strict=True) if words]
    told = [] if question.kind == "order" else told
    return _Q.assessmentItem(
        _Q.responseDeclaration(
            _Q.correctResponse(*(_Q.value(names[text]) for text in question.answer)),
            identifier="RESPONSE",
            cardinality=_CARDINALITY[question.kind],
            baseType="identifier",
        ),
        _Q.outcomeDeclaration(
            _Q.defaultValue(_Q.value("0")), identifier="SCORE", cardinality="single", baseType="float"
        ),
        _Q.outcomeDeclaration(identifier=_WHY, cardinality="single", baseType="identifier"),
        *([_Q.outcomeDeclaration(identifier=_TOLD, cardinality=kept, baseType="identifier")] if told else []),
        _Q.itemBody(*_figures(question), _interaction(question, names)),
        _processing(is_told=bool(told)),
        *(_feedback(_TOLD, name, words) for name, words in told),
        _feedback(_WHY, "why", question.right, question.proof),
        identifier=f"{question.id}-{edition}",
        title=gettext(
            "%(number)s. %(group)s, edition %(edition)s", number=number, group=question.group, edition=edition
        ),
        adaptive="false",
        timeDependent="false",
    )


def _figures(question: Question) -> Iterator[Any]:
    if mark := question.mark:
        yield _Q.p(_Q.img(src=PurePosixPath(_picture(question.id, mark)).name, alt=mark.figure.alt))


def _interaction(question: Question, names: dict[str, str]) -> Any:
    many = {} if question.kind == "order" else {"maxChoices": str(int(question.kind == "one"))}
    make = _Q.orderInteraction if question.kind == "order" else _Q.choiceInteraction
    choices = (_Q.simpleChoice(text, identifier=name) for text, name in names.items())
    return make(_Q.prompt(question.asks), *choices, responseIdentifier="RESPONSE", shuffle="false", **many)


def _processing(*, is_told: bool) -> Any:
    """Return how an answer is scored, and that the learner is told why, and what the answer taken is."""
    matched = _Q.match(_Q.variable(identifier="RESPONSE"), _Q.correct(identifier="RESPONSE"))
    one = _Q.setOutcomeValue(_Q.baseValue("1", baseType="float"), identifier="SCORE")
    why = _Q.setOutcomeValue(_Q.baseValue("why", baseType="identifier"), identifier=_WHY)
    taken = [_Q.setOutcomeValue(_Q.variable(identifier="RESPONSE"), identifier=_TOLD)] if is_told else []
    return _Q.responseProcessing(_Q.responseCondition(_Q.responseIf(matched, one)), *taken, why)


def _feedback(outcome: str, id: str, *words: str) -> Any:
    paragraphs = (_Q.p(text) for text in words)
    return _Q.modalFeedback(*paragraphs, outcomeIdentifier=outcome, identifier=id, showHide="show")

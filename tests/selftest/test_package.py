"""The self-test as a QTI 2.1 package: the same questions as the page, well-formed, valid, and the same in each build.

The schema is ``qti21.rng``, written from the specification, because no registry carries the published one.
"""

from __future__ import annotations

import json
import re
import zipfile
from dataclasses import replace
from pathlib import Path

import pytest
from department import read
from lxml import etree, html
from papers import library
from site_pages import page, texts

from builder.compose.document import Document, Renderer
from builder.compose.selftest.selftest import package as compose
from builder.publish.output import Equipment
from builder.readback.selftest.package import read_back

Q = {"q": "http://www.imsglobal.org/xsd/imsqti_v2p1", "c": "http://www.imsglobal.org/xsd/imscp_v1p1"}
DEMO = Path(__file__).parents[2]
SCHEMA = etree.RelaxNG(etree.parse(str(Path(__file__).with_name("qti21.rng"))))


PROCEDURE = "carpal-tunnel-decompression"


@pytest.fixture(scope="module")
def document() -> Document:
    return compose(library(DEMO), library(DEMO).by_id[PROCEDURE], Renderer({}))


def trees(path: Path) -> dict[str, etree._ElementTree]:
    with zipfile.ZipFile(path) as package:
        names = [name for name in package.namelist() if name.endswith(".xml")]
        return {name: etree.fromstring(package.read(name)).getroottree() for name in names}


@pytest.fixture
def package(document: Document, tmp_path: Path) -> dict[str, etree._ElementTree]:
    Equipment(DEMO, {}).write_package(document, tmp_path / "package.zip")
    return trees(tmp_path / "package.zip")


def test_every_file_is_valid(package: dict[str, etree._ElementTree]) -> None:
    assert len(package) > 5
    for name, tree in package.items():
        assert SCHEMA.validate(tree), f"{name}: {SCHEMA.error_log}"


def test_the_schema_refuses_what_is_wrong(package: dict[str, etree._ElementTree]) -> None:
    """The control: a schema that accepts everything would prove nothing."""
    item = next(tree for name, tree in package.items() if name.startswith("items/"))
    for spoil in ("adaptive", "identifier"):
        copy = etree.fromstring(etree.tostring(item))
        del copy.attrib[spoil]
        assert not SCHEMA.validate(copy.getroottree())
    copy = etree.fromstring(etree.tostring(item))
    etree.SubElement(copy, f"{{{Q['q']}}}script")
    assert not SCHEMA.validate(copy.getroottree())


def test_the_package_asks_what_the_page_asks(package: dict[str, etree._ElementTree], demo: Path) -> None:
    tree: html.HtmlElement = page(demo, f"{PROCEDURE}/self-test.html")
    shown = [" ".join(one.xpath("string(./legend)").split()) for one in tree.xpath("//fieldset[@class='question']")]
    items = [package[href] for href in package["test.xml"].xpath("//q:assessmentItemRef/@href", namespaces=Q)]
    assert len(items) == len(shown)
    for number, (item, asked) in enumerate(zip(items, shown, strict=True), start=1):
        prompt = item.xpath("string(//q:prompt)", namespaces=Q)
        assert asked.removesuffix(" One or more are right.") == f"{number} {prompt}"
        choices = item.xpath("//q:simpleChoice", namespaces=Q)
        names = {choice.get("identifier"): choice.text for choice in choices}
        right = [names[value] for value in item.xpath("//q:correctResponse/q:value/text()", namespaces=Q)]
        ordered = item.xpath("string(//q:responseDeclaration/@cardinality)", namespaces=Q) == "ordered"
        [answer] = texts(tree, f"//*[@id='answer-{number}']/p[@class='right']")
        assert ("; then " if ordered else "; ").join(right) == answer.removeprefix("The mistake: ")


def test_the_manifest_names_every_file(package: dict[str, etree._ElementTree]) -> None:
    named = package["imsmanifest.xml"].xpath("//c:file/@href", namespaces=Q)
    assert sorted(name for name in [*named, "imsmanifest.xml"] if name.endswith(".xml")) == sorted(package)


def test_titles_and_identifiers_carry_the_edition(package: dict[str, etree._ElementTree]) -> None:
    for name, tree in package.items():
        root = tree.getroot()
        assert root.get("identifier").endswith("-1.0"), name
        assert root.get("title", "edition 1.0").endswith("edition 1.0"), name


def shown_to(item: etree._ElementTree, taken: list[str]) -> list[str]:
    """What a player shows a learner who took these answers: feedback whose outcome the answer sets."""
    outcomes: dict[str, list[str]] = {}
    for rule in item.xpath("//q:responseProcessing/q:setOutcomeValue", namespaces=Q):
        [value] = list(rule)
        outcomes[rule.get("identifier")] = taken if value.tag.endswith("variable") else [value.text]
    told = item.xpath("//q:modalFeedback[@showHide='show']", namespaces=Q)
    return [
        " ".join("".join(part.itertext()).split())
        for part in told
        if part.get("identifier") in outcomes.get(part.get("outcomeIdentifier"), [])
    ]


def test_a_learner_is_told_why_and_what_the_answer_taken_is(package: dict[str, etree._ElementTree], demo: Path) -> None:
    tree: html.HtmlElement = page(demo, f"{PROCEDURE}/self-test.html")
    items = [package[href] for href in package["test.xml"].xpath("//q:assessmentItemRef/@href", namespaces=Q)]
    for number, item in enumerate(items, start=1):
        [proof] = tree.xpath(f"//*[@id='answer-{number}']/p[@class='proof']/text()")
        right = item.xpath("//q:correctResponse/q:value/text()", namespaces=Q)
        assert len(shown_to(item, right)) == 1
        assert shown_to(item, right)[0].endswith(" ".join(proof.split()))
        on_page = texts(tree, f"//*[@id='answer-{number}']//li")
        ordered = item.xpath("string(//q:responseDeclaration/@cardinality)", namespaces=Q) == "ordered"
        for choice in item.xpath("//q:simpleChoice", namespaces=Q):
            if choice.get("identifier") not in right and not ordered:
                told = shown_to(item, [choice.get("identifier")])
                assert len(told) == 2
                assert f"{choice.text} {told[0]}" in on_page


def test_a_figure_is_in_the_package_with_a_mark_on_it(tmp_path: Path) -> None:
    document = compose(library(DEMO), library(DEMO).by_id["open-mesh-inguinal-hernia"], Renderer({}))
    Equipment(DEMO, {}).write_package(document, tmp_path / "x.zip")
    assert read_back(document, tmp_path / "x.zip").problems == ()
    with zipfile.ZipFile(tmp_path / "x.zip") as package:
        pictures = {name: package.read(name) for name in package.namelist() if not name.endswith(".xml")}
    assert len(pictures) == 6
    for name, content in pictures.items():
        assert etree.fromstring(content).xpath("count(//*[local-name()='circle'][@fill='#b8141f'])") == 1, name


def test_text_of_an_educator_stays_text(base: Path, tmp_path: Path) -> None:
    path = base / "content/procedures/example/steps/open-canal.md"
    path.write_text(path.read_text().replace("why: The nerve", "why: '</prompt><x>&amp; ]]> \"The\"' # The"))
    text = path.read_text().replace("' # The lies", " nerve lies")
    path.write_text(text.replace("canal.\nat_risk", "canal.'\nat_risk"))
    department, _ = read(base)
    document = compose(department, department.procedures[0], Renderer({}))
    Equipment(tmp_path, {}).write_package(document, tmp_path / "x.zip")
    assert read_back(document, tmp_path / "x.zip").problems == ()
    told = ["".join(tree.getroot().itertext()) for tree in trees(tmp_path / "x.zip").values()]
    assert any('</prompt><x>&amp; ]]> "The"' in text for text in told)


def test_the_same_text_gives_the_same_bytes(document: Document, tmp_path: Path) -> None:
    for name in ("a.zip", "b.zip"):
        Equipment(DEMO, {}).write_package(document, tmp_path / name)
    assert (tmp_path / "a.zip").read_bytes() == (tmp_path / "b.zip").read_bytes()


def spoilt(document: Document, change: str) -> Document:
    files = json.loads(document.text)
    item = next(name for name in files if name.startswith("items/"))
    if change == "a file is lost":
        del files[item]
    elif change == "a file is not named":
        files["items/more.xml"] = files[item]
    elif change == "an answer is no choice":
        files[item] = re.sub("<value>choice-.</value>", "<value>choice-99</value>", files[item])
    elif change == "nothing is told":
        files[item] = files[item].replace("modalFeedback", "otherFeedback")
    elif change == "a question is another":
        files[item] = files[item].replace("<prompt>", "<prompt>Not ")
    elif change == "a file is no XML":
        files[item] = files[item][:-20]
    else:
        del files["imsmanifest.xml"]
    return replace(document, text=json.dumps(files))


CHANGES = (
    "a file is lost",
    "a file is not named",
    "an answer is no choice",
    "a question is another",
    "nothing is told",
    "a file is no XML",
    "no manifest",
)


@pytest.mark.parametrize("change", CHANGES)
def test_a_spoilt_package_is_noticed(document: Document, tmp_path: Path, change: str) -> None:
    Equipment(DEMO, {}).write_package(spoilt(document, change), tmp_path / "x.zip")
    assert read_back(document, tmp_path / "x.zip").problems

"""From each reference back to every place that cites it, in page and handout; each output has numbers of its own."""

from __future__ import annotations

import re
from collections import Counter
from pathlib import Path

import pikepdf
import pytest
from department import BASE, DEMO, DEMO_IDS, read
from lxml import html
from papers import library
from publishing import publish_site

from builder.compose.document import Renderer
from builder.compose.handout import handout
from builder.compose.handout.handout import cited_places
from builder.compose.site import page
from builder.compose.view.outline import ChoiceBlock, every_block, outline, step_blocks
from builder.compose.view.procedure_view import view_of
from builder.compose.view.rendered_prose import References
from builder.load.templates import load_templates
from builder.model.library import Library
from builder.model.pages import Procedure


@pytest.fixture(params=DEMO_IDS)
def procedure(request: pytest.FixtureRequest) -> Procedure:
    return library(DEMO).by_id[request.param]


@pytest.fixture(scope="module")
def renderer() -> Renderer:
    return Renderer(load_templates(DEMO))


def _tree(text: str) -> html.HtmlElement:
    return html.fromstring(re.sub(r"\A---\n.*?---\n", "", text, flags=re.DOTALL))


def _numbers(tree: html.HtmlElement) -> list[int]:
    """Return the numbers of the citations in the text, in its order."""
    return [int(href.removeprefix("#ref-")) for href in tree.xpath("//sup[@class='cites']/a/@href")]


def test_numbers_of_the_page_follow_first_appearance(procedure: Procedure, renderer: Renderer) -> None:
    numbers = _numbers(_tree(page.compose(library(DEMO), procedure, renderer).text))
    first = list(dict.fromkeys(numbers))
    assert first == list(range(1, len(first) + 1))
    assert len(first) > 5


def test_the_page_leads_back_to_every_place(procedure: Procedure, renderer: Renderer) -> None:
    tree = _tree(page.compose(library(DEMO), procedure, renderer).text)
    cited = Counter(_numbers(tree))
    for number, count in cited.items():
        [entry] = tree.xpath(f"//li[@id='ref-{number}']")
        backs = entry.xpath(".//*[@class='back']/a/@href")
        places = tree.xpath(f"//sup[@class='cites']/a[@href='#ref-{number}']/@id")
        assert backs == [f"#{place}" for place in places]
        assert len(backs) == count
    assert len(tree.xpath("//li[starts-with(@id, 'ref-')]")) == len(cited)


def test_the_handout_names_every_place_in_words(procedure: Procedure, renderer: Renderer) -> None:
    """On paper a link is also words: each citation lies in a place that its reference names."""
    view = view_of(library(DEMO), procedure)
    places = cited_places(view)
    tree = _tree(handout.compose(library(DEMO), procedure, renderer).text)
    for reference in view.references:
        assert reference.cited_at
        [entry] = tree.xpath(f"//li[@id='{reference.anchor}']")
        listed = [(one.get("href")[1:], one.text_content()) for one in entry.xpath(".//*[@class='back']/a")]
        assert listed == list(places[reference.key])
        named = {words for _, words in listed}
        for anchor in reference.cited_at:
            assert named & _around(tree, anchor, procedure), (reference.key, anchor)


def _around(tree: html.HtmlElement, anchor: str, procedure: Procedure) -> set[str]:
    """Return the places in which ``anchor`` can lie: the step above or below it, as the handout numbers it, or none."""
    blocks = outline(procedure)
    numbers = {step.anchor: step.number for step in step_blocks(blocks)}
    order = [id for id in tree.xpath("//@id") if id in numbers or id == anchor]
    at = order.index(anchor)
    beside = [order[at - 1] if at else "", order[at + 1] if at + 1 < len(order) else ""]
    steps = {f"step {numbers[one]}" for one in beside if one in numbers}
    choices = {f"before the choice {one.title}" for one in every_block(blocks) if isinstance(one, ChoiceBlock)}
    return steps | choices | {"head", "why and when", "aftercare"}


def test_every_citation_of_the_handout_lies_in_a_named_place() -> None:
    for procedure in library(DEMO).procedures:
        view = view_of(library(DEMO), procedure)
        cites = re.compile(r'id="(cite-\d+-\d+)"')
        seen = {anchor for reference in view.references for anchor in reference.cited_at}
        assert seen == set(
            cites.findall(handout.compose(library(DEMO), procedure, Renderer(load_templates(DEMO))).text)
        )
        assert set(cited_places(view)) == {reference.key for reference in view.references}


def test_the_links_are_in_the_finished_pdf(tmp_path: Path) -> None:
    publish_site(BASE, tmp_path / "public", ("handout",))
    view = view_of(*_first(read(BASE)[0]))
    wanted = Counter(anchor for places in cited_places(view).values() for anchor, _ in places)
    found: Counter[str] = Counter()
    with pikepdf.open(tmp_path / "public/example/handout.pdf") as pdf:
        names = {str(name) for name in pikepdf.NameTree(pdf.Root.Names.Dests)}
        for sheet in pdf.pages:
            for link in sheet.get("/Annots", ()):
                target = str(link.get("/Dest", link.get("/A", {}).get("/D", "")))
                found[target] += target.startswith("cite-")
    assert wanted
    assert wanted <= found
    assert set(wanted) <= names


def _first(library: Library) -> tuple[Library, Procedure]:
    return library, library.procedures[0]


def test_two_documents_do_not_share_their_numbers() -> None:
    one, other = References(library(DEMO).sources), References(library(DEMO).sources)
    first, second = list(library(DEMO).sources)[:2]
    one.cite([(first, ""), (second, "p. 2")])
    other.cite([(second, "")])
    assert [[(view.key, view.number) for view in each.listed()] for each in (one, other)] == [
        [(first, 1), (second, 2)],
        [(second, 1)],
    ]
    assert one.listed()[0].cited_at == ("cite-1-1",)

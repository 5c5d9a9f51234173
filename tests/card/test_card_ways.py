"""Print my card: the card of a way shows what a plain walk of the sequence meets, and nothing else.

The walks come from ``tests/paths/lister.py``, which lists every path without a look at the program.
"""

from __future__ import annotations

import re
from dataclasses import replace
from pathlib import Path
from types import SimpleNamespace

import pytest
from cards import demo, sides_of
from department import DEMO, DEMO_IDS, lay, new_base, read
from lxml import html
from papers import library, proved, renderer, typesetter
from paths.lister import paths
from publishing import publish_site

from builder.compose.card import card, card_ways
from builder.compose.card.card_plan import plan_of
from builder.compose.card.ways import CHOICES, EVERY, MOST, NONE, way_of, ways_of
from builder.compose.document import Document
from builder.compose.site import page as site_page
from builder.compose.view.outline import outline, step_blocks
from builder.model.action import Side, Verb
from builder.model.library import Library
from builder.model.pages import Procedure
from builder.model.sequence import Choose, Follow, Option
from builder.place import Text
from builder.publish.paper.pdf import Typesetter
from builder.readback.comparison import bare


def every_card() -> list[tuple[Library, Procedure, str]]:
    found = [(library(), library().procedures[0]), *((library(DEMO), one) for one in library(DEMO).procedures)]
    return [(whole, one, name) for whole, one in found for name in card_ways.names_of(one)]


def made(whole: Library, procedure: Procedure, name: str) -> Document:
    return card_ways.compose(whole, procedure, renderer() if whole is library() else renderer(DEMO), name)


def walks(procedure: Procedure) -> list[SimpleNamespace]:
    return [
        SimpleNamespace(steps=[str(step.id) for step in path.steps], full=path.steps, chosen=path.chosen)
        for path in paths(procedure)
        if not path.stuck
    ]


def shown(document: Document, section: str) -> list[html.HtmlElement]:
    return html.document_fromstring(document.text).xpath(f"//section[starts-with(@id, 'place-{section}-')]//li")


def number(line: html.HtmlElement) -> str:
    return str(line.xpath("string(.//*[@class='n'])"))


@pytest.mark.parametrize(
    ("whole", "procedure", "name"), every_card(), ids=lambda one: one if isinstance(one, str) else ""
)
def test_a_card_shows_exactly_the_steps_of_its_walk(whole: Library, procedure: Procedure, name: str) -> None:
    document = made(whole, procedure, name)
    [walk] = [one for one in walks(procedure) if one.chosen == document.explained["choices"]]
    lines = shown(document, "steps")
    assert [re.sub(r"-\d+$", "", line.get("id").removeprefix("step-")) for line in lines] == [
        re.sub(r"-\d+$", "", step) for step in walk.steps
    ]
    numbers = {block.anchor: block.number for block in step_blocks(outline(procedure))}
    assert [number(line) for line in lines] == [numbers[line.get("id")] for line in lines]
    assert not html.document_fromstring(document.text).xpath("//*[@class='lead']"), "no branch is left to name"
    guarding = {
        id
        for id, one in procedure.cautions.items()
        for step in walk.full
        if id in step.cautions or str(step.id) in one.guards
    }
    at_all = {id for id, one in procedure.cautions.items() for step in procedure.steps.values() if id in step.cautions}
    free = {id for id, one in procedure.cautions.items() if not one.guards and id not in at_all}
    signals = ("danger", "warning", "caution", "notice")
    dangers = {line.get("id").removeprefix("caution-") for one in signals for line in shown(document, one)}
    assert dangers == guarding | free
    # What is counted is told once; a later count of the same things is told by the title of its step, or by a word.
    counting = {str(step.id) for step in walk.full if any(one.verb is Verb.COUNT for one in step.actions)}
    counted = {
        re.sub(r"-\d+$", "", line.get("id").removeprefix("step-"))
        for line in lines
        if line.xpath(".//*[@class='detail count']") or "count" in line.xpath("string(.//*[@class='text'])").casefold()
    }
    assert counting <= counted
    assert not counting or any(line.xpath(".//*[@class='detail count']") for line in lines)


def test_there_is_one_card_for_each_walk_and_side() -> None:
    for procedure in (library().procedures[0], *library(DEMO).procedures):
        sides = 2 if procedure.side is Side.EITHER else 1
        names = card_ways.names_of(procedure)
        assert len(names) == len(set(names)) == sides * len(walks(procedure))


def test_the_names_say_way_and_side() -> None:
    assert card_ways.names_of(library().procedures[0]) == (
        "local-with-drain-left", "local-with-drain-right", "local-without-drain-left", "local-without-drain-right",
        "spinal-with-drain-left", "spinal-with-drain-right", "spinal-without-drain-left", "spinal-without-drain-right",
    )  # fmt: skip


def test_the_side_is_large_and_runs_along_and_the_proofs_hold(tmp_path: Path) -> None:
    document = made(library(), library().procedures[0], "spinal-with-drain-left")
    found = proved(document, typesetter().pdf(document), tmp_path)
    assert found.problems == ()
    assert found.pages == document.explained["sides"] == 2
    assert document.explained["way"] == "Anaesthesia: spinal; with drain"
    kinds = {must.kind: must.text for must in document.musts}
    assert (kinds["side"], kinds["running"]) == ("Left", "Left side. Edition 1.0")
    assert re.search(r"\.side \{[^}]*font-size: 1[6-9]pt", document.text)
    other = made(library(), library().procedures[0], "spinal-with-drain-right")
    assert other.text.replace("Right", "Left") == document.text.replace("Right", "Left")


def test_left_and_right_are_laid_out_once_and_each_is_as_if_laid_out_alone(monkeypatch: pytest.MonkeyPatch) -> None:
    laid: list[str] = []
    was = Typesetter._laid_out
    monkeypatch.setattr(Typesetter, "_laid_out", lambda self, html, by: laid.append(html) or was(self, html, by))
    for whole, procedure in ((library(), library().procedures[0]), (library(DEMO), library(DEMO).procedures[-1])):
        sides = [made(whole, procedure, name) for name in card_ways.names_of(procedure)[:2]]
        together, alone = Typesetter(whole.root), Typesetter(whole.root)
        laid.clear()
        files = [together.pdf(one) for one in (*sides, sides[0])]
        assert laid == [sides[0].text]
        assert files == [alone.pdf(replace(one, alike=None)) for one in (*sides, sides[0])]
        assert laid == [sides[0].text, sides[0].text, sides[1].text, sides[0].text]


def test_where_a_line_of_the_side_is_not_found_its_card_is_laid_out_for_itself() -> None:
    right = made(library(), library().procedures[0], "spinal-with-drain-right")
    assert right.alike is not None
    unmarked = replace(right, alike=right.alike._replace(text=right.alike.text.replace(" data-said", "")))
    assert typesetter().pdf(unmarked) == typesetter().pdf(right)


def test_the_proof_fails_where_the_side_is_not_printed(tmp_path: Path) -> None:
    document = made(library(), library().procedures[0], "spinal-with-drain-left")
    broken = replace(document, text=document.text.replace('<p class="side" data-said>Left</p>', ""))
    assert any("side" in problem for problem in proved(broken, typesetter().pdf(broken), tmp_path).problems)


def test_the_code_is_that_of_the_edition() -> None:
    general = card.compose(library(), library().procedures[0], renderer())
    code = next(must for must in general.musts if must.kind == "code")
    for name in card_ways.names_of(library().procedures[0]):
        assert code in made(library(), library().procedures[0], name).musts


def test_the_general_card_has_neither_way_nor_side() -> None:
    for whole, setter in ((library(), renderer()), (library(DEMO), renderer(DEMO))):
        general = card.compose(whole, whole.procedures[0], setter)
        tree = html.document_fromstring(general.text)
        assert not tree.xpath("//*[@class='side' or @class='way' or starts-with(@class, 'only')]")
        assert {must.kind for must in general.musts}.isdisjoint({"side", "way"})


def test_what_is_not_met_is_listed_as_left_out() -> None:
    document = made(library(), library().procedures[0], "spinal-without-drain-left")
    away = {(one.kind, one.id) for one in document.left_out if one.why == "not on this way"}
    assert {("step", "inject-local"), ("step", "place-drain"), ("step", "tell-recovery")} <= away


def test_aftercare_of_what_was_never_placed_is_not_on_the_card(tmp_path: Path) -> None:
    """The drain goes in on one way only, so only that card tells that it comes out."""
    file = "content/procedures/example/aftercare/drain-out.md"
    text = (
        "---\ntitle: Drain out\nwhen: {from: 1 day, until: 2 days}\nconcerns: suction drain\n"
        "common_practice: true\n---\n"
    )
    whole, _ = read(lay(new_base(tmp_path), {file: text}))
    procedure = whole.procedures[0]
    kept = way_of(procedure, {"anaesthesia": "local", "drain": "taken"}, whole.items)
    left = way_of(procedure, {"anaesthesia": "local", "drain": "left-out"}, whole.items)
    assert "drain-out" in kept.aftercare_items
    assert "drain-out" not in left.aftercare_items
    assert set(left.aftercare_items) == set(procedure.aftercare_items) - {"drain-out"}


def with_entries(*more: object) -> Procedure:
    procedure = library().procedures[0]
    return procedure.model_copy(update={"sequence": (*procedure.sequence, *more)})


def options(number: int) -> list[Option]:
    drain = next(one for one in library().procedures[0].sequence if isinstance(one, Option))
    return [drain.model_copy(update={"id": Text(f"more-{at}")}) for at in range(number)]


def chooses(number: int) -> list[Choose]:
    choice = next(one for one in library().procedures[0].sequence if isinstance(one, Choose))
    return [choice.model_copy(update={"id": Text(f"choice-{at}")}) for at in range(number)]


@pytest.mark.parametrize(
    ("more", "kind", "ways"),
    [
        (options(2), EVERY, 16),
        (options(3), CHOICES, 2),
        (options(60), CHOICES, 2),
        ([*options(9), *chooses(3)], CHOICES, 16),
        ([*options(9), *chooses(4)], NONE, 0),
        (chooses(60), NONE, 0),
    ],
)
def test_too_many_ways_are_told_by_their_choices_or_not_at_all(
    more: list[Choose | Option], kind: str, ways: int
) -> None:
    found = ways_of(with_entries(*more))
    assert (found.kind, len(found.ways)) == (kind, ways)
    assert len(found.ways) <= MOST


def test_where_only_choices_part_the_ways_options_and_their_follows_stay() -> None:
    procedure = with_entries(*options(3))
    way = way_of(procedure, ways_of(procedure).ways[1].choices, library().items)
    kinds = [type(one) for one in way.sequence]
    assert Choose not in kinds
    assert kinds.count(Option) == 4
    assert kinds.count(Follow) == 1
    name = card_ways.names_of(procedure)[0]
    document = card_ways.compose(library(), procedure, renderer(), name)
    assert document.explained["parted_by"] == CHOICES
    assert "Options stay as options." in document.text
    assert html.document_fromstring(document.text).xpath("//*[@class='lead']")


def test_a_follow_of_a_choice_that_was_not_made_ends_the_walk() -> None:
    """The walks of the lister and ours agree on every procedure of the demo and the base, in order."""
    for procedure in (library().procedures[0], *library(DEMO).procedures):
        assert [dict(way.choices) for way in ways_of(procedure).ways] == [one.chosen for one in walks(procedure)]


def test_the_report_and_the_page_say_that_there_are_too_many(tmp_path: Path) -> None:
    root = new_base(tmp_path)
    path = root / "content/procedures/example/procedure.md"
    lines = "".join(
        f"  - choose: {{id: more-{at}, when: asked, between: {{one-{at}: [cut-skin], two-{at}: [cut-skin]}}}}\n"
        for at in range(4)
    )
    path.write_text(path.read_text().replace("  - close-canal\n", f"{lines}  - close-canal\n", 1))
    report = publish_site(root, tmp_path / "public", ("site", "card", "card-ways"))
    told = {one.path: one.explained for one in report.artefacts}
    assert told["example/cards.html"]["why"] == "more than 16 ways"
    assert told["example/card.pdf"]["cards_by_way"] == NONE
    assert "more than 16 ways" in (tmp_path / "public/example/cards.html").read_text()
    assert not (tmp_path / "public/example/cards").exists()


def test_the_page_offers_every_card_that_was_made(tmp_path: Path) -> None:
    publish_site(new_base(tmp_path), tmp_path / "public", ("site", "card-ways"))
    page = html.document_fromstring((tmp_path / "public/example/cards.html").read_bytes())
    links = page.xpath("//td[@class='take']/a/@href")
    assert links == [f"cards/{name}.pdf" for name in card_ways.names_of(library().procedures[0])]
    cells = [" ".join(cell.text_content().split()) for cell in page.xpath("//tbody/tr[1]/td")]
    sides = "Left side. Anaesthesia: local; with drain Right side. Anaesthesia: local; with drain"
    assert cells == ["Local", "Yes", sides]
    published = html.document_fromstring((tmp_path / "public/example/index.html").read_bytes())
    assert published.xpath("//a[@href='cards.html']")


def test_without_cards_there_is_no_page_for_them(tmp_path: Path) -> None:
    publish_site(new_base(tmp_path), tmp_path / "public", ("site", "card"))
    assert not (tmp_path / "public/example/cards.html").exists()


def numbers_of_page(procedure: Procedure) -> dict[str, str]:
    """The number of each step, by its anchor, as the finished page shows it."""
    text = site_page.compose(demo(), procedure, renderer(DEMO)).text
    return dict(re.findall(r'<span data-number="([^"]+)">([^<]+)</span></span> <span class="title">', text))


@pytest.mark.slow
@pytest.mark.parametrize("id", DEMO_IDS)
def test_the_finished_card_of_each_way_has_two_sides_and_the_numbers_of_the_page(id: str) -> None:
    procedure = demo().by_id[id]
    numbers = numbers_of_page(procedure)
    assert set(numbers) == {block.anchor for block in step_blocks(outline(procedure))}
    for ticket in {ticket.way.name: ticket for ticket in card_ways.tickets_of(procedure)}.values():
        sides = sides_of(procedure.id, ticket.name)
        assert len(sides) == 2, ticket.name
        steps = [line for line in plan_of(demo(), procedure, ticket.way.choices) if line.section == "steps"]
        for line in steps:
            title = line.parts[0].text
            assert bare(f"{numbers[line.id]} {title}") in "".join(sides), (ticket.name, title)
            assert bare(f"{numbers[line.id]}9 {title}") not in "".join(sides), "the control"

"""The page of a procedure: what stands on it, in which order, and how it is marked up."""

from __future__ import annotations

from itertools import pairwise
from pathlib import Path

import pytest
from department import read
from lxml import html
from site_pages import texts

from builder.compose.document import Renderer
from builder.compose.site.page import compose
from builder.facts.calls import dialled
from builder.load.templates import load_templates
from builder.outputs import OUTPUTS


def test_a_caution_stands_before_the_heading_of_its_step(example: html.HtmlElement) -> None:
    marks = [one.get("id") for one in example.iter() if one.get("id")]
    assert marks.index("caution-nerve-injury") < marks.index("step-open-canal")
    assert marks.count("caution-nerve-injury") == 1


def test_a_caution_has_its_word_its_sign_and_its_way_out(example: html.HtmlElement) -> None:
    [caution] = example.xpath("//*[@id='caution-nerve-injury']")
    assert texts(caution, ".//*[@class='word']") == ["Warning"]
    assert caution.xpath(".//*[@class='word']/*[local-name()='svg']")
    assert "If it happens. Tell the supervising surgeon before closing." in texts(caution, ".//p")


def test_a_critical_step_is_marked_by_word_and_shape(example: html.HtmlElement) -> None:
    [step] = example.xpath("//section[@aria-labelledby='step-open-canal']")
    assert "critical" in step.get("class").split()
    assert "Critical step" in texts(step, ".//li")


def test_cue_and_if_not_stand_side_by_side(example: html.HtmlElement) -> None:
    [step] = example.xpath("//section[@aria-labelledby='step-open-canal']")
    assert texts(step, ".//*[@class='gate']/p") == [
        "Go on when The nerve is seen along its whole length.",
        "If not Stop, lengthen the skin cut and ask for the supervising surgeon.",
    ]


def test_a_choice_shows_all_its_ways_with_letters(example: html.HtmlElement) -> None:
    [choice] = example.xpath("//section[@data-choice='anaesthesia']")
    assert texts(choice, ".//h3[1]")[0] == "Choose: Anaesthesia"
    assert texts(choice, ".//*[@class='label']") == ["A Local", "B Spinal"]
    assert [text.split()[1] for text in texts(choice, ".//section//h3")] == ["2A", "2B"]


def test_nothing_hides_in_a_fold_or_a_tab(example: html.HtmlElement) -> None:
    hiding = (
        "//details[not(@open)]",
        "//dialog",
        "//*[@hidden]",
        "//*[@role='tab']",
        "//main//input",
        "//main//button",
    )
    assert not example.xpath(" | ".join(hiding))


def test_what_must_be_seen_is_in_no_part_that_a_small_screen_folds(example: html.HtmlElement) -> None:
    assert example.xpath("//details[@class='more']//p[@class='why']")
    musts = ("caution", "actions", "dose", "gate", "phone", "recall", "kit", "ticks", "timeline")
    for name in musts:
        inside = f"//details[not(parent::nav)]//*[contains(concat(' ', @class, ' '), ' {name} ')]"
        assert not example.xpath(inside), name
    assert not example.xpath("//details//*[@data-number][not(ancestor::nav)]")


def test_a_reference_is_promised_by_its_words_in_the_order_of_its_number(base: Path, example: html.HtmlElement) -> None:
    """A number alone would be found in any year or page."""
    library = read(base)[0]
    page = compose(library, library.procedures[0], Renderer(load_templates(base)))
    promised = ["".join(must.text.split()) for must in page.musts if must.kind == "reference"]
    shown = ["".join(text.split()) for text in texts(example, "//*[@class='references']/li")]
    assert promised
    assert all(line.startswith(words) for line, words in zip(shown, promised, strict=True))


def test_a_number_can_be_dialled_where_it_is_told(example: html.HtmlElement) -> None:
    for link in example.xpath("//*[@class='phone' or @class='call']//a"):
        assert link.get("href") == "tel:" + "".join(filter(str.isdigit, link.text))
    assert example.xpath("//section[@class]//*[@class='phone']/a")


@pytest.mark.parametrize(
    ("number", "address"),
    [
        ("extension 0001", "tel:0001"),
        ("01632 960 001", "tel:01632960001"),  # of the numbers that Ofcom keeps for drama
        ("+44 (0)1632 960001", "tel:+4401632960001"),
        ("bleep 1234", ""),
        ("0001 by day, 0002 at night", ""),
        ("ask switchboard", ""),
    ],
)
def test_only_what_a_telephone_dials_is_a_link(number: str, address: str) -> None:
    assert dialled(number) == address


def test_the_headings_never_skip_a_level(example: html.HtmlElement) -> None:
    levels = [int(one.tag[1]) for one in example.iter("h1", "h2", "h3", "h4", "h5", "h6")]
    assert levels.count(1) == 1
    assert all(after - before <= 1 for before, after in pairwise(levels))


def test_the_landmarks_are_there_and_named(example: html.HtmlElement) -> None:
    assert (
        len(example.xpath("//body/header")) == len(example.xpath("//main")) == len(example.xpath("//body/footer")) == 1
    )
    assert example.xpath("//nav/@aria-label") == ["Steps and parts of this page"]
    assert example.xpath("//body/a[1]/@href") == ["#main"]
    assert example.get("lang") == "en-GB"


def test_references_lead_to_the_text_and_back(example: html.HtmlElement) -> None:
    marks = set(example.xpath("//@id"))
    backs = example.xpath("//*[@class='back']/a/@href")
    assert backs
    assert {link[1:] for link in backs} <= marks
    assert {link[1:] for link in example.xpath("//sup/a/@href")} <= marks


def test_a_figure_has_its_pointers_numbered_and_named(example: html.HtmlElement) -> None:
    [figure] = example.xpath("//figure")
    assert figure.xpath(".//img/@alt") == ["The opened canal with the nerve lying on the cord."]
    assert texts(figure, ".//*[local-name()='text']") == ["1"]
    assert texts(figure, ".//ol/li") == ["ilioinguinal nerve"]
    assert "Picture: own drawing" in texts(figure, ".//p")


def test_a_dose_is_a_table_with_named_rows(example: html.HtmlElement) -> None:
    [table] = example.xpath("(//*[@class='dose'])[1]/table[1]")
    assert texts(table, "./caption") == ["lidocaine"]
    assert all(row.xpath("./th[@scope='row']") for row in table.xpath("./tbody/tr"))


def test_the_papers_are_offered(example: html.HtmlElement) -> None:
    assert {"handout.pdf", "card.pdf"} <= set(example.xpath("//*[@class='downloads']//a/@href"))


def test_the_page_says_what_was_not_checked(example: html.HtmlElement) -> None:
    [section] = example.xpath("//section[@aria-labelledby='checks']")
    said = " ".join(texts(section, ".//p"))
    assert "A passed check is not clinical approval." in said
    assert "Not checked: whether the teaching is right for your patient" in said


def test_the_page_claims_what_there_was_to_look_at_and_no_more(example: html.HtmlElement) -> None:
    [section] = example.xpath("//section[@aria-labelledby='checks']")
    claimed = texts(section, ".//li")
    assert "What must be seen is seen before anything is cut: 4 cuts in 2 of 8 steps." in claimed
    assert not [words for words in claimed if "Abbreviations" in words or "issued codes" in words]
    assert "14 of 17 statements rest on common practice without a source." in texts(section, ".//p[@class='gap']")


def test_a_draft_says_so_at_the_top(example: html.HtmlElement) -> None:
    assert texts(example, "//*[@class='standing']") == ["Draft: not approved"]


def test_the_usual_caution_is_on_every_page(site: Path) -> None:
    pages = list(site.rglob("*.html"))
    assert len(pages) > 2
    for path in pages:
        assert "local policy and the supervising clinician decide" in path.read_text(), path


def test_composing_twice_gives_equal_pages(base: Path) -> None:
    library, _ = read(base)
    renderer = Renderer(load_templates(base))
    assert compose(library, library.procedures[0], renderer) == compose(library, library.procedures[0], renderer)


def test_every_output_is_offered() -> None:
    """A new output that no page offers would never be found."""
    assert {row.name for row in OUTPUTS.rows if not row.shelf} == {"card-ways", "page", "evidence-table"}

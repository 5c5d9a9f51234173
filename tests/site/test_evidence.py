"""The evidence table of a procedure and the index of sources: whole, and the same as the files say."""

from __future__ import annotations

import csv
import re
from pathlib import Path

from lxml import html
from publishing import publish_site
from site_pages import page, texts

DEMO = Path(__file__).parents[2]


def test_every_caution_and_item_of_aftercare_has_its_row(site: Path) -> None:
    claims = texts(page(site, "example/evidence.html"), "//tbody/tr/th")
    assert any("ilioinguinal nerve is cut" in claim for claim in claims)
    base = DEMO / "tests/base/content"
    hazards = [re.search(r"^hazard: (.*)$", path.read_text(), re.MULTILINE)[1] for path in base.rglob("cautions/*.md")]
    used = [hazard for hazard in hazards if hazard in page(site, "example/index.html").text_content()]
    assert used
    assert all(any(hazard in claim for claim in claims) for hazard in used)


def test_the_table_says_what_backs_a_statement(site: Path) -> None:
    tree = page(site, "example/evidence.html")
    [row] = [row for row in tree.xpath("//tbody/tr") if "nerve is cut" in row.text_content()]
    assert "Nerve management during open hernia repair" in row.text_content()
    assert texts(row, "./td")[-1] == "2007"
    assert not [row for row in texts(tree, "//tbody/tr") if "nothing is stated" in row]


def test_the_same_is_there_as_csv(site: Path) -> None:
    rows = list(csv.DictReader((site / "example/evidence.csv").read_text().splitlines()))
    shown = texts(page(site, "example/evidence.html"), "//tbody/tr/th")
    assert {row["claim"] for row in rows} == set(shown)


def test_the_index_leads_from_a_source_to_the_procedure(site: Path) -> None:
    tree = page(site, "sources/index.html")
    [source] = [one for one in tree.xpath("//ol/li") if "Nerve management" in one.text_content()]
    assert source.xpath(".//ul//a/@href")
    assert set(source.xpath(".//ul//a/@href")) == {"../example/index.html"}
    assert len(tree.xpath("//ol[@class='sources']/li")) == (
        DEMO / "tests/base/references/sources.bib"
    ).read_text().count("@")


def test_a_withdrawn_source_is_marked_where_it_stands(base: Path, to: Path) -> None:
    notices = base / "references/notices"
    notices.mkdir(exist_ok=True)
    head = "# list: a test\n# dated: 2026-11-01\ndoi,pmid,kind,date,note,successor"
    (notices / "test.csv").write_text(f"{head}\n10.1002/bjs.5651,,retracted,2020-01-01,,\n")
    publish_site(base, to)
    marks: list[html.HtmlElement] = page(to, "sources/index.html").xpath("//*[@class='notice-mark']")
    assert ["Retracted" in one.text_content() for one in marks] == [True]
    assert "retracted" in " ".join(texts(page(to, "example/evidence.html"), "//*[@class='notice-mark']")).casefold()

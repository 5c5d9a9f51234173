"""Evidence tables, the index of sources and the review list: whole, in reading order, and the same as the files say."""

from __future__ import annotations

import csv
import io
import json
import re
from dataclasses import replace
from pathlib import Path

import papers
import pytest
from department import BASE, DEMO, read
from lxml import html
from publishing import publish_site
from site_pages import page, texts

from builder.compose.document import Document, Renderer
from builder.compose.evidence.evidence_index import compose as compose_table
from builder.compose.evidence.evidence_index import index, overviews, review
from builder.compose.evidence.evidence_pages import NO_LEVEL, NO_LOCATOR, Evidence, age_words, compose, evidence_of
from builder.facts.source_register import register
from builder.load.templates import load_templates
from builder.readback.site import page as page_proof
from builder.readback.text_files import TABLE

HERNIA = "open-mesh-inguinal-hernia"
NOTICES = """# list: a test
# dated: 2026-11-01
doi,pmid,kind,date,note,successor
10.1002/bjs.5651,,retracted,2020-01-01,,
"""
NERVE = "Nerve management during open hernia repair"


def _rows(path: Path) -> list[dict[str, str]]:
    return list(csv.DictReader(io.StringIO(path.read_text(encoding="utf-8-sig"), newline="")))


def _statements(tree: html.HtmlElement) -> list[str]:
    return texts(tree, "//tbody//th/a")


@pytest.fixture
def marked(base: Path, to: Path) -> Path:
    """The published base with a list that says one of its sources was retracted."""
    (base / "references/notices").mkdir(exist_ok=True)
    (base / "references/notices/test.csv").write_text(NOTICES, encoding="utf-8")
    publish_site(base, to)
    return to


def test_every_caution_and_item_of_aftercare_has_its_row(demo: Path) -> None:
    """Counted in the files of the demo, without our readers."""
    for folder in sorted((DEMO / "content/procedures").iterdir()):
        shown = _statements(page(demo, f"{folder.name}/evidence.html"))
        on_page = page(demo, f"{folder.name}/index.html").text_content()
        for name, key in (("cautions", "hazard"), ("aftercare", "title")):
            files = [*folder.glob(f"{name}/*.md"), *(DEMO / "content/shared").glob(f"{name}/*.md")]
            said = [
                re.search(rf"^{key}: (.*)$", one.read_text(encoding="utf-8"), re.MULTILINE)[1].strip("\"'")
                for one in files
                if one.is_relative_to(folder) or f"- {one.stem}\n" in (folder / "procedure.md").read_text("utf-8")
            ]
            assert [one for one in said if one in on_page and one not in shown] == []
            assert any(one in shown for one in said)


def test_statements_stand_in_the_reading_order_of_the_page(demo: Path) -> None:
    tree = page(demo, f"{HERNIA}/evidence.html")
    marks = [href.partition("#")[2] for href in tree.xpath("//tbody//th/a/@href")]
    ids = page(demo, f"{HERNIA}/index.html").xpath("//@id")
    places = [ids.index(mark) if mark else -1 for mark in marks]
    assert len(places) > 20
    assert places == sorted(places)
    assert texts(tree, "//caption") == ["Why and when", "Steps and their cautions", "Aftercare"]


def test_the_table_says_source_level_age_and_notices(site: Path) -> None:
    tree = page(site, "example/evidence.html")
    assert texts(tree, "(//thead)[1]//th") == ["Statement", "What backs it", "Where in it", "Level", "Age", "Notices"]
    [row] = [row for row in tree.xpath("//tbody/tr") if "nerve is cut" in row.text_content()]
    source, where, level, age, notices = texts(row, "./td")
    assert NERVE in source
    assert where
    assert level == NO_LEVEL or level in "12345"
    assert (age[-6:], notices) == ("(2007)", "none")
    assert not [row for row in texts(tree, "//tbody/tr") if "Nothing is stated" in row]


def unasked(rows: list[list[str]], cited: list[dict[str, str]]) -> list[str]:
    """The sources of ``cited`` that stand without locator or level and are not asked for it in ``rows``."""
    asked = {tuple(row[-5:-2]) for row in rows}
    wanted = [(use["source"], use["where"] or NO_LOCATOR, use["level"] or NO_LEVEL) for use in cited if use["key"]]
    return [source for source, where, level in wanted if (source, where, level) not in asked]


def test_a_source_without_page_or_level_is_shown_as_such_and_asked_for_it(demo: Path) -> None:
    tree, rows = page(demo, f"{HERNIA}/evidence.html"), _rows(demo / HERNIA / "evidence.csv")
    cells = [texts(row, "./td") for row in tree.xpath("//tbody/tr")]
    assert any(not row["where"] for row in rows if row["key"])
    assert unasked(cells, rows) == []
    assert unasked([[*row[:-4], "", *row[-3:]] for row in cells], rows), "the control"
    assert "do not say where in the source" in " ".join(texts(tree, "//p[@class='summary']"))


def test_every_table_has_caption_and_headers_with_scope(demo: Path) -> None:
    for path in [*demo.glob("*/evidence.html"), demo / "sources/review.html"]:
        for one in html.parse(str(path)).xpath("//table"):
            assert len(one.xpath("./caption[normalize-space()]")) == 1
            assert one.xpath("./thead//th[@scope='col']")
            for body in one.xpath("./tbody"):
                rows = body.xpath("./tr")
                assert sum(int(th.get("rowspan", "1")) for th in body.xpath(".//th[@scope]")) == len(rows)


def test_the_same_is_there_as_csv(demo: Path) -> None:
    rows = _rows(demo / HERNIA / "evidence.csv")
    claims = list(dict.fromkeys(row["claim"] for row in rows))
    assert claims == list(dict.fromkeys(_statements(page(demo, f"{HERNIA}/evidence.html"))))
    assert {"claim", "source", "level", "age", "notices"} <= rows[0].keys()


def test_tables_and_csv_are_artefacts_with_their_proofs(demo: Path) -> None:
    report = json.loads((demo / "build-report.json").read_text(encoding="utf-8"))
    found = {one["path"]: one for one in report["artefacts"] if one["kind"] == "evidence-table"}
    procedures = sorted(path.name for path in (DEMO / "content/procedures").iterdir())
    both = [f"{name}/evidence.{end}" for name in procedures for end in ("csv", "html")]
    assert sorted(found) == sorted(
        [*both, "sources/index.html", "sources/review.csv", "sources/review.html", "sources/sources.csv"]
    )
    assert all(one["checks"] for one in found.values())
    assert found[f"{HERNIA}/evidence.csv"]["procedure"] == HERNIA


def test_pages_lead_to_the_tables(demo: Path) -> None:
    assert "evidence.html" in page(demo, f"{HERNIA}/index.html").xpath("//a/@href")
    assert "./sources/index.html" in page(demo, "index.html").xpath("//a/@href")
    table = page(demo, f"{HERNIA}/evidence.html").xpath("//a/@href")
    assert {"evidence.csv", "../sources/index.html", "../sources/review.html"} <= set(table)


def test_every_mark_that_a_table_points_to_exists(demo: Path) -> None:
    for path in [*demo.glob("*/evidence.html"), *demo.glob("sources/*.html")]:
        for href in html.parse(str(path)).xpath("//main//a/@href"):
            name, _, mark = href.partition("#")
            if mark and name and "://" not in name:
                assert mark in page(demo, str((path.parent / name).resolve().relative_to(demo))).xpath("//@id"), href


def test_the_index_holds_every_source_and_everything_that_rests_on_it(demo: Path) -> None:
    tree = page(demo, "sources/index.html")
    library = papers.library(DEMO)
    found = register(library).sources
    entries = tree.xpath("//ol[@class='sources']/li")
    assert len(entries) == len(found) == len(library.sources)
    for entry, source in zip(entries, found.values(), strict=True):
        for claim, use in source.uses:
            assert f"{claim.words}{f' ({use.locator})' if use.locator else ''}" in " ".join(
                entry.text_content().split()
            )
        procedures = {id for claim, _ in source.uses for id in claim.procedures}
        assert {href.split("/")[1] for href in entry.xpath("./ul//a/@href")} == procedures
    written = {(row["key"], row["place"]) for row in _rows(demo / "sources/sources.csv") if row["place"]}
    assert written == {(key, str(use.source.at)) for key, one in found.items() for _, use in one.uses}


def test_a_withdrawn_source_is_marked_where_it_stands(marked: Path) -> None:
    marks = texts(page(marked, "sources/index.html"), "//*[@class='notice-mark']")
    assert [mark.startswith("⚠ Retracted 2020-01-01") for mark in marks] == [True]
    assert "Retracted 2020-01-01" in texts(page(marked, "example/evidence.html"), "//b[@class='notice-mark']")
    assert "test.csv of 1 November 2026" in page(marked, "example/evidence.html").text_content()
    assert {row["notices"] for row in _rows(marked / "example/evidence.csv") if NERVE in row["source"]} == {
        "retracted 2020-01-01"
    }


def test_what_rests_on_a_withdrawn_source_is_reviewed_first(marked: Path) -> None:
    rows = page(marked, "sources/review.html").xpath("//tbody/tr")
    doubted = [bool(row.xpath(".//b[@class='notice-mark']")) for row in rows]
    assert doubted[0]
    assert doubted == sorted(doubted, reverse=True)


def test_the_review_list_goes_by_risk_and_age_and_shows_its_sums(demo: Path) -> None:
    tree = page(demo, "sources/review.html")
    sums = [re.fullmatch(r"(\d) × (\d+) = (\d+)", one) for one in texts(tree, "//tbody/tr/td[3]")]
    assert len(sums) > 20
    weights = []
    for row, one in zip(tree.xpath("//tbody/tr"), sums, strict=True):
        assert one is not None
        risk, age, weight = (int(part) for part in one.groups())
        assert risk * age == weight
        assert f"({risk})" in row.text_content()
        assert f"{age} year" in row.text_content()
        weights.append(weight)
    assert weights == sorted(weights, reverse=True)
    assert [int(row["weight"]) for row in _rows(demo / "sources/review.csv")] == weights
    assert "not a published score" in tree.text_content()


@pytest.mark.parametrize(
    ("age", "year", "words"),
    [("19", "2007", "19 years (2007)"), ("1", "2025", "1 year (2025)"), ("0", "2026", "this year (2026)"),
     ("", "", "year unknown")],
)  # fmt: skip
def test_an_age_in_words(age: str, year: str, words: str) -> None:
    assert age_words(age, year) == words


# What read-back must catch


@pytest.fixture(scope="module")
def evidence() -> Evidence:
    return evidence_of(read(BASE)[0])


@pytest.fixture(scope="module")
def renderer() -> Renderer:
    return Renderer(load_templates(BASE))


@pytest.mark.parametrize("which", ["table", "index", "review"])
def test_a_page_that_loses_anything_it_promised_fails(
    which: str, evidence: Evidence, renderer: Renderer, tmp_path: Path
) -> None:
    made = {
        "table": lambda: compose(evidence.library, evidence.library.procedures[0], renderer),
        "index": lambda: index(evidence, renderer),
        "review": lambda: review(evidence, renderer),
    }[which]()
    tree = html.fromstring(made.text)
    lost = 0
    for row in tree.xpath("//tbody/tr | //ol/li | //ol/li/ul/li"):
        spoilt = html.fromstring(html.tostring(tree))
        twin = spoilt.xpath(tree.getroottree().getpath(row))[0]
        twin.getparent().remove(twin)
        path = tmp_path / "page.html"
        path.write_bytes(html.tostring(spoilt, encoding="utf-8"))
        problems = [one for one in page_proof.read_back(made, path).problems if "link" not in one]
        assert problems, row.text_content()
        lost += 1
    assert lost >= 3


def _csv(evidence: Evidence) -> Document:
    return compose_table(evidence.library, evidence.library.by_id["example"], Renderer({}))


def _problems(document: Document, raw: bytes, folder: Path) -> tuple[str, ...]:
    path = folder / "table.csv"
    path.write_bytes(raw)
    return TABLE.read_back(document, path).problems


def test_a_table_is_read_back_as_composed(evidence: Evidence, tmp_path: Path) -> None:
    for document in (_csv(evidence), *overviews(evidence)):
        assert _problems(replace(document, text=""), document.text.encode(), tmp_path) == ()


SPOILT = {
    "a row lost": lambda raw: b"\r\n".join(raw.split(b"\r\n")[:2] + raw.split(b"\r\n")[3:]),
    "the last row lost": lambda raw: b"\r\n".join(raw.split(b"\r\n")[:-2]) + b"\r\n",
    "a row twice": lambda raw: raw + raw.split(b"\r\n")[1] + b"\r\n",
    "rows exchanged": lambda raw: b"\r\n".join([raw.split(b"\r\n")[0], *raw.split(b"\r\n")[1:-1][::-1], b""]),
    "a cell changed": lambda raw: raw.replace(b"2007", b"2008", 1),
    "a cell lost": lambda raw: raw.replace(b",19,", b",", 1),
    "no mark of UTF-8": lambda raw: raw[3:],
    "no UTF-8": lambda raw: raw + b"\xff",
    "a formula": lambda raw: raw + b"=1+1,,,,,,,,,,\r\n",
    "empty": lambda _: b"",
}


@pytest.mark.parametrize("spoil", SPOILT.values(), ids=SPOILT.keys())
def test_a_spoilt_table_fails(spoil: object, evidence: Evidence, tmp_path: Path) -> None:
    document = _csv(evidence)
    raw = document.text.encode()
    spoilt = spoil(raw)  # type: ignore[operator]
    assert spoilt != raw
    assert _problems(document, spoilt, tmp_path) != ()

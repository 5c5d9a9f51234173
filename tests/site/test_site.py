"""The site as a whole: its first page, its search index, and what a visitor must not meet."""

from __future__ import annotations

import json
import re
import shutil
from pathlib import Path

import pytest
from department import lay
from publishing import publish_site
from site_pages import page, texts


def index(folder: Path) -> list[list[object]]:
    script = (folder / "search/places.js").read_text()
    return json.loads(script.removeprefix("window.searchIndex=").removesuffix(";\n"))


def test_the_first_page_lists_procedures_by_specialty(base: Path, to: Path) -> None:
    procedures = base / "content/procedures"
    for name, title, specialty in (
        ("b", "Bravo", "Urology"),
        ("a", "alpha", "urology"),
        ("c", "Charlie", "General  surgery"),
    ):
        shutil.copytree(procedures / "example", procedures / name)
        path = procedures / name / "procedure.md"
        text = re.sub(r"^title: .*$", f"title: {title}", path.read_text(), flags=re.MULTILINE)
        path.write_text(re.sub(r"^specialty: .*$", f"specialty: {specialty}", text, flags=re.MULTILINE))
    publish_site(base, to)
    front = page(to, "index.html")
    assert texts(front, "//section[@class='specialty']/h3") == ["General surgery", "Urology"]
    assert texts(front, "//*[@class='name']") == ["Charlie", "Opening and closing the inguinal canal", "alpha", "Bravo"]


def test_the_first_page_shows_the_state_of_review(base: Path, to: Path) -> None:
    path = base / "content/procedures/example/procedure.md"
    path.write_text(path.read_text().replace("2028-05-31", "2026-05-31"))
    publish_site(base, to)
    assert texts(page(to, "index.html"), "//*[@class='marks']/li") == [
        "Draft",
        "Edition 1.0",
        "Review was due 31 May 2026",
    ]
    assert texts(page(to, "example/index.html"), "//*[@class='standing']")[-1] == "Review was due by 31 May 2026"


def test_the_departments_prose_stands_on_the_first_page(site: Path) -> None:
    assert "Teaching material. Local policy and the supervising clinician decide." in texts(
        page(site, "index.html"), "//section//p"
    )


def test_the_index_holds_every_step_caution_and_item_of_aftercare(site: Path) -> None:
    [[name, title, sections]] = index(site)
    assert (name, title) == ("example/index.html", "Opening and closing the inguinal canal")
    marks = page(site, "example/index.html").xpath("//@id")
    anchors = [one[0] for one in sections]
    assert set(anchors) - {""} <= set(marks)
    wanted = [mark for mark in marks if re.fullmatch(r"(step|caution|aftercare)-(?!.*-word).*", mark)]
    assert set(wanted) <= set(anchors)


@pytest.mark.parametrize("word", ["lignocaine", "squiggle"])
def test_the_index_holds_words_of_the_prose_once(base: Path, to: Path, word: str) -> None:
    path = base / "content/procedures/example/steps/open-canal.md"
    path.write_text(f"{path.read_text()}\n{word} {word.upper()} {word}\n")
    publish_site(base, to)
    [[_, _, sections]] = index(to)
    [step] = [one for one in sections if one[0] == "step-open-canal"]
    assert step[3].split().count(word) == 1


def test_no_page_names_the_engine_or_asks_another_host(site: Path) -> None:
    for path in site.rglob("*.html"):
        text = path.read_text()
        assert not re.search(
            r"mkdocs|material for|mkdocs-material|md-|squidfunk|unpkg|googleapis", text, re.IGNORECASE
        ), path
        tree = page(site, path.relative_to(site).as_posix())
        for address in tree.xpath("//@src | //link[not(@rel='canonical')]/@href"):
            assert not re.match(r"(?!data:image/svg)[a-z]+:|//", address), (path, address)
        assert not tree.xpath("//@style | //@*[starts-with(name(), 'on')]")
        if path.name != "example.html":  # the single file, which carries its own policy
            assert not tree.xpath("//style | //script[not(@src)][not(@type)]"), "this would need a hole in the policy"


def test_nothing_of_the_theme_is_published(site: Path) -> None:
    found = {path.relative_to(site).parts[0] for path in site.rglob("*") if path.is_file()}
    ours = {
        "404.html",
        "C",
        "build-report.json",
        "example",
        "hosting",
        "index.html",
        "look",
        "search",
        "sources",
        "year",
    }
    assert found == {*ours, "sitemap.xml"}


def test_the_look_can_be_changed_by_the_department(base: Path, to: Path) -> None:
    footer = {"site_templates/site/footer.html.j2": "<footer><p>{{ usual_caution }}</p><p>Ours</p></footer>\n"}
    publish_site(lay(base, footer), to)
    assert "Ours" in texts(page(to, "example/index.html"), "//footer/p")


def test_without_an_address_there_are_no_absolute_links(base: Path, to: Path) -> None:
    path = base / "content/department.md"
    path.write_text(path.read_text().replace("site: https://surgery.example.org/\n", ""))
    publish_site(base, to)
    assert not page(to, "example/index.html").xpath("//link[@rel='canonical']")
    assert "https://surgery.example.org" not in (to / "index.html").read_text()

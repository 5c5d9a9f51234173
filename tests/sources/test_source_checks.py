"""Checks of single sources: complete, identified, once, of a year that has come, reviewed, abbreviated, used."""

from __future__ import annotations

from pathlib import Path

import pytest
from department import read

STEP = "content/procedures/example/steps/open-canal.md"
FILE = "references/own.bib"


def _found(base: Path, bib: str, *checks: str) -> list[tuple[str, str, str]]:
    """Return (id, place in own.bib, severity) of what ``checks`` find in a department that has ``bib`` as well."""
    (base / FILE).write_text(bib, encoding="utf-8")
    _, findings = read(base)
    return [
        (one.name, f"{one.at.line}:{one.at.column}", one.severity.value)
        for one in findings
        if one.at.file == FILE and one.name in checks
    ]


COMPLETE = {
    "article": "author={Ada Example}, title={T}, journal={Hernia}, year={2001}, volume={1}",
    "book": "author={Ada Example}, title={T}, publisher={P}, year={2001}",
    "incollection": "author={Ada Example}, title={T}, booktitle={B}, publisher={P}, year={2001}",
    "inproceedings": "author={Ada Example}, title={T}, booktitle={B}, year={2001}",
    "techreport": "author={Ada Example}, title={T}, institution={I}, year={2001}",
    "phdthesis": "author={Ada Example}, title={T}, school={S}, year={2001}",
    "online": "title={T}, url={https://example.org/}, urldate={2001-01-01}",
    "patent": "author={Ada Example}, title={T}, number={1}, year={2001}",
    "misc": "title={T}, year={2001}",
    "zebra": "author={Ada Example}, title={T}, year={2001}",
}
_EACH = [(kind, field) for kind, fields in COMPLETE.items() for field in fields.split(", ")]


@pytest.mark.parametrize("kind", list(COMPLETE))
def test_a_complete_source_lacks_nothing(base: Path, kind: str) -> None:
    assert _found(base, f"@{kind}{{x, {COMPLETE[kind]}}}", "source-field-missing") == []


@pytest.mark.parametrize(("kind", "field"), _EACH, ids=[f"{kind} without {field}" for kind, field in _EACH])
def test_each_missing_field_is_found_at_the_key(base: Path, kind: str, field: str) -> None:
    kept = ", ".join(one for one in COMPLETE[kind].split(", ") if one != field)
    severity = "note" if field.startswith("author") else "warning"
    assert _found(base, f"@{kind}{{x, {kept}}}", "source-field-missing") == [
        ("source-field-missing", f"1:{len(kind) + 3}", severity)
    ]


@pytest.mark.parametrize(
    ("field", "value"),
    [
        ("doi", "10.1002"), ("doi", "see 10.1002/bjs.5651"), ("pmid", "PMC123"), ("pmid", "123456789"),
        ("pmcid", "PMC"), ("isbn", "0306406153"), ("isbn", "0-306-40615-2, 9780306406158"), ("issn", "1050-1241"),
        ("orcid", "0000-0002-1825-0098"),
    ],
)  # fmt: skip
def test_a_wrong_identifier_is_found_at_its_field(base: Path, field: str, value: str) -> None:
    assert _found(base, f"@misc{{x,\n  title={{T}}, year=2001,\n  {field} = {{{value}}},\n}}", "identifier-wrong") == [
        ("identifier-wrong", "3:3", "error")
    ]


@pytest.mark.parametrize(
    ("field", "value"),
    [
        ("doi", "https://doi.org/10.1002/bjs.5651"), ("doi", "10.1002/(SICI)1(199806)49:8<693::AID-ASI4>3.0.CO;2-O"),
        ("doi", "10.1007/978-3-642-28108-2\\_19"), ("pmid", "PMID: 123"), ("pmcid", "PMC123"),
        ("isbn", "0-306-40615-2; 978-0-306-40615-7"), ("issn", "1050-124X"), ("orcid", "0000-0002-1694-233X"),
    ],
)  # fmt: skip
def test_a_right_identifier_is_left_alone(base: Path, field: str, value: str) -> None:
    assert _found(base, f"@misc{{x, title={{T}}, year=2001, {field} = {{{value}}}}}", "identifier-wrong") == []


ONE = "@article{one, title={Closing the canal}, year=2001, journal={Hernia}, volume=1, doi={10.1234/a}, pmid=11}\n"
TWICE = {
    "the DOI in capitals": ("@article{two, title={X}, year=2002, doi={https://doi.org/10.1234/A}}", True),
    "the PMID": ("@article{two, title={X}, year=2002, pmid={PMID: 11}}", True),
    "title and year": ("@article{two, title={{Closing} the Canal.}, year=2001}", True),
    "the title of another year": ("@article{two, title={Closing the canal}, year=2002}", False),
    "the title of a book": ("@book{two, title={Closing the canal}, year=2001}", False),
    "the title under another DOI": ("@article{two, title={Closing the canal}, year=2001, doi={10.1234/b}}", False),
    "the title under another PMID": ("@article{two, title={Closing the canal}, year=2001, pmid=12}", False),
}


@pytest.mark.parametrize(("other", "same"), TWICE.values(), ids=TWICE.keys())
def test_one_source_under_two_keys(base: Path, other: str, same: bool) -> None:
    place = f"2:{other.index('two') + 1}"
    assert _found(base, ONE + other, "source-twice") == ([("source-twice", place, "warning")] if same else [])


@pytest.mark.parametrize(
    ("field", "found"),
    [("year=2026", False), ("year=2027", True), ("date={2026-12-31}", False), ("date={2027-01-01}", True),
     ("year={c1995-2002}", False), ("year={in press}", True), ("year={MMXX}", True)],
)  # fmt: skip
def test_the_year_has_come(base: Path, field: str, found: bool) -> None:
    """Read on 2026-11-25."""
    bib = f"@misc{{x, title={{T}},\n  {field}}}"
    assert _found(base, bib, "source-from-the-future") == (
        [("source-from-the-future", "2:3", "error")] if found else []
    )


@pytest.mark.parametrize(
    ("fields", "found"),
    [
        ("journal={medRxiv}", True), ("eprinttype={arXiv}", True), ("pubstate={preprint}", True),
        ("doi={10.1101/2020.03.22.20040758}", True), ("doi={10.1101/069187}", True),
        ("doi={10.21203/rs.3.rs-1/v1}", True),
        # Cold Spring Harbor's journals share the prefix 10.1101 with its preprint servers.
        ("doi={10.1101/gr.229102}", False), ("journal={Hernia}", False), ("title={On preprints in medRxiv}", False),
    ],
)  # fmt: skip
def test_a_preprint_is_told(base: Path, fields: str, found: bool) -> None:
    bib = f"@article{{x, year=2020, {fields}}}"
    assert _found(base, bib, "source-is-preprint") == ([("source-is-preprint", "1:10", "warning")] if found else [])


@pytest.mark.parametrize(
    ("fields", "found"),
    [
        ("journal={Journal of Invented Wounds}", True), ("journal={Hernia}", False), ("journal={The Lancet}", False),
        ("journal={British Journal of Surgery}", False), ("journal={Br J Surg}", False),
        ("journal={Journal of Invented Wounds}, shortjournal={J Invent Wounds}", False),
    ],
)  # fmt: skip
def test_a_journal_without_known_abbreviation(base: Path, fields: str, found: bool) -> None:
    bib = f"@article{{x, title={{T}},\n  {fields}}}"
    assert _found(base, bib, "journal-in-full") == ([("journal-in-full", "2:3", "note")] if found else [])


def test_an_unused_source_is_a_note_at_its_key(base: Path) -> None:
    assert _found(base, ONE, "source-unused") == [("source-unused", "1:10", "note")]


def test_nothing_is_called_unused_while_a_page_cannot_be_read(base: Path) -> None:
    (base / STEP).write_text("---\ntitle: [\n---\n", encoding="utf-8")
    assert _found(base, ONE, "source-unused") == []


def test_without_any_list_of_notices_one_note_says_so(base: Path) -> None:
    (base / "references" / "notices" / "retracted.csv").unlink()
    _, findings = read(base)
    assert [one.name for one in findings] == ["notices-missing"]

"""Identifiers with and without check digits, against values worked out outside the project."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from builder.facts.identities import NHS, identities
from builder.load.sources.identifiers import (
    doi_of,
    is_doi,
    is_isbn,
    is_issn,
    is_orcid,
    is_pmid,
    pmid_of,
    same_doi,
)

# Rows with the standard each follows (`source`): ISO 2108, ISO 3297, ISO 7064, the NHS number's modulus 11, Crossref's
# pattern for DOIs of 11 Aug 2015, and NLM's form of a PMID.
ROWS = json.loads((Path(__file__).parent / "data" / "identifiers.json").read_text(encoding="utf-8"))


def is_nhs_number(written: str) -> bool:
    """Tell whether ``written`` would be found as the number of a patient."""
    return any(found.kind == NHS for found in identities(written))


CHECKS: dict[str, Callable[[str], bool]] = {
    "ISBN": is_isbn,
    "ISSN": is_issn,
    "ORCID": is_orcid,
    "NHS": is_nhs_number,
    "Crossref": lambda written: is_doi(doi_of(written)),
}
# Where we judge otherwise than the row's own rule, and why.
OTHERWISE = {
    "NHS 0000000000": "ten equal digits pass modulus 11 and are nobody's number",
    "NHS 9999999999": "ten equal digits pass modulus 11 and are nobody's number",
    "Crossref pattern on 10.1002/(SICI)1097-4571(199806)49:8<693::AID-ASI4>3.0.CO;2-O": "a real DOI; the pattern "
    "is said by Crossref to miss those of Wiley",
    "Crossref pattern on 10.1038/nphys1170.": "the full stop belongs to the sentence it was copied from",
    "Crossref pattern on 10x1038/nphys1170": "the dot of the printed pattern takes any sign; a DOI has a dot",
}
SINGLE = [row for row in ROWS if isinstance(row["expected"], bool)]


@pytest.mark.parametrize("row", SINGLE, ids=[row["name"] for row in SINGLE])
def test_row(row: dict[str, Any]) -> None:
    check = CHECKS[row["name"].split()[0]]
    assert check(row["input"]) is (row["expected"] is not (row["name"] in OTHERWISE))


def test_every_kind_is_there_and_no_exception_is_idle() -> None:
    assert {row["name"].split()[0] for row in SINGLE} == set(CHECKS)
    assert {row["name"] for row in SINGLE} >= set(OTHERWISE)


def test_pmid_rows() -> None:
    row = next(row for row in ROWS if row["name"] == "PMID form")
    assert [is_pmid(pmid_of(written)) for written in row["input"]] == row["expected"]


def test_no_tenth_digit_fits_where_the_check_would_be_ten() -> None:
    row = next(row for row in ROWS if row["name"].startswith("NHS first nine"))
    assert not any(is_nhs_number(f"{nine}{digit}") for nine in row["input"] for digit in range(10))


@given(st.integers(100_000_000, 999_999_999))
def test_at_most_one_tenth_digit_fits(nine: int) -> None:
    """A check digit by modulus 11: one digit, or none where it would be 10."""
    fitting = [digit for digit in range(10) if is_nhs_number(f"{nine}{digit}")]
    weighted = sum(int(sign) * weight for sign, weight in zip(str(nine), range(10, 1, -1), strict=True))
    expected = -weighted % 11
    equal = len(set(f"{nine}{expected}")) == 1
    assert fitting == ([expected] if expected < 10 and not equal else [])


@pytest.mark.parametrize(
    "written",
    ["10.1002/bjs.5651", "https://doi.org/10.1002/BJS.5651", "doi:10.1002/bjs.5651", "http://dx.doi.org/10.1002/bjs.5651",
     "DOI: 10.1002/bjs.5651", "{10.1002/bjs.5651}"],
)  # fmt: skip
def test_a_doi_is_the_same_however_it_is_written(written: str) -> None:
    assert same_doi(written) == "10.1002/bjs.5651"


@pytest.mark.parametrize("written", ["", "10.1002/", "10.1002/bjs.5651)", "10.1002/bjs 5651", "bjs.5651", "10.1002/a,"])
def test_what_is_no_doi(written: str) -> None:
    assert not is_doi(doi_of(written))

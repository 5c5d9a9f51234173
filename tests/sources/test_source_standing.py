"""Retracted, doubted and superseded sources are found wherever they are cited, at the right place and severity."""

from __future__ import annotations

import csv
import re
import shutil
from datetime import date
from pathlib import Path

import pytest
from department import Overlay, read
from hypothesis import given
from hypothesis import strategies as st

from builder.facts.claims import ClaimKind, claims
from builder.findings.finding import Severity
from builder.load.sources.notices import read_notices
from builder.load.sources.notices_export import read_export
from builder.model.library import Library
from builder.write.sources_file import SourcesNotAdded, add_notices

PROJECT = Path(__file__).parents[2]
# Six papers that were retracted, with the notice of each; confirmed in published text before they were put here.
RETRACTED = (Path(__file__).parent / "data" / "retracted.csv").read_text(encoding="utf-8")
DOIS = [row["doi"] for row in csv.DictReader(RETRACTED.splitlines())]
PLANTED = "planted-retraction"


@pytest.fixture(scope="module")
def demo(tmp_path_factory: pytest.TempPathFactory) -> Library:
    """A copy of the demo department, with its own list of notices: nothing that it cites was retracted."""
    root = tmp_path_factory.mktemp("demo")
    for folder in ("content", "references"):
        shutil.copytree(PROJECT / folder, root / folder)
    library, findings = read(root)
    assert [one for one in findings if one.name == "source-retracted"] == []
    return library


def _targets(library: Library) -> dict[ClaimKind, str]:
    """Return one file of the demo for each kind of claim; a dose that is written as a block of its own."""
    found: dict[ClaimKind, str] = {}
    for claim in claims(library):
        text = (library.root / claim.at.file).read_text(encoding="utf-8")
        if claim.kind is not ClaimKind.DOSE or re.search(r"^  drug: ", text, re.MULTILINE):
            found.setdefault(claim.kind, claim.at.file)
    return found


def _plant(path: Path, kind: ClaimKind) -> tuple[int, int]:
    """Cite the planted source in the file, in place of what it cites; return the line and column of the key."""
    text = path.read_text(encoding="utf-8")
    if kind is ClaimKind.DOSE:
        text = re.sub(r"^  (?:evidence: \[.*\]|common_practice: true)\n", "", text, flags=re.MULTILINE)
        text = re.sub(r"^(  drug: .*\n)", rf"\1  evidence: [{PLANTED}]\n", text, count=1, flags=re.MULTILINE)
    elif kind is ClaimKind.PAGE:
        text += f"\nAs [it was said](source:{PLANTED}).\n"
    else:
        head, body = text.split("\n---\n", 1)
        head = re.sub(r"^evidence:(?: \[.*\]|(?:\n +- .*|\n +.*)*)$\n?", "", head, flags=re.MULTILINE)
        text = f"{head.rstrip()}\nevidence: [{PLANTED}]\n---\n{body}"
    path.write_text(text, encoding="utf-8")
    line = text[: text.index(PLANTED)].count("\n") + 1
    return line, text.split("\n")[line - 1].index(PLANTED) + 1


SEVERITIES = dict.fromkeys(ClaimKind, Severity.ERROR)
"""The procedures of the demo are in review, and from there on a retracted source blocks wherever it is cited."""


@pytest.mark.parametrize("doi", DOIS)
def test_a_retracted_paper_planted_into_the_demo_is_found(demo: Library, tmp_path: Path, doi: str) -> None:
    root = Path(shutil.copytree(demo.root, tmp_path / "planted"))
    entry = f"@article{{{PLANTED},\n  author = {{A, B}},\n  title = {{T}},\n  year = 2010,\n"
    entry += f"  doi = {{{doi.upper()}}},\n}}\n"
    (root / "references" / "planted.bib").write_text(entry, encoding="utf-8")
    targets = _targets(demo)
    assert set(targets) == set(ClaimKind)
    expected = set()
    for kind, file in targets.items():
        line, column = _plant(root / file, kind)
        expected.add((f"{file}:{line}:{column}", SEVERITIES[kind]))
    _, findings = read(root)
    assert {(str(one.at), one.severity) for one in findings if one.name == "source-retracted"} == expected


def test_every_retracted_paper_stands_in_the_list_of_the_demo() -> None:
    text = (PROJECT / "references" / "notices" / "retracted.csv").read_text(encoding="utf-8")
    listed = read_notices(text, "retracted.csv")
    assert listed.faults == ()
    assert {notice.doi for notice in listed.notices} == {doi.lower() for doi in DOIS}


def test_a_retracted_source_that_nothing_cites_is_shown_in_the_bib(overlay: Overlay) -> None:
    root = overlay({"references/x.bib": "@article{x,\n  title={T},\n  doi={10.1056/NEJMoa2007621},\n}\n"})
    _, findings = read(root)
    assert [(str(one.at), one.severity) for one in findings if one.name == "source-retracted"] == [
        ("references/x.bib:1:10", Severity.WARNING)
    ]


def test_a_source_is_matched_by_pmid_alone(overlay: Overlay) -> None:
    notices = "# dated: 2026-11-01\ndoi,pmid,kind,date,note\n,12529464,retracted,2020,\n"
    _, findings = read(overlay({"references/notices/more.csv": notices}))
    assert {one.severity for one in findings if one.name == "source-retracted"}
    assert all("retained-items-risk-2003" in one.message for one in findings if one.name == "source-retracted")


def test_a_superseded_guideline_names_its_successor(overlay: Overlay) -> None:
    notices = "# dated: 2026-11-01\ndoi,pmid,kind,date,note,successor\n"
    notices += "10.1002/bjs.5651,,superseded,2023,,10.1093/bjsopen/zrad080\n"
    _, findings = read(overlay({"references/notices/more.csv": notices}))
    found = [one for one in findings if one.name == "source-superseded"]
    assert found
    assert all(one.message.endswith("by 10.1093/bjsopen/zrad080") for one in found)


@pytest.mark.parametrize(
    ("dated", "found"),
    [
        ("2025-11-26", 0),
        ("2025-11-25", 0),
        ("2025-11-24", 1),
        ("2026-11-25", 0),
        ("2026-11-26", 1),
        ("", 1),
        ("soon", 0),
    ],
)
def test_the_age_of_a_list(overlay: Overlay, dated: str, found: int) -> None:
    """Read on 2026-11-25 with a limit of 12 months; on the day itself a list is not yet older than that."""
    head = f"# dated: {dated}\n" if dated else ""
    text = f"{head}doi,pmid,kind,date,note\n10.1234/a,,retracted,2020,\n"
    _, findings = read(overlay({"references/notices/retracted.csv": text}))
    assert len([one for one in findings if one.name == "notices-out-of-date"]) == found
    assert len([one for one in findings if one.name == "notices-unreadable"]) == (dated == "soon")


def test_a_list_kept_by_a_spreadsheet_is_read() -> None:
    text = '"# dated: 2026-11-01",,,,\r\ndoi,pmid,kind,date,note\r\n'
    text += '10.1234/a,,Retracted,2020-01-02,"one, ""two"""\r\n,,,,\r\n'
    listed = read_notices(text, "x.csv")
    assert (listed.faults, listed.dated) == ((), date(2026, 11, 1))
    assert [(one.note, one.at.line) for one in listed.notices] == [('one, "two"', 3)]


FAULTS = {
    "10.1234/a,,withdrawn,2020,": "3:12",
    ",,retracted,2020,": "3:1",
    "10.1234,,retracted,2020,": "3:1",
    ",012,retracted,2020,": "3:2",
    "10.1234/a,,retracted,June,": "3:22",
    "10.1234/a,,retracted": "3:1",
    '10.1234/a,,retracted,2020,"open': "3:1",
    "10.1234/a,,superseded,2020,": "3:1",
}


@pytest.mark.parametrize("row", list(FAULTS))
def test_a_bad_row_is_an_error_at_its_place_and_the_others_are_kept(row: str) -> None:
    text = f"# dated: 2026-11-01\ndoi,pmid,kind,date,note\n{row}\n"
    before = "10.1234/b,,retracted,2020,\n"
    alone = read_notices(text, "x.csv")
    assert [f"{one.at.line}:{one.at.column}" for one in alone.faults] == [FAULTS[row]]
    both = read_notices(text.replace(f"{row}\n", f"{before}{row}\n"), "x.csv")
    assert [one.doi for one in both.notices] == ["10.1234/b"]
    assert [one.at.line for one in both.faults] == [4]


@given(st.text(max_size=200), st.lists(st.text(max_size=12), min_size=5, max_size=5))
def test_no_text_makes_the_readers_of_lists_raise(text: str, cells: list[str]) -> None:
    row = ",".join(f'"{cell}"' if number % 2 else cell for number, cell in enumerate(cells))
    read_notices(text, "x.csv")
    read_notices(f"# dated: {text}\ndoi,pmid,kind,date,note\n{row}\n{text}", "x.csv")
    read_export(text, "x.csv", {}, date(2026, 11, 25))
    read_export(f"{EXPORT}{row}\n{text}", "x.csv", {}, date(2026, 11, 25))


# The columns and forms of dates are those that programs in public repositories read from such exports.
EXPORT = (
    "Record ID,Title,Subject,Institution,Journal,Publisher,Country,Author,URLS,ArticleType,RetractionDate,"
    "RetractionDOI,RetractionPubMedID,OriginalPaperDate,OriginalPaperDOI,OriginalPaperPubMedID,RetractionNature,Reason,"
    "Paywalled,Notes\n"
)


def _row(nature: str, day: str, doi: str = "10.1002/BJS.5651", pmid: str = "0", reason: str = "+Fabrication;") -> str:
    return f'1,"A, title",,,,,,,,,{day},10.9999/notice,0,1/1/2007 0:00,{doi},{pmid},{nature},{reason},No,\n'


def _kept(base: Path, *rows: str) -> list[tuple[str, str, str]]:
    library, _ = read(base)
    export = read_export(EXPORT + "".join(rows), "export.csv", library.sources, library.today)
    return [(row[0].lower() or row[1], row[2], row[3]) for row in export.kept]


def test_an_export_keeps_what_concerns_us(base: Path) -> None:
    rows = [
        _row("Retraction", "3/1/2024 0:00"),
        _row("Retraction", "3/2/2024 0:00", doi="10.1234/others"),
        _row("Expression of concern", "2023-05-06", doi="unavailable", pmid="12529464"),
        _row("Correction", "1/2/2023 0:00"),
    ]
    assert _kept(base, *rows) == [
        ("12529464", "concern", "2023-05-06"),
        ("10.1002/bjs.5651", "retracted", "2024-03-01"),
        ("10.1002/bjs.5651", "corrected", "2023-01-02"),
    ]


def test_a_later_reinstatement_takes_a_retraction_back(base: Path) -> None:
    retraction, back = _row("Retraction", "3/1/2020 0:00"), _row("Reinstatement", "3/1/2021 0:00")
    assert _kept(base, retraction, back) == []
    assert _kept(base, back, retraction) == []
    again = _row("Retraction", "3/1/2022 0:00")
    assert [kind for _, kind, _ in _kept(base, retraction, back, again)] == ["retracted"]


def test_the_written_list_is_read_by_check_and_carries_its_day(base: Path) -> None:
    library, _ = read(base)
    text = EXPORT + _row("Retraction", "3/1/2024 0:00") + _row("Retraction", "11/20/2026 0:00", doi="10.1234/others")
    export = read_export(text, "Public Export.csv", library.sources, library.today)
    name = add_notices(base, Path("somewhere/Public Export.csv"), export)
    assert name == "references/notices/public-export.csv"
    assert (base / name).read_text(encoding="utf-8") == (
        "# list: notices on sources of this department, from Public Export.csv (2 rows)\n"
        "# dated: 2026-11-20\n"
        "doi,pmid,kind,date,note,successor\n"
        "10.1002/BJS.5651,,retracted,2024-03-01,Fabrication; notice 10.9999/notice,\n"
    )
    _, findings = read(base)
    assert {one.name for one in findings} == {"source-retracted"}


def test_what_is_no_export_changes_nothing(base: Path) -> None:
    library, _ = read(base)
    export = read_export("a,b\n1,2\n", "other.csv", library.sources, library.today)
    with pytest.raises(SourcesNotAdded) as caught:
        add_notices(base, Path("other.csv"), export)
    assert "no column" in caught.value.findings[0].message
    assert not (base / "references" / "notices" / "other.csv").exists()


def test_an_unknown_nature_of_a_notice_on_one_of_ours_is_told(base: Path) -> None:
    library, _ = read(base)
    text = EXPORT + _row("Withdrawal pending", "3/1/2024 0:00")
    export = read_export(text, "export.csv", library.sources, library.today)
    assert [(str(one.at), "Withdrawal pending" in one.message) for one in export.faults] == [("export.csv:2:1", True)]

"""Adding sources to a department: no doubles, nothing lost, all or nothing."""

from __future__ import annotations

from pathlib import Path

import pytest
from department import read

from builder.load.sources.import_file import read_records
from builder.load.sources.record import Name, Record
from builder.write.sources_file import SourcesNotAdded, add_sources, merge, proposed_key

FILE = "references/sources.bib"
KNOWN = {
    "the DOI in capitals": "TY  - JOUR\nTI  - Another title\nDO  - https://doi.org/10.1002/BJS.5651\nER  - \n",
    "the PMID": "PMID- 12529464\nTI  - Another title.\n",
    "title and year": '[{"title": "Nerve Management during open hernia repair.", "issued": {"date-parts": [[2007]]}}]',
}


@pytest.mark.parametrize("text", KNOWN.values(), ids=KNOWN.keys())
def test_what_is_there_is_not_added_again(base: Path, text: str) -> None:
    before = (base / FILE).read_bytes()
    library, _ = read(base)
    merged = add_sources(base, library.sources, read_records(text, "found").records)
    assert [key for _, key in merged.known] == [
        "retained-items-risk-2003" if "PMID" in text else "hernia-nerve-management-2007"
    ]
    assert merged.added == ()
    assert (base / FILE).read_bytes() == before


def test_new_sources_come_behind_the_old_text_byte_for_byte(base: Path) -> None:
    old = "% our sources, kept by hand\n" + (base / FILE).read_text(encoding="utf-8") + "\n% the end\n"
    (base / FILE).write_text(old, encoding="utf-8")
    library, _ = read(base)
    text = "TY  - JOUR\nTI  - Closing the “canal” & more\nAU  - Müller, Ök\nPY  - 2020\nJO  - Hernia\nVL  - 1\nER  - \n"
    merged = add_sources(base, library.sources, read_records(text, "found.ris").records)
    assert [key for key, _ in merged.added] == ["muller-closing-canal-more-2020"]
    assert (base / FILE).read_text(encoding="utf-8").startswith(old.rstrip("\n"))
    again, findings = read(base)
    assert [str(one.at) for one in findings if one.name != "source-unused"] == []
    assert again.sources["muller-closing-canal-more-2020"].fields["title"] == "Closing the “canal” \\& more"
    assert add_sources(base, again.sources, read_records(text, "found.ris").records).added == ()


def test_two_alike_in_one_file_are_added_once(base: Path) -> None:
    library, _ = read(base)
    record = "TY  - JOUR\nTI  - Twice\nPY  - 2020\nER  - \n"
    merged = merge(library.sources, read_records(record * 2, "x.ris").records)
    assert (len(merged.added), len(merged.known)) == (1, 1)


def test_same_title_and_year_with_another_doi_is_another_paper(base: Path) -> None:
    library, _ = read(base)
    text = "TY  - JOUR\nTI  - Nerve management during open hernia repair\nPY  - 2007\nDO  - 10.1234/other\nER  - \n"
    assert len(merge(library.sources, read_records(text, "x.ris").records).added) == 1


def test_what_a_known_source_lacks_is_told_and_not_written(base: Path) -> None:
    library, _ = read(base)
    text = "TY  - JOUR\nTI  - x\nDO  - 10.1002/bjs.5651\nAN  - 17203498\nVL  - 94\nER  - \n"
    merged = merge(library.sources, read_records(text, "x.ris").records)
    assert merged.more == {"hernia-nerve-management-2007": {"pmid": "17203498"}}


def test_what_is_whole_of_a_broken_file_is_added_and_nothing_twice(base: Path) -> None:
    before = (base / FILE).read_text(encoding="utf-8")
    library, _ = read(base)
    text = "TY  - JOUR\nTI  - New\nPY  - 2020\nER  - \nTY  - JOUR\nTI  - Cut off\n"
    merged = add_sources(base, library.sources, read_records(text, "cut.ris").records)
    assert [key for key, _ in merged.added] == ["new-2020"]
    after = (base / FILE).read_text(encoding="utf-8")
    assert after.startswith(before.rstrip("\n"))
    assert "Cut off" not in after
    assert not list((base / "references").glob(".*"))
    whole = read_records(text + "ER  - \n", "cut.ris").records
    again = add_sources(base, read(base)[0].sources, whole)
    assert ([key for key, _ in again.added], [key for _, key in again.known]) == (["cut-off"], ["new-2020"])


def test_a_record_without_a_title_is_known_by_its_doi_or_left_out(base: Path) -> None:
    library, _ = read(base)
    text = "TY  - JOUR\nDO  - 10.1002/bjs.5651\nER  - \nTY  - JOUR\nDO  - 10.1234/x\nER  - \n"
    merged = add_sources(base, library.sources, read_records(text, "x.ris").records)
    assert (merged.added, [key for _, key in merged.known]) == ((), ["hernia-nerve-management-2007"])
    assert [(str(one.at), one.name) for one in merged.findings] == [("x.ris:4:1", "record-without-title")]
    assert "(DOI 10.1234/x)" in merged.findings[0].message


def test_a_register_that_is_broken_itself_is_left_alone(base: Path) -> None:
    broken = (base / FILE).read_text(encoding="utf-8") + "\n@article{half,\n  title = {Half\n"
    (base / FILE).write_text(broken, encoding="utf-8")
    library, _ = read(base)
    with pytest.raises(SourcesNotAdded) as caught:
        add_sources(base, library.sources, read_records("TY  - JOUR\nTI  - New\nER  - \n", "x.ris").records)
    assert caught.value.findings[0].at.file == FILE
    assert (base / FILE).read_text(encoding="utf-8") == broken


def test_a_link_is_not_written_through(base: Path, tmp_path: Path) -> None:
    elsewhere = tmp_path / "elsewhere.bib"
    elsewhere.write_text("", encoding="utf-8")
    (base / FILE).unlink()
    (base / FILE).symlink_to(elsewhere)
    with pytest.raises(SourcesNotAdded):
        add_sources(base, {}, read_records("TY  - JOUR\nTI  - New\nER  - \n", "x.ris").records)
    assert elsewhere.read_text(encoding="utf-8") == ""


def test_a_first_file_is_made(base: Path) -> None:
    (base / FILE).unlink()
    add_sources(base, {}, read_records("TY  - JOUR\nTI  - New\nPY  - 2020\nER  - \n", "x.ris").records)
    assert (base / FILE).read_text(encoding="utf-8").startswith("@article{new-2020,\n")


@pytest.mark.parametrize(
    ("people", "title", "year", "taken", "key"),
    [
        ((Name("van der Berg", "A."),), "On the nerve of the groin", "2001", (), "berg-nerve-groin-2001"),
        ((Name("HerniaSurge Group", group=True),), "Groin hernia", "2018", (), "herniasurge-groin-hernia-2018"),
        ((), "Groin hernia", "", (), "groin-hernia"),
        ((Name("Berg", "A."),), "Nerve", "2001", ("berg-nerve-2001",), "berg-nerve-2001-2"),
        ((Name("Berg", "A."),), "Nerve", "2001", ("BERG-nerve-2001", "berg-nerve-2001-2"), "berg-nerve-2001-3"),
        ((Name("手術", ""),), "手術", "2001", (), "article-2001"),
        ((), "手術", "", (), "article"),
        ((), "手術", "", ("article",), "article-2"),
        ((Name("Łuk-Øst", "A."),), "Größe", "2001", (), "ost-grosse-2001"),
    ],
)
def test_proposed_keys(people: tuple[Name, ...], title: str, year: str, taken: tuple[str, ...], key: str) -> None:
    fields = {"title": title} | ({"year": year} if year else {})
    assert proposed_key(Record("article", fields, {"author": people}), taken) == key


def test_a_good_key_of_its_own_is_kept() -> None:
    record = Record("article", {"title": "Nerve"}, {}, key="nerve-care-2007")
    assert proposed_key(record, ()) == "nerve-care-2007"
    assert proposed_key(record, ("nerve-care-2007",)) == "nerve"

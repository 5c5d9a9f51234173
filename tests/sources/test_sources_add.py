"""``prescrub sources add`` with files as databases and managers of references export them: invented, in real shapes."""

from __future__ import annotations

import re
import shutil
from pathlib import Path

import pytest
from department import read

from builder.cli import main
from builder.load.sources.import_file import read_import
from builder.write import sources_file
from builder.write.lock import NotWritten

EXPORTS = Path(__file__).parent / "data" / "exports"
FILE = "references/sources.bib"

# How many sources a file holds, and what is found in it: place, name and how the message goes on.
EXPECTED: dict[str, tuple[int, list[tuple[str, str, str]]]] = {
    "numbered.ris": (2, [("1:1", "lines-passed-over", "2 lines between the records were passed over: '1.', '2.'")]),
    "provider-lines.ris": (2, [("1:1", "lines-passed-over", "10 lines between the records were passed over: 'Record")]),
    "joined-pages.ris": (2, [("12:1", "lines-passed-over", "2 lines between the records were passed over")]),
    "wrapped-lines.ris": (1, []),
    "untitled.ris": (3, []),
    "torn.ris": (2, [("10:1", "record-unreadable", "'AU  - Lost, Ann': the 3 lines from here belong to no record"),
                     ("22:1", "record-unreadable", "the record that begins here has no end")]),
    "web-of-science.ris": (0, [("1:1", "export-not-recognised", "web-of-science.ris holds records with Web")]),
    "endnote-tags.ris": (0, [("1:1", "export-not-recognised", "endnote-tags.ris holds records with EndNote's tags")]),
    "refworks-tags.txt": (0, [("1:1", "export-not-recognised", "refworks-tags.txt holds records with RefWorks")]),
    "records.xml": (0, [("1:1", "export-not-recognised", "records.xml holds XML, which cannot be read")]),
    "pubmed-in.ris": (2, [("2:1", "record-was-corrected", "PubMed says that 99000001 was corrected: J In"),
                          ("12:1", "record-was-retracted", "PubMed says that 99000002 was retracted: J In"),
                          ("12:1", "record-in-doubt", "PubMed says that 99000002 is under an expression of concern"),
                          ("1:1", "lines-passed-over", "2 lines between the records were passed over: '1:', '2:'"),
                          ("1:1", "export-not-as-named", "pubmed-in.ris holds PubMed records; it was read as such")]),
    "ris-in.nbib": (1, [("1:1", "export-not-as-named", "ris-in.nbib holds RIS records; it was read as such")]),
    "other-script.ris": (1, []),
    "retracted-title.txt": (2, [("1:10", "record-was-retracted", "'RETRACTED: Sponges that dissolve, again': ")]),
}  # fmt: skip


def test_every_file_is_expected() -> None:
    assert sorted(path.name for path in EXPORTS.iterdir()) == sorted(EXPECTED)


@pytest.mark.parametrize("name", EXPECTED)
def test_an_export_is_read_and_what_is_wrong_is_named_once(name: str) -> None:
    count, expected = EXPECTED[name]
    found = read_import(EXPORTS / name)
    assert len(found.records) == count
    assert sorted((str(one.at), one.name) for one in found.findings) == sorted(
        (f"{name}:{place}", kind) for place, kind, _ in expected
    )
    for _, kind, message in expected:
        assert any(one.name == kind and one.message.startswith(message) for one in found.findings)


def test_lines_that_go_on_are_kept_whole() -> None:
    (record,) = read_import(EXPORTS / "wrapped-lines.ris").records
    fields = dict(record.fields)
    assert fields["abstract"] == "Background: a first line goes on in a second and in a third."
    assert fields["note"] == "first note * second note"
    assert fields["keywords"] == "mesh, hernia, chronic pain"
    assert (fields["issn"], fields["doi"]) == ("1234-5679", "10.1234/invented.2014.7")
    assert "pages" not in fields


def _added(base: Path, name: str, capsys: pytest.CaptureFixture[str]) -> tuple[int, list[str]]:
    code = main(["sources", "add", str(EXPORTS / name), str(base)])
    shown = capsys.readouterr()
    assert shown.err == ""
    return code, shown.out.splitlines()


@pytest.mark.parametrize("name", EXPECTED)
def test_an_export_is_added_and_the_register_stays_in_order(
    name: str, base: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    before = (base / FILE).read_text(encoding="utf-8")
    code, lines = _added(base, name, capsys)
    count, _ = EXPECTED[name]
    keys = [line.split()[1] for line in lines if line.startswith("added")]
    untitled = sum("record-without-title" in line for line in lines)
    assert len(keys) + untitled == count
    assert code == any(": error " in line for line in lines)
    assert "source" not in keys
    assert (base / FILE).read_text(encoding="utf-8").startswith(before.rstrip("\n"))
    library, findings = read(base)
    assert set(keys) <= set(library.sources)
    assert not [one for one in findings if one.name == "sources-unreadable"]
    again, lines = _added(base, name, capsys)
    assert (again, [line for line in lines if line.startswith("added")]) == (code, [])


def test_a_record_without_a_title_is_named_and_the_others_are_added(
    base: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    code, lines = _added(base, "untitled.ris", capsys)
    assert code == 1
    assert lines[0] == (
        "untitled.ris:11:1: error record-without-title: "
        "the record that begins here has no title (DOI 10.1234/invented.2019.3), so it was not added"
    )
    assert lines[-4:] == [
        "added    arden-finding-appendix-2011",
        "added    brook-leaving-wound-open-2012",
        "2 added, 0 known already.",
        "Put the errors right, then add the file again: nothing is added twice.",
    ]
    assert "@article{source" not in (base / FILE).read_text(encoding="utf-8")


def test_findings_come_retraction_first_then_the_gravest(base: Path, capsys: pytest.CaptureFixture[str]) -> None:
    _, lines = _added(base, "pubmed-in.ris", capsys)
    shown = [re.search(r": (error|warning|note) ([a-z-]+): ", line) for line in lines]
    kinds = [(match[1], match[2]) for match in shown if match]
    assert kinds[0] == ("warning", "record-was-retracted")
    assert [severity for severity, _ in kinds[1:]] == sorted(
        (severity for severity, _ in kinds[1:]), key=["error", "warning", "note"].index
    )
    assert ("warning", "record-in-doubt") in kinds
    assert ("note", "record-was-corrected") in kinds


def test_a_new_source_that_a_list_calls_retracted_says_so_at_once(
    base: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    notices = base / "references/notices/invented.csv"
    notices.parent.mkdir(exist_ok=True)
    notices.write_text(
        "# dated: 2026-11-20\ndoi,pmid,kind,date,note\n10.1234/INVENTED.2014.7,,retracted,2020-06-04,made up\n",
        encoding="utf-8",
    )
    code, lines = _added(base, "wrapped-lines.ris", capsys)
    assert code == 0
    assert re.match(r"references/sources.bib:\d+:\d+: warning source-retracted: 'arden-mesh-pain-2014' was ", lines[0])
    assert lines[-1] == "1 added, 0 known already."


def test_what_a_check_says_of_a_new_source_is_shown_at_once(base: Path, capsys: pytest.CaptureFixture[str]) -> None:
    export = base / "wrong.ris"
    export.write_text("TY  - JOUR\nTI  - Wrong number\nPY  - 2020\nSN  - 1234-5678\nER  - \n", encoding="utf-8")
    assert main(["sources", "add", str(export), str(base)]) == 1
    out = capsys.readouterr().out
    assert "error identifier-wrong: " in out
    assert "warning source-field-missing: " in out
    assert "source-unused" not in out


def test_another_format_writes_nothing_and_says_what_to_do(base: Path, capsys: pytest.CaptureFixture[str]) -> None:
    for name in ("web-of-science.ris", "endnote-tags.ris", "refworks-tags.txt", "records.xml"):
        before = (base / FILE).read_bytes()
        code, lines = _added(base, name, capsys)
        assert (code, lines[-1]) == (1, "Nothing was written.")
        assert sum(": error " in line for line in lines) == 1
        assert "    Save the sources again as RIS, BibTeX, CSL-JSON or, from PubMed, as .nbib." in lines
        assert (base / FILE).read_bytes() == before


def test_a_mark_at_the_start_and_old_line_ends_change_nothing(base: Path, tmp_path: Path) -> None:
    plain = (EXPORTS / "numbered.ris").read_bytes()
    for number, raw in enumerate((b"\xef\xbb\xbf" + plain, plain.replace(b"\n", b"\r\n"), plain.replace(b"\n", b"\r"))):
        path = tmp_path / f"export-{number}.ris"
        path.write_bytes(raw)
        assert read_import(path).records == read_import(EXPORTS / "numbered.ris").records


@pytest.mark.parametrize("call", [["add", str(EXPORTS / "numbered.ris")], ["notices", "LIST"]], ids=["add", "notices"])
def test_what_cannot_be_written_is_said_in_plain_words(
    call: list[str], base: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    def full(*_: object, **__: object) -> None:
        raise NotWritten("The disk is full.")

    (base / "list.csv").write_text("# dated: 2026-11-20\ndoi,pmid,kind,date\n", encoding="utf-8")
    monkeypatch.setattr(sources_file, "write_files", full)
    monkeypatch.chdir(base)
    assert main(["sources", *call[:1], *(word.replace("LIST", "list.csv") for word in call[1:])]) == 2
    assert capsys.readouterr().err == "prescrub: The disk is full.\nNothing was written.\n"


def test_a_file_that_is_not_there_is_said(base: Path, capsys: pytest.CaptureFixture[str]) -> None:
    shutil.rmtree(base / "references")
    assert main(["sources", "add", str(base / "nowhere.ris"), str(base)]) == 1
    assert "nowhere.ris does not exist" in capsys.readouterr().out

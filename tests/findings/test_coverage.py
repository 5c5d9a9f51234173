"""Green means what it says: what nobody wrote is not called checked, cannot be approved and gets no code."""

from __future__ import annotations

import json
from datetime import UTC, datetime, time
from html import unescape
from pathlib import Path

import pytest
from department import BASE, TODAY, Overlay, lay, read
from papers import renderer

from builder.check.engine import examine, exit_code
from builder.check.piecewise import Examiner
from builder.cli import main
from builder.commands.formats.coverage_text import LOOKED_AT
from builder.compose.site import page
from builder.facts.coverage import COUNTERS, coverage, data_of, excuses, silence
from builder.findings.finding import Severity
from builder.load.folder import load
from builder.model.edition import edition_of

LINES = {"clean": "Clean the skin", "cut": "Cut the lump out", "sew": "Sew the skin"}
MISSING = {"step-without-actions", "step-without-evidence", "procedure-without-caution"}


def bare(folder: Path, standing: str = "status: draft", more: str = "") -> Path:
    """Write a department in an empty folder: three lines, and nothing that says what is done or what it rests on."""
    steps = {
        f"content/procedures/lump/steps/{id}.md": f"---\ntitle: {title}\n{more}---\n" for id, title in LINES.items()
    }
    procedure = (
        f'---\ntitle: Excise a lump\nspecialty: general surgery\nedition: "1.0"\n{standing}\n'
        "owner: {name: Ada Example, role: consultant surgeon}\nreview_by: 2028-05-31\n"
        f"sequence: [{', '.join(LINES)}]\n---\n"
    )
    department = "---\nname: General surgery\nsite: https://surgery.example.org/\n---\n"
    pages = {"content/department.md": department, "content/procedures/lump/procedure.md": procedure}
    return lay(folder, pages | steps)


def approved(folder: Path, more: str = "") -> Path:
    """Return the three bare lines, approved as they stand."""
    library, _ = read(bare(folder, more=more))
    content = edition_of(library, library.procedures[0]).content
    by = f"{{by: Bea Example, role: clinical lead, on: 2026-11-20, content: {content}}}"
    return bare(folder, f"status: approved\napproval: {by}", more)


def test_bare_lines_can_be_drafted_and_are_told_what_is_missing(tmp_path: Path) -> None:
    library, findings = read(bare(tmp_path))
    assert exit_code(findings) == 0
    assert {finding.name for finding in findings} >= MISSING
    told = coverage(library, library.procedures[0])
    assert silence(told) == "3 of 3 steps say nothing of what is done: not analysed"
    assert "paths" not in {things.family for things in told.checked if things.name != "way through"}


def test_bare_lines_cannot_be_approved(tmp_path: Path) -> None:
    errors = [finding for finding in read(approved(tmp_path))[1] if finding.severity is Severity.ERROR]
    assert {finding.name for finding in errors} == MISSING


def test_bare_lines_get_no_code(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("SOURCE_DATE_EPOCH", str(int(datetime.combine(TODAY, time(12), UTC).timestamp())))
    root = approved(tmp_path / "department")
    assert main(["publish", str(root), "--to", str(tmp_path / "public"), "--only", "card", "--issue"]) == 1
    said = capsys.readouterr().err
    assert all(name in said for name in MISSING)
    assert not (root / "ledger").exists()
    assert not (tmp_path / "public").exists()


def test_reasons_in_every_step_excuse_no_whole_operation(tmp_path: Path) -> None:
    more = "no_actions: It is done elsewhere.\ncommon_practice: true\n"
    library, findings = read(approved(tmp_path, more))
    errors = {finding.name for finding in findings if finding.severity is Severity.ERROR}
    assert errors == {"step-without-actions"}
    told = coverage(library, library.procedures[0])
    assert excuses(told).startswith("3 of 3 steps give a reason to have no action; 3 of 4 statements rest on common")


def test_who_approves_is_told_what_is_excused(tmp_path: Path) -> None:
    by = "{by: Bea Example, role: clinical lead, on: 2026-11-20, content: v1-000000000000000000000000}"
    root = bare(tmp_path, f"status: approved\napproval: {by}", "common_practice: true\n")
    [made] = [finding for finding in read(root)[1] if finding.name == "approval-outdated"]
    assert "Tell them what is excused: 3 of 4 statements rest on common practice without a source." in made.hint


def test_json_and_text_say_how_much_there_was(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("SOURCE_DATE_EPOCH", str(int(datetime.combine(TODAY, time(12), UTC).timestamp())))
    assert main(["check", str(BASE), "--fresh", "--format", "json"]) == 0
    told = json.loads(capsys.readouterr().out)["coverage"]["example"]
    library, _ = read(BASE)
    assert told == data_of(coverage(library, library.procedures[0]))
    assert told["looked_at"]["paths"]["cut"] == {"number": 4, "steps": 2, "words": "4 cuts in 2 of 8 steps"}
    assert main(["check", str(BASE), "--coverage"]) == 0
    lines = capsys.readouterr().out.splitlines()
    assert {"  steps that say what is done: 8 of 8", "  cuts, clamps, ties and seals: 4, in 2 of 8 steps"} <= set(lines)
    assert "  codes issued: none, so nothing was checked" in lines


def test_whatever_is_counted_has_words_for_a_clinician() -> None:
    assert set(LOOKED_AT) == set(COUNTERS)


STEP = "content/procedures/example/steps/"
CLOSED = (BASE / STEP / "close-canal.md").read_text(encoding="utf-8")
SEEN = "  - identify: ilioinguinal nerve\n  - protect: ilioinguinal nerve\n"
UNSEEN = (BASE / STEP / "open-canal.md").read_text(encoding="utf-8").replace(SEEN, "")


def names(root: Path) -> dict[str, str]:
    return {finding.name: finding.message for finding in read(root)[1]}


def test_broken_step_hides_nothing_that_comes_before_it(overlay: Overlay) -> None:
    broken = CLOSED.replace("actions:\n  - ", "actions:\n  - do this: now\n  - ", 1)
    assert broken != CLOSED
    told = names(overlay({f"{STEP}open-canal.md": UNSEEN, f"{STEP}close-canal.md": broken}))
    assert "action-unclear" in told
    assert "neighbour-not-seen" in told
    assert told["rest-not-analysed"] == (
        "'close-canal' cannot be followed, so the operation from step 6 on was not analysed"
    )


def test_broken_step_of_one_branch_leaves_the_other_way_whole(overlay: Overlay) -> None:
    numb = "---\ntitle: Inject the groin\nactions:\n  - injekt: lidocaine\n---\n"
    told = names(overlay({f"{STEP}inject-local.md": numb, f"{STEP}open-canal.md": UNSEEN}))
    assert "neighbour-not-seen" in told
    assert told["rest-not-analysed"].endswith("from step 2A on, on the ways that take it, was not analysed")


def test_unknown_name_stops_at_its_step(overlay: Overlay) -> None:
    told = names(overlay({f"{STEP}open-canal.md": UNSEEN, f"{STEP}close-canal.md": CLOSED.replace("swab", "swob")}))
    assert {"neighbour-not-seen", "rest-not-analysed"} <= told.keys()


def test_slip_in_another_key_stops_no_analysis(overlay: Overlay) -> None:
    broken = UNSEEN.replace("critical: true", "critical: perhaps")
    assert broken != UNSEEN
    told = names(overlay({f"{STEP}open-canal.md": broken}))
    assert {"value-not-allowed", "neighbour-not-seen"} <= told.keys()
    assert "rest-not-analysed" not in told


PROCEDURE = "content/procedures/example/procedure.md"


def slip(old: str, new: str) -> str:
    text = (BASE / PROCEDURE).read_text(encoding="utf-8")
    assert old in text
    return text.replace(old, new)


def test_slip_in_the_head_of_a_procedure_stops_no_analysis(overlay: Overlay) -> None:
    head = slip("summary: The", "sumary: The")
    told = names(overlay({f"{STEP}open-canal.md": UNSEEN, PROCEDURE: head}))
    assert {"key-unknown", "neighbour-not-seen"} <= told.keys()
    assert "rest-not-analysed" not in told


def test_slip_in_what_the_analysis_reads_is_said_to_stop_it(overlay: Overlay) -> None:
    told = names(overlay({f"{STEP}open-canal.md": UNSEEN, PROCEDURE: slip("  skin blade: 1", "  skin blade: one")}))
    assert "neighbour-not-seen" not in told
    assert told["rest-not-analysed"] == "'example' cannot be read, so nothing of the operation was analysed"


def test_again_and_at_once_find_the_same_in_what_is_broken(overlay: Overlay) -> None:
    for pages in (
        {f"{STEP}open-canal.md": UNSEEN, PROCEDURE: slip("summary: The", "sumary: The")},
        {f"{STEP}open-canal.md": UNSEEN.replace("critical: true", "critical: perhaps")},
    ):
        loaded = load(overlay(pages), TODAY)
        assert Examiner().examine(loaded)[1] == examine(loaded)[1]


def test_page_names_what_was_there_and_no_family_that_had_nothing_to_look_at(tmp_path: Path) -> None:
    for root in (BASE, bare(tmp_path)):
        library, _ = read(root)
        told = coverage(library, library.procedures[0])
        text = unescape(page.compose(library, library.procedures[0], renderer(BASE)).text)
        assert [things for things in told.checked if things.proves.rstrip(".") not in text] == []
        said = {things.proves for things in told.checked}
        assert [
            things for things in told.empty if things.proves not in said and things.proves.rstrip(".") in text
        ] == []
    assert "3 of 3 steps say nothing of what is done: not analysed." in text


def test_build_report_says_how_much_there_was(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("SOURCE_DATE_EPOCH", str(int(datetime.combine(TODAY, time(12), UTC).timestamp())))
    assert main(["publish", str(BASE), "--to", str(tmp_path / "public"), "--only", "rehearsal"]) == 0
    told = json.loads((tmp_path / "public" / "build-report.json").read_text(encoding="utf-8"))["coverage"]
    library, _ = read(BASE)
    assert told == {"example": data_of(coverage(library, library.procedures[0]))}


@pytest.mark.parametrize("is_draft", [True, False])
def test_whether_it_is_done_at_all_is_asked_first_of_what_a_draft_proposed(overlay: Overlay, is_draft: bool) -> None:
    step = UNSEEN.replace("\ntitle:", "\nproposed: true\ntitle:", 1) if is_draft else UNSEEN
    assert (step != UNSEEN) is is_draft
    hints = [one.hint for one in read(overlay({f"{STEP}open-canal.md": step}))[1] if one.name == "neighbour-not-seen"]
    assert hints
    assert all(hint.startswith("If this is not done here, take it out: a draft") is is_draft for hint in hints)

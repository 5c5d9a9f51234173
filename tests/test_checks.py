"""Each check finds exactly its defect, at its place, and nothing where nothing is wrong."""

from __future__ import annotations

import re
import shutil
from datetime import UTC, date, datetime, time
from pathlib import Path

import pytest
from department import BASE, TODAY, Overlay, lines, of_families, read
from pages import PAGES, CheckPage, all_pages

from builder.check.engine import exit_code
from builder.check.rules.caution_order import Before
from builder.check.rules.instructions import blocks, sentences
from builder.check.rules.review import months_after
from builder.cli import main
from builder.commands.formats import terminal
from builder.facts.imperatives import VERBS, is_instruction, suggestion
from builder.findings.register import REGISTER
from builder.load.manual import old_codes

ROOT = Path(__file__).parent.parent
DEFECTS = Path(__file__).parent / "defects"
SECOND = Path(__file__).parent / "second"
NOON = datetime.combine(TODAY, time(12), UTC)

# What a text in a page cannot show: bytes that are no UTF-8, links, sizes, rights. tests/test_hostile.py and
# tests/drafts/test_hostile_sources.py make them.
MADE_IN_CODE = {"file-unreadable", "file-not-utf8", "file-too-large", "link-not-followed", "source-too-large"}

_PAGES = all_pages()
_WITH_EXAMPLES = [page for page in _PAGES if page.name not in MADE_IN_CODE]
_CHECKED = [page for page in _WITH_EXAMPLES if not page.command]
_MET_BY_COMMANDS = [page for page in _WITH_EXAMPLES if page.command]


# Base and demo


@pytest.mark.parametrize("root", [ROOT, BASE, SECOND], ids=["demo", "groin", "neck"])
def test_demo_and_two_whole_procedures_are_silent(root: Path) -> None:
    """The one place where silence of all checks is asked for; any other test looks for its own finding."""
    assert terminal.render(read(root)[1]) == terminal.NOTHING


def test_silence_of_the_neck_is_that_of_a_procedure_that_was_looked_at(tmp_path: Path) -> None:
    root = Path(shutil.copytree(SECOND, tmp_path / "neck"))
    step = root / "content/procedures/left-thyroid-lobe/steps/find-nerve.md"
    step.write_text(step.read_text(encoding="utf-8").replace("  - identify: recurrent laryngeal nerve\n", ""))
    assert {"neighbour-not-seen"} <= {finding.name for finding in read(root)[1]}


# Pages


def test_page_says_name_and_severity_of_the_register() -> None:
    for page in _PAGES:
        assert page.severities[0] == REGISTER[page.name].severity.value, page.name
    assert {path.name for path in PAGES.glob("*.md")} == {page.file for page in _PAGES}


@pytest.mark.parametrize("page", _PAGES, ids=lambda page: page.name)
def test_page_says_why(page: CheckPage) -> None:
    assert len(page.why.split()) > 8


def told(page: CheckPage, root: Path) -> str:
    """Return what is said of the finding of ``page``, and of nothing else, in the department in ``root``."""
    return terminal.render([finding for finding in read(root)[1] if finding.name == page.name])


@pytest.mark.parametrize("page", _CHECKED, ids=lambda page: page.name)
def test_bad_example_gives_the_finding_of_the_page(page: CheckPage, overlay: Overlay) -> None:
    assert told(page, overlay(page.bad)).rpartition("\n\n")[0] + "\n" == page.finding
    assert re.findall(r": (\w+) ", page.finding)[0] in page.severities


@pytest.mark.parametrize("page", _CHECKED, ids=lambda page: page.name)
def test_good_example_does_not_give_it(page: CheckPage, overlay: Overlay) -> None:
    assert page.good, "a page needs a good example"
    assert page.good != page.bad
    assert told(page, overlay(page.good)) == terminal.NOTHING


@pytest.mark.parametrize("is_bad", [True, False], ids=["bad", "good"])
@pytest.mark.parametrize("page", _MET_BY_COMMANDS, ids=lambda page: page.name)
def test_command_of_a_page_meets_with_its_finding(
    page: CheckPage,
    is_bad: bool,
    overlay: Overlay,
    capsys: pytest.CaptureFixture[str],
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setenv("SOURCE_DATE_EPOCH", str(int(NOON.timestamp())))
    monkeypatch.chdir(overlay(page.bad if is_bad else page.good))
    assert page.command[0] == "prescrub"
    code = main(page.command[1:])
    said = "".join(capsys.readouterr())
    assert (page.finding in said) == is_bad
    assert (f" {page.name}: " in said) == is_bad
    assert code == int(is_bad and page.severities[0] == "error")


@pytest.mark.parametrize("page", _WITH_EXAMPLES, ids=lambda page: page.name)
def test_hint_of_a_page_starts_with_a_verb(page: CheckPage) -> None:
    hint = page.finding.splitlines()[1]
    assert hint.startswith("    ")
    assert hint.split()[0].lower() in VERBS, hint


# Defects: one in each folder


def test_there_are_forty_defects_and_more() -> None:
    assert len(list(DEFECTS.iterdir())) >= 40


@pytest.mark.parametrize("defect", sorted(DEFECTS.iterdir()), ids=lambda path: path.name)
def test_one_defect_gives_its_finding_in_words_for_surgeons(defect: Path, overlay: Overlay) -> None:
    expected = (defect / "expected.txt").read_text(encoding="utf-8").splitlines()
    names = {line.split()[-1] for line in expected}
    findings = read(overlay(defect))[1]
    assert lines(finding for finding in findings if finding.name in names) == expected
    for finding in findings:
        assert finding.message
        assert not finding.message.endswith(".")
        assert finding.hint[0].isupper()
        assert finding.hint.split()[0].lower() in VERBS, finding.hint
        assert finding.hint.endswith(".")
        for word in ("None", "null", "Traceback", "pydantic", "NoneType", "str", "dict"):
            assert word not in finding.message.split()


@pytest.mark.parametrize("form", ["text", "json", "sarif"])
@pytest.mark.parametrize("defect", ["review-overdue-is-marked", "text-with-a-colon", "source-misspelt-in-link"])
def test_command_shows_the_finding_and_its_exit_code_says_whether_it_blocks(
    defect: str, form: str, overlay: Overlay, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("SOURCE_DATE_EPOCH", str(int(NOON.timestamp())))
    expected = (DEFECTS / defect / "expected.txt").read_text(encoding="utf-8").split()[1]
    code = main(["check", str(overlay(DEFECTS / defect)), "--format", form])
    shown = capsys.readouterr()
    assert expected in shown.out
    assert shown.err == ""
    assert "\x1b" not in shown.out
    assert code == (0 if expected == "review-overdue" else 1)


# What the parts of the checks promise


def test_block_of_an_overdue_review_is_an_error(overlay: Overlay) -> None:
    assert exit_code(read(overlay(DEFECTS / "review-overdue-is-marked"))[1]) == 0
    assert exit_code(read(overlay(DEFECTS / "review-overdue-blocks"))[1]) == 1


def test_broken_step_is_not_called_missing_and_nothing_of_it_unused(overlay: Overlay) -> None:
    _, findings = read(overlay({"content/procedures/example/steps/open-canal.md": "---\ntitel: Open the canal\n---\n"}))
    assert {finding.at.file for finding in findings} == {"content/procedures/example/steps/open-canal.md"}


@pytest.mark.parametrize("file", ["structures.yml", "items.yml"])
def test_broken_catalogue_makes_no_name_unknown(file: str, overlay: Overlay) -> None:
    _, findings = read(overlay({f"content/catalogue/{file}": "- {id: skin, name: skin, kind: skinn}\n"}))
    assert [finding.name for finding in findings] == ["rest-not-analysed", "value-not-allowed"]


def test_unreadable_sources_make_no_citation_unknown(overlay: Overlay) -> None:
    _, findings = read(overlay({"references/sources.bib": "@article{one,\n  title = {One\n"}))
    assert [finding.name for finding in findings] == ["sources-unreadable"]


def test_entry_without_a_key_takes_no_other_with_it(overlay: Overlay) -> None:
    sources = (BASE / "references/sources.bib").read_text(encoding="utf-8")
    library, findings = read(overlay({"references/sources.bib": "@article{title = {No key},\n}\n" + sources}))
    assert lines(findings) == ["references/sources.bib:1:16 sources-unreadable"]
    assert set(library.sources) == {"hernia-nerve-management-2007", "retained-items-risk-2003"}


def test_empty_list_of_sources_makes_every_citation_unknown(overlay: Overlay) -> None:
    _, findings = read(overlay({"references/sources.bib": ""}))
    assert len(of_families(findings, "citations")) == 4  # two steps, one caution, one link


def accepting(overlay: Overlay, title: str, check: str) -> list[str]:
    """Return what is found about the title of a step that accepts ``check``, and about the acceptance."""
    step = f"---\ntitle: {title}\naccept: [{{check: {check}, reason: trade term}}]\n---\n"
    _, findings = read(overlay({"content/procedures/example/steps/tell-recovery.md": step}))
    return [finding.name for finding in of_families(findings, "instructions", "acceptances")]


def test_acceptance_silences_its_finding(overlay: Overlay) -> None:
    assert accepting(overlay, "Inspection of the drain", "title-not-an-instruction") == []


@pytest.mark.parametrize("title", ["Inspection of the drain", "Inspect the drain"])
def test_acceptance_by_an_old_code_holds_and_is_one_finding(title: str, overlay: Overlay) -> None:
    [code] = [code for code, name in old_codes().items() if name == "title-not-an-instruction"]
    assert accepting(overlay, title, code) == ["acceptance-by-old-code"]


def test_second_acceptance_of_the_same_finding_is_unused(overlay: Overlay) -> None:
    accept = "accept: [{check: title-not-an-instruction, reason: one}, {check: title-not-an-instruction, reason: two}]"
    step = f"---\ntitle: Inspection of the drain\n{accept}\ncommon_practice: true\n---\n"
    root = overlay({"content/procedures/example/steps/tell-recovery.md": step})
    found = lines(of_families(read(root)[1], "instructions", "acceptances"))
    assert found == ["content/procedures/example/steps/tell-recovery.md:3:66 acceptance-unused"]


def test_figure_and_catalogue_are_accepted_where_someone_answers_for_them(overlay: Overlay) -> None:
    procedure = (BASE / "content/procedures/example/procedure.md").read_text(encoding="utf-8")
    department = (BASE / "content/department.md").read_text(encoding="utf-8")
    root = overlay(
        {
            "content/procedures/example/figures/old.svg": "<svg/>",
            "content/procedures/example/procedure.md": procedure.replace(
                "side: either",
                "side: either\naccept: [{check: figure-file-not-used, reason: kept for the next edition}]",
            ),
            "content/catalogue/terms.yml": "- {short: PE, long: one}\n- {short: PE, long: two}\n",
            "content/department.md": department.replace(
                "paper: A4", "paper: A4\naccept: [{check: term-written-twice, reason: both are used here}]"
            ),
        }
    )
    assert of_families(read(root)[1], "figures", "names", "acceptances") == []


def test_follow_knows_what_its_branch_has_done(overlay: Overlay) -> None:
    """A caution shown in the option stands before the step it guards in the branch that follows the option."""
    caution = (
        "---\nsignal: caution\nhazard: The drain slips out.\nconsequence: It must be placed again.\n"
        "avoid: Stitch it to the skin.\nif_it_happens: Tell the surgeon.\nguards: [tell-recovery]\n"
        "common_practice: true\n---\n"
    )
    example = "content/procedures/example"
    drain = (BASE / example / "steps/place-drain.md").read_text(encoding="utf-8")
    root = overlay(
        {
            f"{example}/cautions/drain-slips.md": caution,
            f"{example}/steps/place-drain.md": drain.replace("minutes:", "cautions: [drain-slips]\nminutes:"),
        }
    )
    library, findings = read(root)
    assert of_families(findings, "order") == []
    before = Before.of(library.procedures[0].sequence)
    assert not before.first_shown_late("tell-recovery", ["place-drain"])
    assert before.first_shown_late("close-canal", ["place-drain"])


@pytest.mark.parametrize(
    "title",
    [
        "Find the nerve, then open the canal", "Do not cut before everyone agrees", "Carefully divide the sac",
        "Re-check the side", "Marsupialise the cyst", "Suture the drain to the skin", "Cauterize the edge",
        "When the sac is free, reduce it", "Never pull on the cord", "Drain the abscess", "Set up the trolley",
        "Anesthetize the skin", "Swab the wound", "Clip the vessel", "Time the clamp", "Pack the cavity",
        "Confirm placement", "Check position", "Control bleeding", "Break the waters", "Witness the count",
    ],
)  # fmt: skip
def test_instruction_is_an_instruction(title: str) -> None:
    assert is_instruction(title)


@pytest.mark.parametrize(
    ("title", "verb"),
    [
        ("Skin incision", "Cut"), ("Opening the canal", "Open"), ("Wound closure", "Close"),
        ("Drain insertion", "Insert"), ("Identification of the nerve", "Identify"), ("The nerve is found", None),
        ("Divided vein", "Divide"), ("Suture removal", "Remove"), ("Laparotomy", None), ("12", None),
        ("Careful dissection", "Dissect"), ("Handover", None), ("Surgeon cuts the skin", None),
    ],
)  # fmt: skip
def test_heading_is_no_instruction(title: str, verb: str | None) -> None:
    assert not is_instruction(title)
    assert suggestion(title) == verb


def test_sentences_end_at_full_stops_and_not_at_abbreviations() -> None:
    shown = [sentence for _, sentence in sentences("Give 1.5 g, e.g. Slowly. See Fig. 2 and p. 12. Stop! Call Mr. A.")]
    assert shown == ["Give 1.5 g, e.g. Slowly.", "See Fig. 2 and p. 12.", "Stop!", "Call Mr. A."]


def test_each_list_item_and_heading_is_a_sentence_of_its_own() -> None:
    text_of = "# Heading\nOne line\nand its end\n- first\n- second\n  goes on\n\n1. third\n| a | table |\n"
    assert [block for _, block in blocks(text_of)] == [
        "# Heading", "One line\nand its end", "- first", "- second\n  goes on", "1. third",
    ]  # fmt: skip
    for offset, block in blocks(text_of):
        assert text_of[offset:].startswith(block)


@pytest.mark.parametrize(
    ("months", "expected"),
    [(1, "2026-02-28"), (13, "2027-02-28"), (25, "2028-02-29"), (12, "2027-01-31"), (11, "2026-12-31")],
)
def test_months_after_keeps_to_the_calendar(months: int, expected: str) -> None:
    assert str(months_after(date(2026, 1, 31), months)) == expected


def test_links_are_found_over_a_line_end_and_with_a_title(overlay: Overlay) -> None:
    body = 'See the\n[opening of\nthe canal](step:open-canal "the way in") and `[x](step:nowhere)`.\n'
    files = {"content/procedures/example/steps/tell-recovery.md": f"---\ntitle: Tell them\n---\n{body}"}
    library, _ = read(overlay(files))
    (link,) = library.procedures[0].steps["tell-recovery"].body.links
    assert (link.targets, link.words, link.clear) == (("open-canal",), "opening of the canal", True)
    assert (link.at.line, link.at.column, link.targets[0].at.line, link.targets[0].at.column) == (5, 1, 6, 17)

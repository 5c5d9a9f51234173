"""The interview sheet: it asks for what is missing, and the answers go into the right front matter and nowhere else."""

from __future__ import annotations

import difflib
from pathlib import Path

import pytest
from department import lay, read

from builder.edit.interview_sheet import ask, read_answers
from builder.facts.gap_questions import BY_KEY, is_observable
from builder.write.fill import fill

STEP = "content/procedures/example/steps/close-canal.md"


def sheet(base: Path, **answers: str) -> str:
    """Return the sheet of the base with ``answers`` to the questions about closing the canal."""
    whole = ask(read(base)[0])
    start = whole.index(f"File: `{STEP}`")
    head, tail = whole[:start], whole[start:]
    for key, words in answers.items():
        question = f"### {key}: {BY_KEY[key].asked}\n> {BY_KEY[key].help}\n"
        assert question in tail
        tail = tail.replace(question, f"{question}\n{words}\n", 1)
    return head + tail


def test_sheet_asks_for_what_is_missing_and_for_nothing_else(base: Path) -> None:
    whole = ask(read(base)[0])
    about = whole[whole.index(f"File: `{STEP}`") :].split("\n## ")[0]
    assert [line.split(":")[0] for line in about.splitlines() if line.startswith("### ")] == [
        "### cue", "### if_not", "### at_risk", "### error", "### recovery", "### call", "### why",
    ]  # fmt: skip
    assert "steps/open-canal.md" not in whole


def test_untouched_sheet_changes_nothing(base: Path) -> None:
    before = {path: path.read_bytes() for path in base.rglob("*.md")}
    assert fill(base, ask(read(base)[0])) == ([], [])
    assert {path: path.read_bytes() for path in base.rglob("*.md")} == before


def test_answers_go_into_the_step_and_nothing_else_changes(base: Path) -> None:
    before = (base / STEP).read_text(encoding="utf-8")
    answers = sheet(
        base,
        cue="Both counts are called correct: aloud.",
        if_not="Do not close.\nSearch the wound.",
        at_risk="ilioinguinal nerve, superficial epigastric vein",
        why="yes",
    )
    changes, findings = fill(base, answers)
    assert findings == []
    assert [change.key for change in changes] == ["cue", "if_not", "at_risk", "why"]
    after = (base / STEP).read_text(encoding="utf-8")
    lines = list(difflib.ndiff(before.splitlines(), after.splitlines()))
    assert [line for line in lines if line[0] in "-?"] == []
    assert [line[2:] for line in lines if line[0] == "+"] == [
        'cue: "Both counts are called correct: aloud."',
        "if_not: Do not close. Search the wound.",
        "why: yes",
        "at_risk: [ilioinguinal nerve, superficial epigastric vein]",
    ]
    library, found = read(base)
    assert found == []
    step = library.procedures[0].steps["close-canal"]
    assert (step.cue, step.if_not, step.why) == (
        "Both counts are called correct: aloud.",
        "Do not close. Search the wound.",
        "yes",
    )
    assert step.at_risk == ("ilioinguinal nerve", "superficial epigastric vein")


def test_common_practice_is_an_answer(base: Path) -> None:
    lay(base, {STEP: "---\ntitle: Close the canal\n---\n"})
    assert [one.key for one in fill(base, sheet(base, evidence="Common practice."))[0]] == ["evidence"]
    assert (base / STEP).read_text() == "---\ntitle: Close the canal\ncommon_practice: true\n---\n"


COMMENTED = """---\r
# who wrote this\r
title: Close the canal   # short\r
minutes: 4\r
actions:\r
\r
  - inspect: skin   # look twice\r
\r
# from the audit\r
if_not:   # ask Ada\r
---\r
Prose   \r
"""


def test_comments_order_and_line_ends_stay(base: Path) -> None:
    (base / STEP).write_bytes(COMMENTED.encode())
    text = f"## x\nFile: `{STEP}`\n### if_not: x\nStop: ask.\n### cue: x\nThe skin is dry.\n"
    changes, findings = fill(base, text)
    assert ([one.key for one in changes], findings) == (["if_not", "cue"], [])
    assert (base / STEP).read_bytes().decode() == COMMENTED.replace(
        "if_not:   # ask Ada", 'if_not: "Stop: ask."   # ask Ada'
    ).replace("# look twice\r\n", "# look twice\r\ncue: The skin is dry.\r\n")


@pytest.mark.parametrize(
    "words", ["no", "a: b", "# one", "- two", "[x", "'tis", 'say "stop"', "5", "100 %", "a, b", "ü"]
)
def test_any_words_come_back_as_they_were_written(words: str, base: Path) -> None:
    changes, findings = fill(base, sheet(base, cue=f"x {words}", call=words if words[0] not in "#>" else "x"))
    assert findings == []
    assert len(changes) == 2
    step = read(base)[0].procedures[0].steps["close-canal"]
    assert step.cue == f"x {words}"
    assert step.call == (words if words[0] not in "#>" else "x")


def test_what_is_written_is_never_replaced(base: Path) -> None:
    once = sheet(base, cue="The count is correct.")
    fill(base, once)
    changes, findings = fill(base, once)
    assert changes == []
    assert [finding.name for finding in findings] == ["answered-already"]


@pytest.mark.parametrize(
    ("answers", "says"),
    [
        ({"at_risk": "unheard of"}, "'unheard of' is not in the catalogue of structures"),
        ({"cue": "Good.", "at_risk": "the moon"}, "'the moon' is not in the catalogue of structures"),
    ],
)
def test_one_unclear_answer_stops_all(answers: dict[str, str], says: str, base: Path) -> None:
    before = (base / STEP).read_bytes()
    changes, findings = fill(base, sheet(base, **answers), "sheet.md")
    assert changes == []
    assert [finding.message for finding in findings] == [says]
    assert findings[0].at.file == "sheet.md"
    assert (base / STEP).read_bytes() == before


@pytest.mark.parametrize(
    "name", ["../outside.md", "/etc/passwd", "content/department.md", "content/procedures/x/steps/../y.md"]
)
def test_no_file_but_a_step_is_written(name: str, base: Path) -> None:
    text = f"## x\n\nFile: `{name}`\n\n### cue: x\n\nThe skin is dry.\n"
    changes, findings = fill(base, text)
    assert changes == []
    assert [finding.name for finding in findings] == ["answer-unclear"]


def test_answers_know_where_they_stand() -> None:
    answers, findings = read_answers("## x\nFile: `a.md`\n### cue: x\n> help\n\n  One.\nTwo.\n### nose: x\n", "s.md")
    assert [(one.key, one.words, str(one.at)) for one in answers] == [("cue", "One. Two.", "s.md:6:3")]
    assert [str(finding.at) for finding in findings] == ["s.md:8:1"]


@pytest.mark.parametrize(
    "cue", ["Adequate exposure.", "It was done carefully.", "Haemostasis is satisfactory.", "All good."]
)
def test_cue_that_says_only_that_all_is_well(cue: str) -> None:
    assert not is_observable(cue)


@pytest.mark.parametrize(
    "cue", ["The nerve is seen.", "The swab stays white and the retractor sits well.", "Two fingers pass.", "Dry."]
)
def test_cue_that_can_be_observed(cue: str) -> None:
    assert is_observable(cue)

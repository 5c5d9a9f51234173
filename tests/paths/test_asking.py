"""The interview sheet: it asks for what is missing, and the answers go into the right front matter and nowhere else."""

from __future__ import annotations

import difflib
import re
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


LUMP = {
    "content/procedures/lump/procedure.md": """---
title: Take out the lump
specialty: Not said yet.
edition: "0.1"
status: draft
owner: {name: Ada Example, role: consultant surgeon}
review_by: 2028-05-31
kit: {scalpel blade: 1, radio-opaque swab: 1, polypropylene suture: 1}
sequence: [reach, divide, shut]
common_practice: true
---
""",
    "content/procedures/lump/steps/reach.md": """---
title: Reach the lump
actions:
  - open: skin
    with: scalpel blade
  - place: radio-opaque swab   # in the corner
    in: inguinal canal
common_practice: true
---
""",
    "content/procedures/lump/steps/divide.md": """---
title: Divide the nerve
actions:
  - inspect: inguinal canal
  - divide: ilioinguinal nerve
common_practice: true
---
""",
    "content/procedures/lump/steps/shut.md": """---
title: Shut the skin
actions:
  - close: skin
    with: polypropylene suture
cautions: [bleeding]
common_practice: true
---
""",
    "content/procedures/lump/cautions/bleeding.md": """---
signal: warning
hazard: Hidden bleeding
consequence: Not said yet.
avoid: Not said yet.
common_practice: true
---
""",
    "content/procedures/lump/aftercare/look.md": """---
title: Look at the wound
when: {from: Not said yet., until: 2 days}
common_practice: true
---
""",
}


def asked_of(sheet: str) -> dict[str, list[str]]:
    """Return the keys that a sheet asks, by the title above them, in its order."""
    parts = [part.partition("\n") for part in sheet.split("\n## ")[1:]]
    return {
        title: [line[4:].split(":")[0] for line in rest.splitlines() if line[:4] == "### "] for title, _, rest in parts
    }


def test_what_the_paths_and_the_pages_leave_open_is_asked_gravest_first_in_the_order_of_the_operation(
    base: Path,
) -> None:
    lay(base, LUMP)
    whole = ask(read(base)[0])
    own = whole[whole.index("# Take out the lump") :]
    asked = asked_of(own[: own.find("\n# ", 2)] if "\n# " in own[2:] else own)
    assert list(asked) == [
        "Reach the lump", "Divide the nerve", "Shut the skin", "Warning: Hidden bleeding",
        "Look at the wound (aftercare)", "Take out the lump (the procedure)",
    ]  # fmt: skip
    assert asked["Reach the lump"][0] == "comes_out.2"
    assert asked["Divide the nerve"][0] == "sees.2"
    assert asked["Shut the skin"][0] == "counts.1"
    assert asked["Warning: Hidden bleeding"] == ["consequence", "avoid", "sign", "if_it_happens"]
    assert asked["Look at the wound (aftercare)"] == ["when.from"]
    assert asked["Take out the lump (the procedure)"] == ["specialty"]
    assert "### sees.2: Before you divide the ilioinguinal nerve: do you see the ilioinguinal nerve?" in own


ANSWERS = {
    "comes_out.2": "Shut the skin",
    "sees.2": "ilioinguinal nerve",
    "counts.1": "Swabs, needles and blades",
    "consequence": "The patient bleeds: unseen.",
    "avoid": "Look twice.",
    "sign": "The wound swells.",
    "when.from": "6 h",
    "specialty": "general surgery",
}


def filled(base: Path, answers: dict[str, str]) -> tuple[list[str], list[str]]:
    """Answer the questions about the lump; return the keys that were written, and the messages."""
    sheet = ask(read(base)[0])
    start = sheet.index("# Take out the lump")
    own = sheet[start:]
    for key, words in answers.items():
        own = re.sub(rf"(?m)^(### {re.escape(key)}: .*\n> .*)$", rf"\1\n{words}", own)
    changes, findings = fill(base, own)
    return sorted(change.key for change in changes), [finding.message for finding in findings]


def test_answers_become_actions_and_values(base: Path) -> None:
    lay(base, LUMP)
    before = {finding.name for finding in read(base)[1]}
    assert {"item-left-in", "not-seen-before-cut", "skin-closed-uncounted", "not-answered-yet"} <= before
    assert filled(base, ANSWERS) == (sorted(ANSWERS), [])
    folder = base / "content/procedures/lump"
    assert "  - inspect: inguinal canal\n  - identify: ilioinguinal nerve\n  - divide:" in (
        folder / "steps/divide.md"
    ).read_text(encoding="utf-8")
    shut = (folder / "steps/shut.md").read_text(encoding="utf-8")
    assert "actions:\n  - remove: radio-opaque swab\n  - count: [swabs, needles, blades]\n  - close: skin\n" in shut
    assert (folder / "steps/reach.md").read_text(encoding="utf-8") == LUMP["content/procedures/lump/steps/reach.md"]
    after = {finding.name for finding in read(base)[1]}
    assert not after & {"item-left-in", "not-seen-before-cut", "skin-closed-uncounted", "not-answered-yet"}


def test_what_stays_in_is_said_to_stay(base: Path) -> None:
    lay(base, LUMP)
    assert filled(base, {"comes_out.2": "It stays."}) == (["comes_out.2"], [])
    assert "    stays: true\n" in (base / "content/procedures/lump/steps/reach.md").read_text(encoding="utf-8")


@pytest.mark.parametrize(
    ("key", "words", "says"),
    [
        ("comes_out.2", "Later", "'Later' is not the title of a step or of an aftercare item"),
        ("sees.2", "the moon", "'the moon' is not in the catalogue of structures"),
        ("counts.1", "stars", "'stars' is not among the things that are counted"),
    ],
)
def test_an_answer_about_an_action_that_cannot_be_used_stops_all(key: str, words: str, says: str, base: Path) -> None:
    lay(base, LUMP)
    before = {path: path.read_bytes() for path in base.rglob("*.md")}
    changed, messages = filled(base, {**ANSWERS, key: words})
    assert changed == []
    assert [message.rpartition(".md: ")[2] for message in messages] == [says]
    assert {path: path.read_bytes() for path in base.rglob("*.md")} == before


def test_the_same_sheet_filled_twice_writes_once(base: Path) -> None:
    lay(base, LUMP)
    sheet = ask(read(base)[0])
    own = sheet[sheet.index("# Take out the lump") :]
    for key, words in ANSWERS.items():
        own = re.sub(rf"(?m)^(### {re.escape(key)}: .*\n> .*)$", rf"\1\n{words}", own)
    fill(base, own)
    before = {path: path.read_bytes() for path in base.rglob("*.md")}
    changes, findings = fill(base, own)
    assert changes == []
    assert {finding.name for finding in findings} == {"answered-already"}
    assert {path: path.read_bytes() for path in base.rglob("*.md")} == before


UNENDED = {
    "content/procedures/unended/procedure.md": """\
---
title: Look into the wound
specialty: general surgery
edition: "1.0"
status: draft
owner: {name: Ada Example, role: consultant surgeon}
review_by: 2028-05-31
kit: {}
sequence: [reach, finish]
common_practice: true
---
""",
    "content/procedures/unended/steps/reach.md": """\
---
title: Reach the vein
actions:
  - open: skin
  - identify: superficial epigastric vein
  - clamp: superficial epigastric vein
common_practice: true
---
""",
    "content/procedures/unended/steps/finish.md": """\
---
title: Finish
actions:
  - remove: radio-opaque swab
  - tie: superficial epigastric vein
common_practice: true
---
""",
}


def test_what_is_opened_clamped_or_taken_out_is_ended_or_begun_in_the_step_that_is_named(base: Path) -> None:
    lay(base, UNENDED)
    names = {"left-open", "clamp-left-on", "removed-but-not-in"}
    assert names <= {finding.name for finding in read(base)[1]}
    sheet = ask(read(base)[0])
    own = sheet[sheet.index("# Look into the wound") :]
    for key, words in {"closes.1": "Finish", "comes_off.3": "Finish", "went_in.1": "Reach the vein"}.items():
        own, count = re.subn(rf"(?m)^(### {re.escape(key)}: .*\n> .*)$", rf"\1\n{words}", own)
        assert count == 1, key
    assert fill(base, own)[1] == []
    folder = base / "content/procedures/unended"
    reach, finish = ((folder / f"steps/{name}.md").read_text(encoding="utf-8") for name in ("reach", "finish"))
    assert reach.endswith("  - place: radio-opaque swab\ncommon_practice: true\n---\n")
    assert "  - release: superficial epigastric vein\n  - close: skin\n" in finish
    assert "radio-opaque swab: 1" in (folder / "procedure.md").read_text(encoding="utf-8")
    assert not names & {finding.name for finding in read(base)[1]}

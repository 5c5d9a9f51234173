"""Slips that a text editor lets pass: said in plain words, at the line that is to be changed."""

from __future__ import annotations

import pytest
from department import Overlay
from department import read_broken as read

STEP = "content/procedures/example/steps/test-block.md"
HEAD = "---\ntitle: Test the spinal block with the anaesthetist\nsupervision: watch\n"
FOOT = "common_practice: true\n---\n"
ACTIONS = "actions:\n  - inspect: skin\n    what: cold is not felt in the groin\n"

SLIPS = [
    # From line 4: what is written, where the finding is, its id, words of its message.
    ("  - inspect: skin\n", "4:3", "front-matter-unreadable", "a list below a line that already has a value"),
    (
        "actions:\n  - inspect: skin\n   - inspect: skin\n",
        "6:4",
        "front-matter-unreadable",
        "is not in line with the other dashes",
    ),
    ("actions:\n  - inspect: skin\n  -inspect: skin\n", "6:3", "front-matter-unreadable", "a dash without a space"),
    ("actions:\n  - inspect: skin\n  inspect: skin\n", "6:3", "front-matter-unreadable", "does not start with a dash"),
    ("actions:\n  - inspect: skin\n\t- inspect: skin\n", "6:1", "front-matter-unreadable", "a tab"),
    (
        ACTIONS + "cue:The block works.\nwhy: It must.\n",
        "7:1",
        "front-matter-unreadable",
        "without a colon followed by a space",
    ),
    (ACTIONS + 'cue: "The block works.\nwhy: It must.\n', "7:6", "front-matter-unreadable", "quotation mark"),
    (ACTIONS + "at_risk: [skin\nwhy: It must.\n", "7:10", "front-matter-unreadable", "bracket"),
    (ACTIONS + "cue: It works.\n  why: It must.\n", "8:3", "front-matter-unreadable", "indented further"),
    (ACTIONS + "cue: Look: it works.\n", "7:10", "front-matter-unreadable", "a colon inside the text"),
    (ACTIONS + "cue: % of skin\n", "7:6", "front-matter-unreadable", "where a value should start"),
    (ACTIONS + "if_not: Call bleep #4000.\n", "7:20", "text-not-read", "'#4000.' would be lost"),
    (ACTIONS + "if_not: Call\n  bleep #4000.\n", "8:9", "text-not-read", "'#4000.' would be lost"),
    (ACTIONS + "cue: !never cut\n", "7:6", "text-not-read", "'!never' would be lost"),
    (ACTIONS + "cue: &now cut\n", "7:6", "text-not-read", "'&now' would be lost"),
    (ACTIONS + "cue: #4000\n", "7:5", "value-empty", "'cue' is empty"),
    (ACTIONS + "cue: ~\n", "7:6", "value-empty", "'cue' is empty"),
    (ACTIONS + "cue: null\n", "7:6", "value-empty", "'cue' is empty"),
]


@pytest.mark.parametrize(("written", "at", "check", "words"), SLIPS)
def test_one_slip_is_one_finding_where_it_was_made(
    overlay: Overlay, written: str, at: str, check: str, words: str
) -> None:
    """No second finding, no word of the parser, and the place is that of the slip, not where reading stopped."""
    _, findings = read(overlay({STEP: HEAD + written + FOOT}))
    assert [(str(found.at), found.name) for found in findings] == [(f"{STEP}:{at}", check)]
    assert words in findings[0].message
    assert "block collection" not in findings[0].message


@pytest.mark.parametrize(
    "written",
    [
        "cue: It works. # as local policy says\n",
        'cue: "It works."  #remark\n',
        "#cue: It works.\n",
        'cue: "Bleep #4000 works."\n',
        "cue: 'Bleep #4000 works.'\n",
        "cue: |\n  Bleep #4000 works.\n",
        "cue: >-\n  Bleep #4000 & !all works.\n",
        "cue: &same It works.\nif_not: *same\n",
        "cue: !!str It works.\n",
        "cue: The skin#test & mark show!\n",
    ],
)
def test_what_yaml_allows_and_nothing_loses_is_let_pass(overlay: Overlay, written: str) -> None:
    """Remarks, quoted texts, blocks and aliases are legal, and nothing of them is lost."""
    assert read(overlay({STEP: HEAD + ACTIONS + written + FOOT}))[1] == []


PROCEDURE = "content/procedures/example/procedure.md"
FOLLOW = "  - follow:\n      choice: drain\n      with:\n        taken: [tell-recovery]\n        left-out: []\n"

EDITS = [
    # What is replaced in procedure.md, by what, and the only finding.
    ("  - open-canal\n", "  - open-cannal\n", "33:5 step-unknown"),
    (f"  - close-canal\n{FOLLOW}", "  - close-canal\n", "1:1 step-not-used"),
    ("        spinal: [test-block]\n", "        spinal:\n", "31:16 value-empty"),
    ("        spinal: [test-block]\n", "", "30:9 value-not-allowed"),
    ("      steps: [place-drain]\n", "      steps: []\n", "38:14 value-not-allowed"),
]


@pytest.mark.parametrize(("old", "new", "expected"), EDITS)
def test_one_slip_in_the_sequence_is_one_finding(overlay: Overlay, old: str, new: str, expected: str) -> None:
    """A step name that was misspelt does not make its step unused, nor its cautions unshown."""
    root = overlay({})
    text = (root / PROCEDURE).read_text(encoding="utf-8")
    assert old in text
    _, findings = read(overlay({PROCEDURE: text.replace(old, new)}))
    assert [f"{found.at.line}:{found.at.column} {found.name}" for found in findings] == [expected]


def test_a_place_of_one_number_is_called_too_short(overlay: Overlay) -> None:
    """The missing half of a pair is no missing key."""
    name = "content/procedures/example/steps/open-canal.md"
    text = (overlay({}) / name).read_text(encoding="utf-8")
    _, [found] = read(overlay({name: text.replace("[50, 40]", "[50]")}))
    assert (found.name, found.message) == ("value-not-allowed", "a list of 1 is too short (at)")


def test_a_follow_before_its_choice_is_one_finding(overlay: Overlay) -> None:
    """What no way leads to any more (a branch, the drain, its aftercare) is mended by moving the follow."""
    text = (overlay({}) / PROCEDURE).read_text(encoding="utf-8")
    early = text.replace(FOLLOW, "").replace("  - check-side\n", f"  - check-side\n{FOLLOW}")
    _, findings = read(overlay({PROCEDURE: early}))
    assert [found.name for found in findings] == ["follow-incomplete"]
    assert [second.message for second in findings[0].also] == ["the choice that is followed"]


def test_an_aftercare_that_cannot_be_read_is_not_called_missing(overlay: Overlay) -> None:
    """One slip in the file that takes the drain out is not also a drain that nobody takes out."""
    name = "content/procedures/example/aftercare/drain-out.md"
    text = (overlay({}) / name).read_text(encoding="utf-8")
    _, findings = read(overlay({name: text.replace("{from: 1 day, until: 2 days}", "after two days")}))
    assert [found.name for found in findings] == ["value-not-allowed"]

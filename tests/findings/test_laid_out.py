"""What a person reads at the command line: gravest first, within the width, the line with a caret, little advice."""

from __future__ import annotations

from difflib import get_close_matches

import pytest

from builder.commands.formats.laid_out import laid_out
from builder.findings.finding import Finding, SecondPlace, Severity
from builder.findings.message_words import near
from builder.findings.register import REGISTER
from builder.place import Place

STEP = "content/procedures/example/steps/open-canal.md"
TEXT = {STEP: ["---", "title: Open", "actions:", "  - divide: inferior epigastric vessels", "\tcue: x" + "y" * 300]}
CUT = Finding(
    "not-seen-before-cut",
    Severity.ERROR,
    Place(STEP, 4, 13),
    "divide the inferior epigastric vessels: the inferior epigastric vessels have not been identified",
    "Write `identify: inferior epigastric vessels` before this, or bring forward the step that identifies it.",
    (SecondPlace(Place(STEP, 9, 3), "identified here, but only afterwards"), SecondPlace(Place("b.md", 1, 1), "so")),
    ("1 Check the side", "2A Inject", "3 Cut the skin"),
)
NOTE = Finding("sentence-too-long", Severity.NOTE, Place("content/a.md", 1, 1), "'A' is long", "Split it.")
GAP = Finding("critical-without-cue", Severity.WARNING, Place("content/b.md", 1, 1), "'B' has no cue", "Add `cue:`.")


def shown(*findings: Finding, width: int | None = None) -> str:
    return laid_out(findings, lambda name: TEXT.get(name, ()), width)


def test_gravest_comes_first_and_the_last_line_says_what_will_block() -> None:
    text = shown(NOTE, GAP, CUT)
    assert [line.split()[1] for line in text.splitlines() if ".md:" in line and "  " not in line] == [
        "error", "warning", "note",
    ]  # fmt: skip
    assert text.endswith("3 findings: 1 error, 1 warning, 1 note. 1 blocks now; 1 more from approval on.\n")


def test_line_is_shown_with_a_caret_below_its_column() -> None:
    lines = shown(CUT).splitlines()
    assert lines[1] == "     4 |   - divide: inferior epigastric vessels"
    assert lines[2].index("^") == lines[1].index("inferior")


def test_way_is_told_by_numbers() -> None:
    assert "    way: 1 -> 2A -> 3\n" in shown(CUT)


def test_advice_is_two_lines_at_most() -> None:
    lines = shown(CUT).splitlines()
    assert lines[3].startswith("    Write `identify:")
    assert lines[4] == f"    {STEP}:9:3: identified here, but only afterwards"
    assert lines[5].startswith("    way:")


@pytest.mark.parametrize("width", [40, 60, 80])
def test_no_line_is_wider_than_the_terminal(width: int) -> None:
    text = laid_out([CUT, GAP], lambda name: TEXT.get(name, ()), width, colour=True)
    for line in (
        text.replace("\x1b[1m", "")
        .replace("\x1b[1;31m", "")
        .replace("\x1b[1;33m", "")
        .replace("\x1b[0m", "")
        .splitlines()
    ):
        assert len(line) <= width or " " not in line.strip(), line
    assert "\x1b[1;31merror\x1b[0m" in text


def test_long_line_is_cut_around_its_column_and_tabs_keep_the_caret_in_place() -> None:
    lines = shown(Finding("key-unknown", Severity.ERROR, Place(STEP, 5, 150), "'y' is wrong"), width=60).splitlines()
    source = next(at for at, line in enumerate(lines) if "|" in line)
    assert lines[source].count("…") == 2
    assert lines[source][lines[source + 1].index("^")] == "y"


@pytest.mark.parametrize(
    ("written", "meant"),
    [
        ("open-cannal", "open-canal"),
        ("swob", "swab"),
        ("leftout", "left-out"),
        ("count-swabs", None),
        ("clean-skin", None),
        ("wash", None),
    ],
)
def test_hint_never_proposes_what_is_far_from_what_was_written(written: str, meant: str | None) -> None:
    known = ["open-canal", "cut-skin", "close-skin", "swab", "left-out", "count-again"]
    assert near(written, known) == meant


@pytest.mark.parametrize("name", sorted(REGISTER)[::10])
def test_near_spelling_is_what_difflib_finds_among_all(name: str) -> None:
    """Most names are passed over by a quicker measure; difflib, asked of every one, must find the same."""
    for slip in (name.replace("e", "", 1), name[::-1], name[3:] + "s"):
        alike = get_close_matches(slip, REGISTER, n=3, cutoff=0.75)
        assert near(slip, REGISTER) == next((one for one in alike if near(slip, [one])), None)

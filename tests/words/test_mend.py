"""Mending writes only what cannot change a meaning, shows it first, and never touches the value of a number."""

from __future__ import annotations

from pathlib import Path

import pytest
from department import lay, read

from builder.load.manual import old_codes
from builder.write.lock import NotWritten
from builder.write.mend import Edit, apply, diff, mends

STEP = "content/procedures/example/steps/tell-recovery.md"
TEXT = """---
title: "Tell recovery: give 10mg and 5000 IU"
basis: principle
supervision: part
minutes: 3
actions:
  - tell: recovery nurse
    what: .5 mL was given
common_practice: true
---
Give 5.0 mg q6h, then 100 mcg/kg and 2 cc. Never 100000 units, 0.5 g or MSO4.
Write `5 U` in code and [10mg](source:hernia-nerve-management-2007) in a link. The lesion is 2.0 cm.
"""


def mended(root: Path) -> str:
    lay(root, {STEP: TEXT})
    library, _ = read(root)
    apply(root, mends(library))
    return (root / STEP).read_text(encoding="utf-8")


def test_every_safe_writing_is_mended_and_nothing_else(base: Path) -> None:
    assert mended(base) == TEXT.replace("10mg and 5000 IU", "10 mg and 5000 units").replace(".5 mL", "0.5 mL").replace(
        "5.0 mg q6h, then 100 mcg/kg and 2 cc", "5 mg every 6 hours, then 100 micrograms/kg and 2 mL"
    ).replace("[10mg]", "[10 mg]")


def test_mending_twice_changes_nothing_more(base: Path) -> None:
    mended(base)
    library, _ = read(base)
    assert mends(library) == []


def test_diff_is_shown_without_writing(base: Path) -> None:
    lay(base, {STEP: TEXT})
    library, _ = read(base)
    shown = diff(base, mends(library))
    assert '-title: "Tell recovery: give 10mg and 5000 IU"' in shown
    assert '+title: "Tell recovery: give 10 mg and 5000 units"' in shown
    assert (base / STEP).read_text(encoding="utf-8") == TEXT


def test_findings_go_with_the_mend(base: Path) -> None:
    lay(base, {STEP: TEXT})
    before = {finding.name for finding in read(base)[1]}
    apply(base, mends(read(base)[0]))
    after = {finding.name for finding in read(base)[1]}
    assert {
        "unit-abbreviated",
        "trailing-zero",
        "naked-decimal",
        "unit-without-space",
        "directions-abbreviated",
    } <= before
    assert (
        after & {"unit-abbreviated", "trailing-zero", "naked-decimal", "unit-without-space", "directions-abbreviated"}
        == set()
    )
    assert {"drug-name-abbreviated", "zeros-without-separator", "smaller-unit-needed"} <= after


def test_an_edit_that_would_change_a_number_is_refused(base: Path) -> None:
    lay(base, {STEP: TEXT})
    start = TEXT.index("5.0 mg")
    with pytest.raises(NotWritten, match="would change a number"):
        apply(base, [Edit(STEP, 11, start, start + 6, "5.0 mg", "50 mg")])
    assert (base / STEP).read_text(encoding="utf-8") == TEXT


@pytest.mark.parametrize("quote", ["", '"', "'"])
def test_an_old_code_becomes_the_name_and_nothing_else_changes(quote: str, base: Path) -> None:
    code = next(code for code, name in old_codes().items() if name == "title-not-an-instruction")
    text = TEXT.replace("Tell recovery:", "Handover:").replace(
        "common_practice", f"accept: [{{check: {quote}{code}{quote}, reason: {code} was wrong}}]\ncommon_practice"
    )
    lay(base, {STEP: text})
    library, findings = read(base)
    [old] = [finding for finding in findings if finding.name == "acceptance-by-old-code"]
    assert "'title-not-an-instruction'" in old.message
    edits = mends(library)
    name = f"+accept: [{{check: {quote}title-not-an-instruction{quote}, reason: {code} was wrong}}]"
    assert name in diff(base, edits)
    apply(base, edits)
    after = {finding.name for finding in read(base)[1]}
    assert not after & {"acceptance-by-old-code", "acceptance-unused", "title-not-an-instruction"}


def test_one_unit_is_singular(base: Path) -> None:
    lay(base, {STEP: TEXT.replace("Give 5.0 mg q6h", "Give 1 U")})
    apply(base, mends(read(base)[0]))
    assert "Give 1 unit, then" in (base / STEP).read_text(encoding="utf-8")


def test_a_folded_text_in_front_matter_is_mended_where_it_is_certain(base: Path) -> None:
    folded = TEXT.replace(
        "    what: .5 mL was given\n", "    what: >-\n      the nurse was told\n      that .5 mL was given\n"
    )
    lay(base, {STEP: folded})
    apply(base, mends(read(base)[0]))
    assert "      that 0.5 mL was given\n" in (base / STEP).read_text(encoding="utf-8")

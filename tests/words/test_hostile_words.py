"""Texts made to be slow, numbers made to be large: the checks take as long as the length asks for, in plain words."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest
from department import Overlay, lay, new_base, read
from growth import assert_matching_grows_with_size

LONG = 100_000
TEXTS = {
    "brackets": "](" * LONG,
    "backticks": "`a" * LONG,
    "dashes": "-" * LONG + "|",
    "digits": "9" * LONG,
    "points": "1." * LONG,
    "spaces": "1" + " " * LONG + "mg",
    "sides": "left right " * (LONG // 10),
    "doses": "paracetamol 10 g " * (LONG // 68),
    "capitals": "ABC" * LONG,
    "hyphens": "a-b-c " * (LONG // 6),
    "titles": "Mr Mr Mr " * (LONG // 36),
    "words": "DOB " * (LONG // 4),
    "quotes": "'\"" * LONG,
}


@pytest.mark.parametrize("name", TEXTS)
def test_long_texts_are_read_in_the_time_that_their_length_takes(name: str, base: Path) -> None:
    def work(part: int) -> Callable[[], object]:
        text = TEXTS[name][: len(TEXTS[name]) * part // 16]
        item = f"---\ntitle: Look after the wound\nwhen: {{from: 0 h}}\ncommon_practice: true\n---\n{text}\n"
        root = lay(new_base(base.parent / str(part)), {"content/procedures/example/aftercare/planted.md": item})
        return lambda: read(root)

    assert_matching_grows_with_size(work, 2)


@pytest.mark.parametrize(
    "dose",
    [
        "amount: '1" + " " * 5000 + "mg'", f"amount: '{'9' * 5000} mg'", "weights: [1e999999], per_weight: 3 mg/kg",
        "weights: [0.0000001, 99999], per_weight: 3 mg/kg", "bands: [{from: 1e9999, to: 1e99999, amount: 1 mL}]",
        "bands: [{from: -5, to: 10, amount: 1 mL}]", "strength: 0 %, amount: 10 mg", "strength: 1 in 0, amount: 10 mg",
        "per_weight: 0 mg/kg, cap: 0 mg, weights: [50]",
        "draw_up: 0 mL, strength: 1 %, per_weight: 3 mg/kg, weights: [50]",
        "strength: 3 mg/7 mL, per_weight: 1 mg/kg, cap: 100 mg, weights: [50]", "amount: 1,5 g", "amount: ½ tablet",
        "strength: 3 mg/7 mL, amount: 10 mL", "strength: 3 mg/7 mL, cap: 10 mL, amount: 1 mL",
    ],
)  # fmt: skip
def test_strange_doses_are_no_fault_of_the_tool(dose: str, overlay: Overlay) -> None:
    from builder.compose.view.procedure_view import view_of

    item = "---\ntitle: Look after the wound\nwhen: {from: 0 h}\n" + (
        f"dose: {{drug: lidocaine, {dose}, common_practice: true}}\ncommon_practice: true\n---\n"
    )
    library, findings = read(overlay({"content/procedures/example/aftercare/planted.md": item}))
    for finding in findings:
        assert finding.message
        assert len(finding.message) < 6000
    for procedure in library.procedures:
        view_of(library, procedure)

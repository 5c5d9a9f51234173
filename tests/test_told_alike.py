"""What two texts of one procedure say of the same thing: limits, places, and remedies (written for this test)."""

from __future__ import annotations

import pytest
from department import Overlay, read

from builder.facts.told_limits import limits_in

HEAD = (
    '---\ntitle: Open the canal again\nspecialty: general surgery\nedition: "1.0"\nstatus: draft\n'
    "owner: {name: Ada Example, role: consultant surgeon}\nreview_by: 2028-05-31\nside: midline\n"
    "sequence: [look, operate]\ncommon_practice: true\n---\n"
)


def told(overlay: Overlay, look: str, operate: str, body: str = "") -> set[str]:
    """Return the findings of a procedure of two steps; ``look`` and ``operate`` are their last keys and prose."""
    own, common = "content/procedures/second", "common_practice: true"
    root = overlay(
        {
            f"{own}/procedure.md": HEAD + body,
            f"{own}/steps/look.md": f"---\ntitle: Look into the canal\n{common}\n{look}",
            f"{own}/steps/operate.md": f"---\ntitle: Find it\n{common}\n{operate}",
        }
    )
    return {finding.name for finding in read(root)[1]}


LIMITS = [
    ("A hole wider than 2 cm is another operation.", "Holes wider than 2 mm are another operation.", True),
    ("Call for less than 30 mL of urine an hour.", "Call for more than 30 mL of urine an hour.", True),
    ("Call for less than 30 mL of urine an hour.", "Call for less than 0.03 L of urine an hour.", False),
    ("Leave the drain in for more than 50 mL a day.", "Take the drain out for less than 50 mL a day.", False),
    ("A stone larger than 2 cm is another operation.", "A hole wider than 2 mm is another matter.", False),
    ("Not less than 5 mm of bone stays.", "More than 5 mm of bone stays.", False),
]


@pytest.mark.parametrize(("one", "other", "differ"), LIMITS, ids=[row[1] for row in LIMITS])
def test_limits_of_the_same_thing_agree(one: str, other: str, differ: bool) -> None:
    [first], [second] = list(limits_in(one)), list(limits_in(other))
    assert first.differs(second) is differ
    assert second.differs(first) is differ


def test_a_sentence_with_two_limits_says_what_lies_between_them() -> None:
    assert list(limits_in("The gap is more than 2 mm and less than 5 mm.")) == []


@pytest.mark.parametrize(("width", "is_told"), [("2 mm", True), ("2 cm", False)])
def test_limit_of_the_procedure_is_that_of_its_steps(overlay: Overlay, width: str, is_told: bool) -> None:
    body = f"Not for this operation: a hole wider than {width}.\n"
    found = told(overlay, "---\nLook.\n", "---\nA hole wider than 2 cm is not for this operation.\n", body)
    assert ("limit-told-otherwise" in found) is is_told


AT_RISK = "at_risk: [ilioinguinal nerve, external oblique aponeurosis]\n---\nThe ilioinguinal nerve lies "


@pytest.mark.parametrize(
    ("place", "is_told"),
    [
        ("medial to the external oblique aponeurosis", False),
        ("lateral to the external oblique aponeurosis", True),
        ("on its lateral side", False),
    ],
)
def test_place_is_the_same_in_every_step(overlay: Overlay, place: str, is_told: bool) -> None:
    found = told(overlay, f"{AT_RISK}medial to the external oblique aponeurosis.\n", f"{AT_RISK}{place}.\n")
    assert ("places-differ" in found) is is_told


@pytest.mark.parametrize(("remedy", "is_told"), [("smaller", True), ("larger", False)])
def test_remedy_leads_away_from_the_slip(overlay: Overlay, remedy: str, is_told: bool) -> None:
    operate = f"error: The patch is too small.\nrecovery: Cut a {remedy} one.\n---\nCut a patch.\n"
    assert ("opposites-told" in told(overlay, "---\nLook.\n", operate)) is is_told


SUTURED = (
    "actions:\n  - open: groin skin\n    side: {}\n    with: scalpel\n"
    "  - close: groin skin\n    side: right\n    with: running suture\n"
)


@pytest.mark.parametrize(
    ("side", "text", "is_told"),
    [
        ("right", "Close it.", False),
        ("left", "Close it.", True),
        ("both", "Close it.", True),
        ("both", "Close the same groin; the other one is closed later.", False),
        ("right", "Look on the left and on the left.", True),
        ("right", "Look on the left and on the right.", False),
    ],
)
def test_one_structure_is_worked_on_on_one_side(overlay: Overlay, side: str, text: str, is_told: bool) -> None:
    found = told(overlay, "---\nLook.\n", f"{SUTURED.format(side)}---\n{text}\n")
    assert ("sides-differ" in found) is is_told

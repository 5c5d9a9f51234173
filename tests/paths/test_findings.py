"""What a finding of the path analysis says: when it fails, on which path, where, and the place that would mend it.

The count rules after the WHO Guidelines for Safe Surgery (2009), objective 7 (prevention of inadvertent retention of
instruments and sponges; cited from memory), have tests of their own here; the other rules are common practice.
"""

from __future__ import annotations

import pytest
from department import Overlay, of_families, read

from builder.check.paths.path_words import plural
from builder.findings.finding import Finding

HEAD = """---
title: Open the canal again
specialty: general surgery
edition: "1.0"
status: draft
owner: {name: Ada Example, role: consultant surgeon}
review_by: 2028-05-31
"""


def step(title: str, *actions: str, more: str = "") -> str:
    listed = "actions:\n" + "".join(f"  - {one}\n" for one in actions) if actions else ""
    return f"---\ntitle: {title}\n{listed}{more}common_practice: true\n---\n"


def found(overlay: Overlay, front: str, **steps: str) -> list[Finding]:
    folder = "content/procedures/second"
    files = {f"{folder}/steps/{name.replace('_', '-')}.md": text for name, text in steps.items()}
    files[f"{folder}/procedure.md"] = f"{HEAD}{front}common_practice: true\n---\n"
    # These operations begin in an open wound: that nothing was opened for what they lay in it is not asked of them.
    return [one for one in of_families(read(overlay(files))[1], "paths", "names") if one.name != "place-not-open"]


def only(findings: list[Finding], id: str) -> Finding:
    assert [one.name for one in findings] == [id], [(one.name, one.message) for one in findings]
    return findings[0]


BRANCHES = """sequence:
  - choose: {id: skin-incision, title: Skin incision, between: {oblique: [see], transverse: [do-not-see]}}
  - option: {id: nerve-block, title: Nerve block, steps: [see-after-block]}
  - cut
"""


def test_message_names_the_choices_that_bring_it_about(overlay: Overlay) -> None:
    one = only(
        found(
            overlay,
            BRANCHES,
            see=step("Look for the nerve", "identify: [external oblique aponeurosis, ilioinguinal nerve]"),
            do_not_see=step("Look for the roof", "identify: external oblique aponeurosis"),
            see_after_block=step("Block and look for the nerve", "identify: ilioinguinal nerve"),
            cut=step("Split the roof of the canal", "divide: external oblique aponeurosis"),
        ),
        "neighbour-not-seen",
    )
    assert one.message == (
        "when the skin incision is transverse and the nerve block is left out: ... -> divide the external oblique "
        "aponeurosis; the ilioinguinal nerve has not been identified"
    )
    assert one.path == ("1B Look for the roof", "3 Split the roof of the canal")
    assert str(one.at) == "content/procedures/second/steps/cut.md:4:13"
    assert one.also[0].message == "identified here, but not on this path"
    assert one.also[0].at.file.endswith("steps/see.md")


def test_identified_on_the_other_side_is_said(overlay: Overlay) -> None:
    findings = found(
        overlay,
        "side: both\nsequence: [see, cut]\n",
        see=step("Look for the vein", "identify: superficial epigastric vein\n    side: left"),
        cut=step("Tie the vein", "tie: superficial epigastric vein"),
    )
    unseen = next(one for one in findings if one.name == "not-seen-before-cut")
    assert unseen.message.endswith("the superficial epigastric vein has not been identified on the right")
    assert unseen.also[0].message == "identified here, but on the left"


FOLLOWED = """kit: {small swab: 2}
sequence:
  - option: {id: pack, title: Packing, steps: [pack-it]}
  - look
  - follow: {choice: pack, with: {taken: [take-out], left-out: []}}
  - close
"""


def test_follow_ties_the_removal_to_the_placing(overlay: Overlay) -> None:
    assert (
        found(
            overlay,
            FOLLOWED,
            pack_it=step("Pack the canal", "place: small swab\n    number: 2\n    in: inguinal canal"),
            look=step("Look into the canal", "inspect: inguinal canal"),
            take_out=step("Take the swabs out", "remove: small swab\n    number: 2"),
            close=step("Close the canal", "count: swabs", "close: inguinal canal"),
        )
        == []
    )


def test_without_the_follow_both_paths_fail_each_in_its_way(overlay: Overlay) -> None:
    front = FOLLOWED.replace("follow: {choice: pack, with: {taken: [take-out], left-out: []}}", "take-out")
    one = only(
        found(
            overlay,
            front,
            pack_it=step("Pack the canal", "place: small swab\n    number: 2\n    in: inguinal canal"),
            look=step("Look into the canal", "inspect: inguinal canal"),
            take_out=step("Take the swabs out", "remove: small swab\n    number: 2"),
            close=step("Close the canal", "count: swabs", "close: inguinal canal"),
        ),
        "removed-but-not-in",
    )
    assert one.message == "when the packing is left out: ... -> remove 2 x small swab; none is in place"
    assert one.also[0].message == "placed here, but not on this path"


def test_what_lies_on_an_excised_structure_leaves_with_it(overlay: Overlay) -> None:
    front = "kit: {dissecting scissors: 1}\nsequence: [cut]\n"
    excised = step(
        "Excise the vein with the scissors on it",
        "identify: superficial epigastric vein",
        "place: dissecting scissors\n    on: superficial epigastric vein",
        "tie: superficial epigastric vein",
        "excise: superficial epigastric vein",
    )
    assert found(overlay, front, cut=excised) == []
    kept = excised.replace("  - excise: superficial epigastric vein\n", "")
    assert [one.name for one in found(overlay, front, cut=kept)] == ["item-left-in"]


def test_clamp_left_on_in_one_branch(overlay: Overlay) -> None:
    one = only(
        found(
            overlay,
            "sequence:\n  - choose: {id: way, title: Way, between: {tie: [tie-it], clip: [clamp-it]}}\n  - look\n",
            tie_it=step("Tie the vein", "identify: superficial epigastric vein", "tie: superficial epigastric vein"),
            clamp_it=step(
                "Clamp the vein", "identify: superficial epigastric vein", "clamp: superficial epigastric vein"
            ),
            look=step("Look into the canal", "inspect: inguinal canal"),
        ),
        "clamp-left-on",
    )
    assert one.message.startswith("when the way is clip: ... -> clamp the superficial epigastric vein; the clamp")
    assert one.at.file.endswith("steps/clamp-it.md")


# Counts: WHO Guidelines for Safe Surgery (2009), objective 7


def wound(*last: str) -> str:
    place = ["place: small swab\n    in: inguinal canal", "remove: small swab"]
    return step("Close the canal and the skin", *place, *last)


KIT = "kit: {small swab: 1}\nsequence: [close]\n"


@pytest.mark.parametrize(
    ("last", "ids"),
    [
        (["count: swabs", "close: inguinal canal", "count: swabs", "close: skin"], []),
        (["close: inguinal canal", "count: swabs", "close: skin"], ["cavity-closed-uncounted"]),
        (["count: swabs", "close: inguinal canal", "close: skin"], ["skin-closed-uncounted"]),
        (
            ["count: needles", "close: inguinal canal", "count: swabs", "close: skin"],
            ["cavity-closed-uncounted", "skin-closed-uncounted"],
        ),
    ],
)
def test_who_count_before_a_cavity_is_closed_and_at_skin_closure(
    last: list[str], ids: list[str], overlay: Overlay
) -> None:
    assert [one.name for one in found(overlay, KIT, close=wound(*last))] == ids


def test_who_count_before_the_last_swab_went_in_does_not_hold(overlay: Overlay) -> None:
    actions = ["count: swabs", "place: small swab", "remove: small swab", "close: skin"]
    assert only(found(overlay, KIT, close=step("Close the skin", *actions)), "skin-closed-uncounted").at.line == 7


def test_a_layer_in_which_nothing_counted_lies_needs_no_count(overlay: Overlay) -> None:
    actions = ["place: small swab", "remove: small swab", "close: external oblique aponeurosis", "count: swabs"]
    assert found(overlay, KIT, close=step("Close the layers", *actions, "close: skin")) == []


# Silence


def test_nothing_is_said_about_paths_where_a_name_is_unknown(overlay: Overlay) -> None:
    front = "sequence: [cut]\n"
    findings = found(overlay, front, cut=step("Tie the vein", "tie: superficial epigastric vien"))
    assert [one.name for one in findings] == ["structure-unknown"]


def test_step_used_twice_is_walked_twice(overlay: Overlay) -> None:
    front = "kit: {small swab: 2}\nsequence: [pack, pack, take-out]\n"
    one = only(
        found(
            overlay,
            front,
            pack=step("Pack the canal", "place: small swab"),
            take_out=step("Take the swab out", "remove: small swab"),
        ),
        "item-left-in",
    )
    assert one.path == ("1 Pack the canal", "2 Pack the canal", "3 Take the swab out")


def test_unused_kit_leads_to_the_text_that_names_it(overlay: Overlay) -> None:
    front = "kit: {dissecting scissors: 1}\nsequence: [look]\n"
    text = step("Look into the canal", "inspect: inguinal canal") + "Spread the fat with dissecting scissors.\n"
    found_here = found(overlay, front, look=text)
    one = next(one for one in found_here if one.name == "kit-unused")
    assert [(second.at.line, second.at.column) for second in one.also] == [(7, 21)]
    assert one.also[0].message == "named here, but no action of this step uses it"


@pytest.mark.parametrize(
    ("name", "many"),
    [("branches of the inferior thyroid artery", True), ("skin of the baby", False), ("branch of the nerves", False)],
)
def test_the_verb_goes_with_the_first_noun_of_a_name(name: str, many: bool) -> None:
    assert plural(name) is many

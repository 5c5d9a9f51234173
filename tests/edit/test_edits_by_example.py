"""Edits as people ask for them, and what is in the file then: small enough to be read."""

from __future__ import annotations

from textwrap import dedent

import pytest

from builder.edit.file_change import Drop, ListEntry, Ordered, Put
from builder.edit.ids import id_for
from builder.edit.operations import edited, new_text, put_in

STEP = dedent("""\
    ---
    # about this step
    title: 'Open the canal'   # keep it short
    critical: true

    actions:     # in order
      # look first
      - identify: ilioinguinal nerve
      - place: artery forceps   # straight ones
        number: 2
        on: aponeurosis

      # then cut
      - divide: aponeurosis
    cue: >
      The nerve lies free
      of both edges.
    evidence: [one-2007, two-2018]   # checked
    figure: {file: canal.svg, alt: "A: b"}
    ---
    Prose.
    """)


def changed(before: str, after: str) -> tuple[list[str], list[str]]:
    """The lines that are only in ``before`` and only in ``after``."""
    old, new = before.splitlines(), after.splitlines()
    return [line for line in old if line not in new], [line for line in new if line not in old]


def test_a_verb_is_changed_where_it_stands() -> None:
    rows = [
        ListEntry({"protect": "ilioinguinal nerve"}, ("actions", 0)),
        ListEntry({"place": "artery forceps", "number": "2", "on": "aponeurosis"}, ("actions", 1)),
        ListEntry({"divide": "aponeurosis"}, ("actions", 2)),
    ]
    after = edited(STEP, "step", [Put(("actions",), rows)])
    assert changed(STEP, after) == (["  - identify: ilioinguinal nerve"], ["  - protect: ilioinguinal nerve"])


def test_an_action_takes_its_remarks_along_and_can_be_changed_on_the_way() -> None:
    rows = [
        ListEntry({"divide": "aponeurosis"}, ("actions", 2)),
        ListEntry({"identify": "ilioinguinal nerve"}, ("actions", 0)),
        ListEntry({"place": "artery forceps", "number": "4", "on": "aponeurosis"}, ("actions", 1)),
    ]
    after = edited(STEP, "step", [Put(("actions",), rows)])
    start, end = after.index("actions:"), after.index("cue:")
    assert after[start:end] == dedent("""\
        actions:     # in order
          # then cut
          - divide: aponeurosis
          # look first
          - identify: ilioinguinal nerve

          - place: artery forceps   # straight ones
            number: 4
            on: aponeurosis
        """)


def test_a_new_key_comes_where_the_manual_has_it() -> None:
    after = edited(STEP, "step", [Put(("at_risk",), ["ilioinguinal nerve"]), Put(("minutes",), "5")])
    assert changed(STEP, after) == ([], ["minutes: 5", "at_risk: [ilioinguinal nerve]"])
    lines = after.splitlines()
    assert lines[lines.index("critical: true") + 1] == "minutes: 5"
    assert lines[lines.index("at_risk: [ilioinguinal nerve]") + 1] == "evidence: [one-2007, two-2018]   # checked"


def test_text_keeps_its_manner() -> None:
    edits = [Put(("title",), "Don't open"), Put(("cue",), "It is free.\n"), Put(("figure", "alt"), "C: d")]
    assert changed(STEP, edited(STEP, "step", edits))[1] == [
        "title: 'Don''t open'   # keep it short",
        "  It is free.",
        'figure: {file: canal.svg, alt: "C: d"}',
    ]


def test_windows_line_ends_and_the_mark_of_the_encoding_stay() -> None:
    before = "\ufeff" + STEP.replace("\n", "\r\n")
    after = put_in(edited(before, "step", [Put(("why",), "One.\nTwo.")]), "step", ("evidence",), "new-2020", 1)
    assert "\n" not in after.replace("\r\n", "")
    assert changed(before, after)[1] == [
        "why: |-",
        "  One.",
        "  Two.",
        "evidence: [one-2007, new-2020, two-2018]   # checked",
    ]


def test_a_second_figure_makes_a_list_of_the_first() -> None:
    before = "---\nfigure:\n  file: a.svg  # mine\n  alt: A\n---\n"
    rows = [ListEntry({"file": "a.svg", "alt": "A"}, ("figure", 0)), ListEntry({"file": "b.svg", "alt": "B"})]
    after = edited(before, "step", [Put(("figure",), rows)])
    assert after == "---\nfigure:\n  - file: a.svg  # mine\n    alt: A\n  - file: b.svg\n    alt: B\n---\n"


SEQUENCE = dedent("""\
    ---
    title: Repair
    sequence:
      - check-side
      - choose:
          id: anaesthesia
          between:
            # the usual way
            local:
              - numb   # slowly
            general: [test-block]
      # needs good light
      - open-canal   # with the nerve in view
      - option: {id: drain, steps: [place-drain]}
    kit:
      tape: 1
      swab: 5   # radio-opaque
    ---
    """)


def test_a_step_goes_into_a_branch_and_takes_its_remarks_along() -> None:
    branches = {
        "local": [ListEntry("numb", _at("local", 0)), ListEntry("open-canal", ("sequence", 2))],
        "general": [ListEntry("test-block", _at("general", 0))],
    }
    choose = {"id": "anaesthesia", "between": branches}
    rows = [
        ListEntry("check-side", ("sequence", 0)),
        ListEntry({"choose": choose}, ("sequence", 1)),
        ListEntry({"option": {"id": "drain", "steps": ["place-drain"]}}, ("sequence", 3)),
    ]
    after = edited(SEQUENCE, "procedure", [Put(("sequence",), rows)])
    assert after[after.index("local:") : after.index("kit:")] == (
        "local:\n"
        "          - numb   # slowly\n"
        "          # needs good light\n"
        "          - open-canal   # with the nerve in view\n"
        "        general: [test-block]\n"
        "  - option: {id: drain, steps: [place-drain]}\n"
    )


def _at(branch: str, number: int) -> tuple[str | int, ...]:
    return ("sequence", 1, "choose", "between", branch, number)


def test_kit_one_more_one_less_one_renamed() -> None:
    after = edited(SEQUENCE, "procedure", [Put(("kit",), {"swab": "10", "drain": "1"})])
    assert after[after.index("kit:") :] == "kit:\n  drain: 1\n  swab: 10   # radio-opaque\n---\n"
    after = edited(SEQUENCE, "procedure", [Put(("kit",), {"sling": "1", "swab": "5"}), Drop(("sequence", 2))])
    assert after[after.index("  - option") :] == dedent("""\
          - option: {id: drain, steps: [place-drain]}
        kit:
          sling: 1
          swab: 5   # radio-opaque
        ---
        """)


def test_kit_and_ways_are_put_in_another_order_with_their_remarks() -> None:
    kit = Ordered({"swab": "5", "clip": "2", "tape": "1"})
    after = edited(SEQUENCE, "procedure", [Put(("kit",), kit)])
    assert after[after.index("kit:") :] == "kit:\n  swab: 5   # radio-opaque\n  clip: 2\n  tape: 1\n---\n"
    local, general = [ListEntry("numb", _at("local", 0))], [ListEntry("test-block", _at("general", 0))]
    choose = {"id": "anaesthesia", "between": Ordered({"general": general, "local": local})}
    rows = [ListEntry(step, ("sequence", number)) for number, step in enumerate(["check-side", {"choose": choose}])]
    rest = ["open-canal", {"option": {"id": "drain", "steps": ["place-drain"]}}]
    rows += [ListEntry(step, ("sequence", number)) for number, step in enumerate(rest, start=2)]
    after = edited(SEQUENCE, "procedure", [Put(("sequence",), rows)])
    assert after[after.index("between:") : after.index("  # needs")] == (
        "between:\n"
        "        general: [test-block]\n"
        "        # the usual way\n"
        "        local:\n"
        "          - numb   # slowly\n"
    )
    assert sorted(after.splitlines()) == sorted(SEQUENCE.splitlines())


def test_a_catalogue_gets_a_line() -> None:
    before = "# anatomy\n- {id: vein, name: vein, kind: vessel}\n\n- {id: skin, name: skin, kind: skin}  # last"
    after = put_in(before, "structures", (), {"id": "nerve", "name": "nerve: x", "kind": "nerve"})
    assert after == before + '\n\n- {id: nerve, name: "nerve: x", kind: nerve}\n'


@pytest.mark.parametrize(
    ("title", "id"),
    [
        ("Find the nerve", "find-the-nerve"),
        ("Lay the mesh (flat), 15 × 8 cm!", "lay-the-mesh-flat-15-8-cm"),
        ("Öffnen – groß", "offnen-gross"),
        ("手術", "new"),
        ("Close the skin", "close-the-skin-2"),
        ("x" * 80, "x" * 48),
    ],
)
def test_a_file_is_named_after_its_title(title: str, id: str) -> None:
    assert id_for(title, {"close-the-skin"}) == id


def test_a_new_file_is_written_in_the_usual_order() -> None:
    text = new_text("caution", {"guards": ["cut"], "signal": "danger", "hazard": "Bleeding: at once"}, "Call.\n")
    assert text == '---\nsignal: danger\nhazard: "Bleeding: at once"\nguards: [cut]\n---\nCall.\n'


@pytest.mark.parametrize("words", ["null", "~", "Null"])
def test_words_that_other_readers_take_for_nothing_are_quoted(words: str) -> None:
    """YAML 1.2.2, section 10.2.1.1 (the core schema's null)."""
    assert edited("---\ntitle: a\n---\n", "step", [Put(("title",), words)]) == f'---\ntitle: "{words}"\n---\n'

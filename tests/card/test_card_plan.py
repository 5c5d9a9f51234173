"""What a card shows is decided by importance: from the finished files of the demo, and broken on purpose."""

from __future__ import annotations

import re
from dataclasses import replace
from pathlib import Path

import pytest
from cards import card_of, demo, file_of, one_way, sides_of
from department import DEMO, DEMO_IDS, lay, new_base, read
from papers import proved, renderer, spoilt, typesetter

from builder.compose.card import card, card_ways
from builder.compose.card.card_plan import LEVELS, MUST, SHORT_LABELS, CardLine, letters_of, plan_of
from builder.compose.card.ways import way_of
from builder.compose.view.outline import outline, step_blocks
from builder.model.action import Verb
from builder.model.pages import Procedure
from builder.readback.comparison import bare

_SEEN = ("", "see", "cue")


@pytest.fixture(params=DEMO_IDS)
def procedure(request: pytest.FixtureRequest) -> Procedure:
    return demo().by_id[request.param]


@pytest.fixture(params=["every way", "the longest"])
def way(request: pytest.FixtureRequest, procedure: Procedure) -> str:
    return one_way(procedure) if request.param == "the longest" else ""


@pytest.fixture
def hernia() -> Procedure:
    return demo().by_id["open-mesh-inguinal-hernia"]


def walked(procedure: Procedure, way: str) -> Procedure:
    if not way:
        return procedure
    choices = card_of(procedure.id, way).explained["choices"]
    return way_of(procedure, choices, demo().items)


def test_every_caution_of_the_way_is_there_with_how_it_shows_and_what_to_do(procedure: Procedure, way: str) -> None:
    shown = "".join(sides_of(procedure.id, way))
    cautions = walked(procedure, way).cautions.values()
    assert cautions
    for caution in cautions:
        for text in (caution.hazard, caution.sign, caution.if_it_happens):
            assert text, caution.id
            assert bare(text) in shown, (caution.id, text)


def test_a_number_stands_with_the_steps_at_which_one_cannot_go_on(hernia: Procedure) -> None:
    told = {
        line.id: part.text
        for line in plan_of(demo(), hernia)
        if line.section == "calls"
        for part in line.parts
        if part.role == "unmet"
    }
    assert list(told.values()) == ["1, 5–9, 11, 15", "14", "3A, 3B"]  # 7, 8A, 8B and 9 follow each other on the card


def test_every_critical_step_says_when_to_go_on(procedure: Procedure, way: str) -> None:
    shown = "".join(sides_of(procedure.id, way))
    critical = [step for step in walked(procedure, way).steps.values() if step.critical]
    assert critical
    for step in critical:
        assert step.cue
        assert bare(f"{SHORT_LABELS['cue']} {step.cue}") in shown, step.id


def test_every_number_to_call_is_there_with_its_steps(procedure: Procedure, way: str) -> None:
    shown = "".join(sides_of(procedure.id, way))
    called = {step.call for step in walked(procedure, way).steps.values() if step.call}
    called |= {caution.call for caution in walked(procedure, way).cautions.values() if caution.call}
    numbers = {contact.role: contact.number for contact in demo().department.call}
    for role in called:
        assert bare(f"{role}, {numbers[role]}") in shown


def test_steps_and_dangers_have_one_number_on_the_cards_of_all_ways(procedure: Procedure) -> None:
    numbers = {block.anchor: block.number for block in step_blocks(outline(procedure))}
    letters = letters_of(procedure, outline(procedure))
    for ticket in card_ways.tickets_of(procedure):
        for line in plan_of(demo(), procedure, ticket.way.choices):
            if line.section == "steps":
                assert line.number == numbers[line.id]
            elif line.kind == "caution":
                assert line.number == letters[line.id.removeprefix("caution-")]


def test_no_two_number_systems_meet(hernia: Procedure) -> None:
    assert not {"I", "O"} & set(letters_of(hernia, outline(hernia)).values())
    for line in plan_of(demo(), hernia):
        if line.kind == "caution":
            assert line.number.isalpha()
        elif line.section == "steps":
            assert line.number[0].isdigit()
            assert all(mark.isalpha() for mark in line.marks)


def test_a_gap_in_the_numbers_is_seen(hernia: Procedure) -> None:
    choices = {"anaesthesia": "local", "indirect-sac": "left-out", "direct-sac": "left-out"}
    steps = [line for line in plan_of(demo(), hernia, choices) if line.section == "steps"]
    assert [line.number for line in steps if line.gap] == ["10", "14"]
    assert not [line for line in plan_of(demo(), hernia) if line.gap]


def test_dangers_come_first_the_gravest_before_all_and_each_signal_word_once() -> None:
    for procedure in demo().procedures:
        sections = list(dict.fromkeys(line.section for line in plan_of(demo(), procedure)))
        order = ("danger", "warning", "caution", "notice", "steps", "calls", "before", "aftercare")
        assert sections == [one for one in order if one in sections]
        text = card_of(procedure.id).text
        for section in ("danger", "warning", "caution"):
            heads = re.findall(rf'id="place-{section}-(\d)"', text)
            assert len(heads) == len(set(heads))
            assert len(re.findall(rf"{section.capitalize()}</span>", text)) == len(heads)


@pytest.mark.parametrize(
    ("id", "wanted"),
    [
        ("caesarean-birth", {"urinary bladder", "uterine vessels"}),
        ("carpal-tunnel-decompression", {"recurrent motor branch", "median nerve"}),
        ("chest-drain-insertion", {"diaphragm", "lung"}),
        ("open-mesh-inguinal-hernia", {"ilioinguinal nerve", "vas deferens", "inferior epigastric vessels"}),
    ],
)
def test_what_can_be_hurt_is_seen_first(id: str, wanted: set[str]) -> None:
    one = demo().by_id[id]
    told = " ".join(f"{part.text}" for line in plan_of(demo(), one) for part in line.shown(MUST) if part.role in _SEEN)
    assert {name for name in wanted if name not in told.casefold()} == set()
    shown = "".join(sides_of(id))
    assert all(bare(name) in shown for name in wanted)


def test_what_was_seen_in_another_branch_is_seen_first_in_this() -> None:
    """The bladder is looked for after either cut of the skin, the vessels before either closure."""
    birth = demo().by_id["caesarean-birth"]
    see = {line.number: part.text for line in plan_of(demo(), birth) for part in line.parts if part.role == "see"}
    assert see["4A"] == see["4B"] == "urinary bladder."
    assert see["10A"] == see["10B"] == "uterine vessels."


def tells_count(line: CardLine) -> bool:
    """Tell whether the line of a step says that something is counted."""
    return "count" in line.parts[0].text.casefold() or any(part.role == "count" for part in line.parts)


def test_every_count_is_on_the_card() -> None:
    for procedure in demo().procedures:
        shown = "".join(sides_of(procedure.id))
        counting = [one for one in procedure.steps.values() if any(a.verb is Verb.COUNT for a in one.actions)]
        assert counting
        assert shown.count(bare("Count swabs, needles")) + shown.count(bare("Count needles,")) >= 1
        assert all(bare(one.title) in shown for one in counting)
        again = [line for line in plan_of(demo(), procedure) if line.section == "steps" and tells_count(line)]
        assert len(again) == len(counting), "what is counted is told once; a count is told by its line or its title"


def test_title_code_and_status_stand_once_and_no_word_of_the_machine(procedure: Procedure, way: str) -> None:
    sides = sides_of(procedure.id, way)
    document = card_of(procedure.id, way)
    code = next(must.text for must in document.musts if must.kind == "code")
    assert [side.count(bare(procedure.title)) for side in sides] == [1] + [0] * (len(sides) - 1)
    assert sum(side.count(bare(code)) for side in sides) == 1
    assert all(side.count(bare("In review: not yet approved")) == 1 for side in sides)
    words = "".join(sides)
    machine = ("Read back", "publishing", "Print at", "Cut along", "Fold along", ": done")
    assert not [one for one in machine if bare(one) in words]


def test_it_is_proved_and_large_enough(procedure: Procedure, way: str, tmp_path: Path) -> None:
    document = card_of(procedure.id, way)
    found = proved(document, file_of(procedure.id, way), tmp_path)
    assert found.problems == ()
    assert found.pages == document.explained["sides"] <= 4
    assert found.smallest_type_pt >= 8.5
    assert document.explained["readable_to_cm"] >= 46
    assert document.explained["to_read_at_60_cm"]["type_pt"] == 10.9


def test_the_way_is_told_in_words(hernia: Procedure) -> None:
    for name in card_ways.names_of(hernia):
        told = card_of(hernia.id, name).explained["way"]
        assert "done" not in told
        assert "left out" not in told
    assert card_of(hernia.id, card_ways.names_of(hernia)[0]).explained["way"] == (
        "Anaesthetic: local; with indirect sac; handling of the sac: reduce; with direct sac"
    )


@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        (r'<li id="caution-wrong-side".*?</li>', "", "nowhere"),
        (r'<span class="detail act">.*?</span>(?=</li>)', "", "is not there"),
        (r'<span class="detail sign">.*?</span>', "", "is not there"),
        (r'<span class="detail cue">.*?</span>(?=</li>)', "", "is not there"),
        (r'<span class="detail see">.*?</span>.*?</span>', "", "is not there"),
        (r'<span class="detail count">.*?</span>', "", "is not there"),
        (r'<span class="guard">▲A</span>', "", "step"),
        (r'<span class="n">8B</span>', '<span class="n">9</span>', "step"),
        (r'<li id="call-2">.*?</li>', "", "call"),
        (r"(<section class=\"place steps.*?</section>)(.*?)(<section class=\"place calls.*?</section>)", r"\3\2\1",
         "stands before"),
        (r'@bottom-left \{ content: "[^"]*"', '@bottom-left { content: ""', "does not bear the mark"),
        ("</style>", ".lines li { padding-top: 5mm !important }</style>", "sides and was filled for"),
        ("</style>", ".detail { font-size: 7.5pt }</style>", "7.5 pt; the smallest allowed is 8.5"),
    ],
)  # fmt: skip
def test_a_rule_that_is_broken_on_purpose_is_noticed(
    hernia: Procedure, old: str, new: str, said: str, tmp_path: Path
) -> None:
    whole = card_of(hernia.id)
    text, count = re.subn(old, new, whole.text, count=1, flags=re.DOTALL)
    assert count == 1
    broken = replace(whole, text=text)
    problems = proved(broken, typesetter(DEMO).pdf(broken), tmp_path).problems
    assert any(said in problem for problem in problems), problems


def test_the_shortest_that_may_stand_is_all_that_must() -> None:
    for procedure in demo().procedures:
        for line in plan_of(demo(), procedure):
            if line.kind in ("caution", "step", "call"):
                assert line.shown(MUST)
            assert line.shown(LEVELS[-1]) == line.parts


def test_what_found_no_room_is_told(hernia: Procedure, tmp_path: Path) -> None:
    made = card_of(hernia.id)
    assert made.explained["not_shown"]
    assert {one.kind for one in made.left_out} >= {"step-line", "caution-line"}
    assert len(made.explained["too_long_for_two_sides"]["longest"]) == 4
    assert "half as long wins" in made.explained["too_long_for_two_sides"]["longest"][0]


def test_letters_go_on_after_z(tmp_path: Path) -> None:
    files = {
        f"content/procedures/example/cautions/extra-{at:02}.md": (
            f"---\nsignal: notice\nhazard: Extra {at}\nconsequence: Harm.\navoid: Look.\n"
            "guards: [open-canal]\ncommon_practice: true\n---\n"
        )
        for at in range(26)
    }
    whole, _ = read(lay(new_base(tmp_path), files))
    procedure = whole.procedures[0]
    letters = list(letters_of(procedure, outline(procedure)).values())
    assert letters[:10] == list("ABCDEFGHJK")
    assert letters[23:26] == ["Z", "AA", "AB"]
    assert len(set(letters)) == len(letters)


def test_a_spoilt_card_is_spoilt(hernia: Procedure) -> None:
    with pytest.raises(AssertionError):
        spoilt(card_of(hernia.id), "not on any card at all", "")
    assert card.compose(demo(), hernia, renderer(DEMO)) is card_of(hernia.id)

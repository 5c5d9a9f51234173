"""A card is filled by importance: two sides or four, the most of the plan, then the largest type, then wide spacing."""

from __future__ import annotations

from pathlib import Path

import pytest
from department import lay, new_base, read
from hypothesis import given, settings
from hypothesis import strategies as st
from papers import document, library, renderer, typesetter

from builder.compose.card import card
from builder.compose.card.card_fit import TYPES, Fit, Heights, fit, readable_cm
from builder.compose.card.card_plan import LEVELS, MUST, CardLine, LinePart
from builder.compose.document import Renderer
from builder.findings.finding import Refused
from builder.load.templates import load_templates
from builder.publish.paper.pdf import Typesetter

ROOM, HEADING, FOOT = 130.0, 5.0, 20.0
SECTIONS = ("danger", "warning", "steps", "calls", "before")


@st.composite
def plans(draw: st.DrawFn) -> tuple[list[CardLine], Heights]:
    lines, heights = [], {}
    sections = sorted(draw(st.lists(st.sampled_from(SECTIONS), min_size=1, max_size=40)), key=SECTIONS.index)
    for at, section in enumerate(sections):
        levels = sorted(draw(st.lists(st.sampled_from(LEVELS), min_size=1, max_size=3)))
        line = CardLine(section, f"line-{at}", tuple(LinePart("", f"{level}", level) for level in levels))
        each = draw(st.integers(30, 120)) / 10
        lines.append(line)
        heights[line.id] = tuple(each * len(line.shown(level)) for level in LEVELS)
    return lines, Heights(heights, dict.fromkeys(SECTIONS, HEADING), FOOT, ROOM - 10, ROOM)


def used(made: Fit) -> list[float]:
    """How many mm each side takes, counted anew."""
    total = []
    for side in made.sides:
        sections = {line.section for line in side.lines}
        lines = sum(made.heights.lines[line.id][made.level] + side.gap_mm for line in side.lines)
        total.append(lines + HEADING * len(sections))
    total[-1] += FOOT
    return total


@settings(max_examples=200)
@given(plans(), st.booleans())
def test_every_line_stands_once_in_order_and_no_side_is_too_full(
    plan: tuple[list[CardLine], Heights], single: bool
) -> None:
    lines, heights = plan
    made = fit(lines, lambda _: heights, single=single)
    standing = [line for side in made.sides for line in side.lines]
    assert standing == [line for line in lines if line.shown(made.level)]
    if made.over:
        assert made.level == MUST
        return
    assert len(made.sides) <= 4
    rooms = [ROOM - 10] + [ROOM] * 3
    assert all(taken <= room for taken, room in zip(used(made), rooms, strict=False))
    assert all(0.09 <= side.gap_mm <= 1.5 for side in made.sides)


def height(pt: float, rows: int) -> Heights:
    return Heights({"a": (pt * rows,) * len(LEVELS)}, {"steps": HEADING}, FOOT, ROOM, ROOM)


ONE = [CardLine("steps", "a", (LinePart("", "a", MUST), LinePart("cue", "b", LEVELS[-1])))]


@pytest.mark.parametrize(("rows", "pt"), [(1, 10.9), (9, 10.9), (11, 9.2), (12, 8.5)])
def test_the_type_is_the_largest_in_which_all_of_the_plan_stands(rows: int, pt: float) -> None:
    asked = []

    def measure(size: float) -> Heights:
        asked.append(size)
        return height(size, rows)

    made = fit(ONE, measure, single=True)
    assert made.pt == pt
    assert len(asked) == len(set(asked))


def test_what_is_less_important_is_left_out_before_what_is_more() -> None:
    line = CardLine("steps", "a", tuple(LinePart("", str(level), level) for level in LEVELS))
    sizes = {level: 40.0 * (level + 1) for level in LEVELS}

    def measure(_: float) -> Heights:
        many = {f"a{at}": tuple(sizes.values()) for at in range(3)}
        return Heights(many, {"steps": HEADING}, FOOT, ROOM, ROOM)

    lines = [CardLine("steps", f"a{at}", line.parts) for at in range(3)]
    assert fit(lines, measure, single=True).level == MUST
    assert len(fit(lines, measure, single=True).sides) == 2
    four = fit(lines, measure, single=False)
    assert (four.level, len(four.sides)) == (1, 3)


def test_a_line_that_is_longer_than_a_side_does_not_fit() -> None:
    made = fit(
        ONE, lambda _: Heights({"a": (140.0,) * len(LEVELS)}, {"steps": HEADING}, FOOT, ROOM, ROOM), single=False
    )
    assert made.over == pytest.approx(140.1 + HEADING - ROOM + 0.6, abs=0.11)


def test_no_type_is_smaller_than_8_5_pt_and_the_largest_reads_to_60_cm() -> None:
    assert min(TYPES) == 8.5
    assert readable_cm(TYPES[-1]) >= 60 > readable_cm(TYPES[-2])


def test_the_measured_heights_are_those_of_the_paper() -> None:
    made = document("card")
    sheets = typesetter().measure(made.text)
    assert len(sheets) == made.explained["sides"]
    assert renderer().measure(made.text) == sheets
    for sheet in sheets:
        assert max(sheet.values()) < 148 - 8.8 + 0.1
    setter = card.Setter(library(), library().procedures[0], renderer())
    lines = card.plan_of(library(), library().procedures[0])
    best = fit(lines, lambda pt: setter.measured({"": lines}, pt)[""], single=False)
    for number, (side, sheet) in enumerate(zip(best.sides, sheets, strict=True), start=1):
        place = ""
        for line, following in zip(side.lines, side.lines[1:], strict=False):
            is_first, place = line.section != place, line.section
            if place == following.section:
                height = best.heights.lines[line.id][best.level] + side.gap_mm + best.heights.headings[place] * is_first
                start = sheet[f"place-{place}-{number}" if is_first else line.id]
                assert sheet[following.id] - start == pytest.approx(height, abs=0.05)


def _caution(hazard: str) -> str:
    return (
        f"---\nsignal: notice\nhazard: {hazard}\nconsequence: Harm that lasts.\navoid: Look at all of it.\n"
        "sign: The field is dark, and nobody in the room can say why.\n"
        "if_it_happens: Stop, press, and ask for help; then look at the whole of the field once more.\n"
        "guards: [open-canal]\ncommon_practice: true\n---\n"
    )


def test_too_much_that_must_stand_is_an_error_in_mm_with_what_shortening_wins(tmp_path: Path) -> None:
    longest = "A hazard whose name is much too long for a card, because it goes on and on and says everything twice"
    files = {f"content/procedures/example/cautions/extra-{at:02}.md": _caution(f"Extra {at}") for at in range(48)}
    files["content/procedures/example/cautions/extra-07.md"] = _caution(longest)
    root = lay(new_base(tmp_path), files)
    whole, _ = read(root)
    with pytest.raises(Refused) as caught:
        card.compose(whole, whole.procedures[0], Renderer(load_templates(root), Typesetter(root).measure))
    finding = caught.value.finding
    assert finding.at.file == "content/procedures/example/procedure.md"
    assert "mm longer than 4 sides" in finding.message
    said = {str(also.at): also.message for also in finding.also}
    told = said["content/procedures/example/cautions/extra-07.md:3:9"]
    assert "half as long wins" in told
    assert longest in told

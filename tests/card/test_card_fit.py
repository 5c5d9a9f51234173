"""The card's choice is the best there is, keeps what must stand, and says in mm what does not fit."""

from __future__ import annotations

import re
from itertools import product
from pathlib import Path

import pytest
from department import lay, new_base, read
from hypothesis import given, settings
from hypothesis import strategies as st
from papers import document, renderer, typesetter

from builder.compose.card import card
from builder.compose.card.card_fit import DENSITIES, Density, Heights, fit
from builder.compose.card.card_lines import BACK, FRONT, CardLine, LineForm
from builder.compose.document import Renderer
from builder.findings.finding import Refused
from builder.load.templates import load_templates
from builder.publish.paper.pdf import Typesetter

ROOM = 30.0
HEADING = 2.0
SLACK = 0.6


@st.composite
def cards(draw: st.DrawFn) -> tuple[list[CardLine], Heights]:
    count = draw(st.integers(1, 6))
    lines, heights = [], {}
    for at in range(count):
        section = draw(st.sampled_from((*FRONT[:2], *BACK[:2])))
        forms = tuple(
            LineForm(f"{at}-{form}", worth=draw(st.integers(0, 9))) for form in range(draw(st.integers(1, 2)))
        )
        lines.append(CardLine(section, f"line-{at}", forms, must=draw(st.booleans())))
        heights[f"line-{at}"] = tuple(sorted(draw(st.integers(1, 140)) / 10 for _ in forms))
    return lines, Heights(heights, dict.fromkeys((*FRONT, *BACK), HEADING), ROOM, ROOM)


def every_choice(lines: list[CardLine], heights: Heights) -> list[int]:
    """The worth of every choice for one side that fits, by trying all."""
    found = []
    for choice in product(*(range(-1, len(line.forms)) for line in lines)):
        standing = [(line, form) for line, form in zip(lines, choice, strict=True) if form >= 0]
        if any(line.must and form < 0 for line, form in zip(lines, choice, strict=True)):
            continue
        used = sum(heights.forms[line.id][form] for line, form in standing)
        used += HEADING * len({line.section for line, _ in standing})
        if round(used * 10) <= round((ROOM - SLACK) * 10):
            found.append(sum(line.forms[form].worth for line, form in standing))
    return found


@settings(max_examples=300)
@given(cards())
def test_no_other_choice_is_worth_more(made: tuple[list[CardLine], Heights]) -> None:
    lines, heights = made
    best = fit(lines, lambda _: heights)
    for side, sections in ((best.front, FRONT), (best.back, BACK)):
        here = [line for line in lines if line.section in sections]
        worths = every_choice(here, heights)
        if not worths:
            assert side.over > 0
            continue
        assert side.over == 0
        assert sum(line.forms[side.chosen[line.id]].worth for line in here if line.id in side.chosen) == max(worths)
        assert {line.id for line in here if line.must} <= set(side.chosen)
        assert side.used <= ROOM


def test_the_type_is_the_largest_at_which_all_that_is_wanted_stands() -> None:
    line = CardLine("before", "a", (LineForm("a", worth=1),), wanted=True)

    def measured(density: Density) -> Heights:
        return Heights({"a": (density.pt * 3.3,)}, {"before": 1.0}, ROOM, ROOM)

    best = fit([line], measured)
    assert best.density.name == "even"  # 8.4 pt: 28.7 of 29.4 mm; 9 pt would take 30.7
    assert [name for name, _ in best.tried] == ["tight", "close", "even", "comfortable"]


@pytest.mark.parametrize("letters", [1, 300, 900, 1500, 4000])
@pytest.mark.parametrize("mm_per_pt", [0.1, 3.3, 3.6, 3.9, 9.0])
def test_wherever_measuring_begins_the_type_is_the_same(letters: int, mm_per_pt: float) -> None:
    """The guess of where to begin, by the length of the texts, decides what is measured and nothing else."""
    line = CardLine("before", "a", (LineForm("a" * letters, worth=1),), wanted=True)
    asked = []

    def row(density: Density) -> float:
        return density.pt * density.leading * mm_per_pt / 1.3

    def measured(density: Density) -> Heights:
        asked.append(density.name)
        return Heights({"a": (row(density),)}, {"before": 1.0}, ROOM, ROOM)

    fitting = [one for one in DENSITIES if row(one) + 1.0 <= ROOM - SLACK]
    assert fit([line], measured).density == (fitting or DENSITIES[-1:])[0]
    assert len(asked) == len(set(asked))


def test_no_density_is_smaller_than_7_pt() -> None:
    assert min(density.pt for density in DENSITIES) >= 7


def test_what_is_left_out_and_why_the_card_is_as_it_is_are_told() -> None:
    made = document("card")
    assert made.explained["type_pt"] >= 7
    assert made.explained["readable_to_cm"] >= 35
    assert made.explained["lines"] + sum("-line" not in one.kind for one in made.left_out) == made.explained["of_lines"]


def test_nothing_is_referred_to_that_the_card_does_not_hold(tmp_path: Path) -> None:
    """A mark of a danger that found no room is dropped, and the dangers that stand are numbered from 1."""
    titles = {
        f"content/procedures/example/cautions/extra-{at}.md": _caution(f"Extra danger number {at}", "caution")
        for at in range(20)
    }
    root = lay(new_base(tmp_path), titles)
    library, _ = read(root)
    made = card.compose(library, library.procedures[0], Renderer(load_templates(root), Typesetter(root).measure))
    marks = set(re.findall(r"▲(\d+)", made.text)) - {""}
    numbers = re.findall(r'<li id="caution-[^"]*"><span class="number"><span class="n">(\d+)', made.text)
    assert numbers == [str(at) for at in range(1, len(numbers) + 1)]
    assert marks <= set(numbers)
    assert any(one.id.startswith("caution-extra") for one in made.left_out)


def _caution(hazard: str, signal: str) -> str:
    return (
        f"---\nsignal: {signal}\nhazard: {hazard}\nconsequence: Harm that lasts.\n"
        "avoid: Look at the whole of the field, move nothing that you have not seen, and ask when in doubt.\n"
        "guards: [open-canal]\ncommon_practice: true\n---\n"
    )


@pytest.mark.parametrize(("signal", "said"), [("danger", "back"), ("warning", "back")])
def test_too_much_that_must_stand_is_an_error_in_mm_with_the_longest_lines(
    signal: str, said: str, tmp_path: Path
) -> None:
    longest = "A hazard whose name is much too long for a card, because it goes on and on and says everything twice"
    files = {
        f"content/procedures/example/cautions/extra-{at:02}.md": _caution(f"Extra danger number {at}", signal)
        for at in range(20)
    }
    files["content/procedures/example/cautions/extra-07.md"] = _caution(longest, signal)
    root = lay(new_base(tmp_path), files)
    library, _ = read(root)
    with pytest.raises(Refused) as caught:
        card.compose(library, library.procedures[0], Renderer(load_templates(root), Typesetter(root).measure))
    finding = caught.value.finding
    assert finding.at.file == "content/procedures/example/procedure.md"
    assert f"the {said} is " in finding.message
    assert "mm too long" in finding.message
    assert str(finding.also[0].at) == "content/procedures/example/cautions/extra-07.md:3:9"
    assert finding.also[0].message.endswith(f"{longest}: look at the whole of the field, move nothing that you have "
                                            "not seen, and ask when in doubt.")  # fmt: skip


def test_the_measured_excess_is_that_of_the_paper(tmp_path: Path) -> None:
    """Set on a sheet as much taller as the error says, the card fits: the mm are those of the typesetter."""
    made = document("card")
    heights = typesetter().measure(made.text)
    assert len(heights) == 2
    assert renderer().measure(made.text) == heights
    used = made.explained["back_mm"]["used"]
    on_paper = heights[1]["foot"] - heights[1]["start-back"]
    # Lines are measured with the marks of their sources; where the sources are left out, a line may need one row less.
    row = 0 if 'id="place-sources"' in made.text else made.explained["type_pt"] * 1.36 * 25.4 / 72
    assert on_paper - 0.1 <= used <= on_paper + row + 1.2

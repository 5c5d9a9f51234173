"""The order of the steps, drawn as a map and changed by pulling steps: into a choice, out of it, before and after."""

from __future__ import annotations

from typing import Any
from urllib.parse import urlencode

from builder.edit.file_text import FileText

LOCAL, SPINAL = {"local": ["inject-local"]}, {"spinal": ["test-block"]}


def pressed(preview: Any, do: str, other: str = "", **fields: str) -> Any:
    body = urlencode({"do": do, "other": f"steps/{other}.md", **fields}).encode()
    form = "application/x-www-form-urlencoded"
    return preview.send("POST", f"{preview.shop.home}/order/example", body, Content_Type=form)


def sequence(preview: Any) -> Any:
    return FileText.cut((preview.root / "content/procedures/example/procedure.md").read_text()).data["sequence"]


def test_the_ways_are_drawn_and_listed(preview: Any) -> None:
    page = preview.get("order/example").text
    assert 'aria-label="The map of the operation"' in page
    assert page.count("<svg") == 1
    assert page.index("One or the other: Anaesthesia") < page.index("Way A") < page.index("Way B")
    assert "Only sometimes: Drain" in page


def test_a_step_pulled_onto_another_becomes_a_choice_and_comes_out_again(preview: Any) -> None:
    before = (preview.root / "content/procedures/example/procedure.md").read_bytes()
    assert pressed(preview, "instead:steps/open-canal.md", "cut-skin", when="You see fit.").status == 303
    (made,) = [entry["choose"] for entry in sequence(preview) if isinstance(entry, dict) and "cut-skin" in str(entry)]
    assert made["between"] == {"cut-skin": ["cut-skin"], "open-canal": ["open-canal"]}
    assert made["when"] == "You see fit."
    assert pressed(preview, "always:steps/open-canal.md").status == 303
    assert "cut-skin" in sequence(preview), "a choice with one way left is none"
    assert "open-canal" in sequence(preview)
    for _ in range(2):
        assert pressed(preview, "undo").status == 303
    assert (preview.root / "content/procedures/example/procedure.md").read_bytes() == before


def test_a_third_way_joins_the_choice(preview: Any) -> None:
    assert pressed(preview, "instead:steps/cut-skin.md", "test-block").status == 303
    assert sequence(preview)[1]["choose"]["between"] == {**LOCAL, **SPINAL, "cut-skin": ["cut-skin"]}


def test_a_step_is_put_into_a_way_and_beside_a_choice(preview: Any) -> None:
    assert pressed(preview, "after:steps/cut-skin.md", "test-block").status == 303
    assert sequence(preview)[1]["choose"]["between"]["spinal"] == ["test-block", "cut-skin"]
    assert pressed(preview, "before:steps/cut-skin.md", "check-side").status == 303
    assert sequence(preview)[:2] == ["cut-skin", "check-side"]


def drafted_choice(preview: Any) -> None:
    """The choice as a draft writes it where the talk named one way only."""
    file = preview.root / "content/procedures/example/procedure.md"
    file.write_text(file.read_text().replace("local: [inject-local]", "as-told: []"))
    (preview.root / "content/procedures/example/steps/inject-local.md").unlink()
    preview.shop.saved()


def test_a_way_on_which_nothing_is_done_is_found_and_taken_out(preview: Any) -> None:
    assert "way on which nothing is done" not in preview.get("found/example").text
    drafted_choice(preview)
    page = preview.get("found/example").text
    assert "&#39;Anaesthesia&#39; is a choice with a way on which nothing is done" in page
    assert 'value="no-way:anaesthesia:as-told"' in preview.get("order/example").text
    assert pressed(preview, "no-way:anaesthesia:as-told").status == 303
    assert sequence(preview)[:3] == ["check-side", "test-block", "cut-skin"]
    assert "way on which nothing is done" not in preview.get("found/example").text


def test_a_way_on_which_nothing_is_done_is_filled(preview: Any) -> None:
    drafted_choice(preview)
    assert pressed(preview, "fill:anaesthesia:as-told", "test-block").status == 409, "the other way would be empty"
    assert pressed(preview, "fill:anaesthesia:as-told", "cut-skin").status == 303
    assert sequence(preview)[1]["choose"]["between"] == {"as-told": ["cut-skin"], **SPINAL}
    assert sequence(preview)[2] == "open-canal"
    assert pressed(preview, "no-way:anaesthesia:as-told").status == 409, "something is done there"
    assert pressed(preview, "no-way:drain:taken").status == 409


def test_what_makes_no_sense_changes_nothing(preview: Any) -> None:
    before = sequence(preview)
    for do, other in (
        ("instead:steps/cut-skin.md", "cut-skin"), ("instead:steps/cut-skin.md", "none"),
        ("always:steps/cut-skin.md", ""), ("before:steps/none.md", "cut-skin"), ("up:steps/check-side.md", ""),
    ):  # fmt: skip
        assert pressed(preview, do, other).status == 409, do
    assert sequence(preview) == before


def test_it_is_done_by_dragging_and_by_keys(tab: Any, preview: Any) -> None:
    tab.goto(f"{preview.home}/order/example")
    onto = tab.locator("#step-cut-skin")
    middle = {"x": 40, "y": onto.bounding_box()["height"] / 2}
    tab.locator("#step-open-canal .rd-title").drag_to(onto, target_position=middle)
    tab.get_by_text("One or the other: Cut").wait_for()
    tab.locator("#room button").click()
    tab.locator("#step-open-canal").wait_for()
    tab.get_by_text("One or the other: Cut").wait_for(state="detached")
    tab.locator("#step-open-canal summary").focus()
    tab.keyboard.press("Enter")
    tab.keyboard.press("Tab")
    tab.keyboard.type("3")  # a list takes what its line begins with
    for _ in range(4):
        tab.keyboard.press("Tab")
    assert tab.evaluate("document.activeElement.textContent") == "Instead of that step"
    tab.keyboard.press("Enter")
    tab.get_by_text("One or the other: Cut").wait_for()

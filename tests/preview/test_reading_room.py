"""The reading room in a browser: a talk is read with mouse, keys and touch, and nobody types the keys of a file."""

from __future__ import annotations

import shutil
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any
from urllib.parse import urlencode

import pytest
from browser_tools import AXE, WCAG
from department import read

from builder.draft import propose
from builder.load.told.source_file import read_source
from builder.publish.pictures import clean_photograph
from builder.write.draft_files import write

TALK = Path(__file__).parent / "talks/gallbladder.vtt"
BASE = Path(__file__).parents[1] / "base"
HOME = "content/procedures/gallbladder"
FORM = "application/x-www-form-urlencoded"


@pytest.fixture(scope="module")
def drafted(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A department with the draft of the talk, made once."""
    root = tmp_path_factory.mktemp("drafted") / "department"
    shutil.copytree(BASE, root)
    write(root, propose("Gallbladder", read_source(TALK), read(root)[0]), clean_photograph)
    return root


@pytest.fixture
def room(drafted: Path, tmp_path: Path, preview_of: Callable[..., Any]) -> Any:
    return preview_of(Path(shutil.copytree(drafted, tmp_path / "department")))


def pressed(room: Any, do: str, **fields: str) -> Any:
    """Press a button as a browser without scripts does."""
    return room.send(
        "POST", f"{room.shop.home}/read/gallbladder", urlencode({"do": do, **fields}).encode(), Content_Type=FORM
    )


def text(room: Any, page: str) -> str:
    return (room.root / HOME / page).read_text(encoding="utf-8")


@pytest.fixture
def reader(browser: Any, room: Any) -> Iterator[Any]:
    context = browser.new_context(viewport={"width": 1280, "height": 900})
    opened = context.new_page()
    said: list[str] = []
    opened.on("pageerror", lambda error: said.append(str(error)))
    opened.goto(room.server.gate.address)
    opened.wait_for_url(f"{room.home}/")
    opened.goto(f"{room.home}/read/gallbladder")
    yield opened
    context.close()
    assert said == []


def test_plain_forms_do_it_all_and_the_gate_stands(room: Any) -> None:
    page = room.get("read/gallbladder")
    assert "0 of 13 steps read" in page.text
    assert page.headers["referrer-policy"] == "same-origin"
    answer = pressed(room, "part:steps/open-skin.md")
    assert (answer.status, "1 of 13 steps read" in room.get("read/gallbladder").text) == (303, True)
    assert "proposed" not in text(room, "steps/open-skin.md")
    assert pressed(room, "undo").status == 303
    assert "proposed: true" in text(room, "steps/open-skin.md")
    assert room.send("POST", f"{room.shop.home}/edit/save", b"a=1", Content_Type=FORM).status == 415
    sent = {"Content_Type": FORM, "Origin": "http://elsewhere.example"}
    assert room.send("POST", f"{room.shop.home}/read/gallbladder", b"do=undo", **sent).status == 403
    for wrong in ("", "up:steps/open-skin.md", "accept:999", "use:x", "join:steps/none.md", "split:3"):
        assert pressed(room, wrong).status in (400, 409), wrong
    assert text(room, "told.yml").count('"read": "yes"') == 0


def test_a_step_is_read_with_one_click_and_the_next_comes(reader: Any, room: Any) -> None:
    reader.get_by_role("button", name="All of this is right").first.click()
    reader.locator("#before .rd-state", has_text="read").first.wait_for()
    reader.locator("#step-open-skin").get_by_role("button", name="This step is right").click()
    reader.get_by_text("1 of 13 steps read").wait_for()
    assert reader.evaluate("document.activeElement.closest('section').id") == "step-open-linea-alba"
    reader.reload()
    assert reader.locator("#rd").get_attribute("data-next") == "step-open-linea-alba", "taken up where it was left"
    reader.get_by_role("button", name="Take back: A step read").click()
    reader.get_by_text("0 of 13 steps read").wait_for()


def test_a_sentence_is_moved_with_two_clicks_and_selected_words_with_three(reader: Any, room: Any) -> None:
    danger = reader.locator(".rd-said", has_text="The great danger")
    danger.get_by_text("Move", exact=True).click()
    reader.get_by_role("button", name="A caution", exact=True).click()
    reader.locator(".rd-hazard", has_text="The great danger").wait_for()
    fundus = reader.locator(".rd-said", has_text="Grasp the fundus").locator(".rd-text")
    fundus.evaluate("one => getSelection().setBaseAndExtent(one.firstChild, 6, one.firstChild, 16)")
    reader.get_by_text("Use these words").click()
    assert reader.get_by_label("Words").input_value() == "the fundus"
    reader.locator(".rd-panel").get_by_label("A name:").select_option("structures:viscus")
    reader.get_by_role("button", name="To the catalogue").click()
    reader.locator(".rd-panel").wait_for(state="detached")
    assert room.shop.state.library.structures.find("fundus") is not None


def test_it_is_read_by_keys_alone(reader: Any, room: Any) -> None:
    for _ in range(3):
        reader.keyboard.press("j")
    with reader.expect_response("**/read/gallbladder"):
        reader.keyboard.press("a")
    reader.locator(".rd-said.rd-is-read").first.wait_for()
    with reader.expect_response("**/read/gallbladder"):
        reader.keyboard.press("s")
    reader.get_by_text("1 of 13 steps read").wait_for()
    reader.keyboard.press("m")
    reader.locator(".rd-panel").wait_for()
    assert reader.evaluate("document.activeElement.name") == "words"


def test_a_step_is_dragged_before_another(reader: Any, room: Any) -> None:
    reader.locator("#step-open-linea-alba h2").drag_to(reader.locator("#step-open-skin h2"))
    reader.locator("#before + #step-open-linea-alba").wait_for()
    assert "- open-linea-alba\n  - open-skin" in text(room, "procedure.md")


@pytest.mark.slow
@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_no_barrier_at_390_and_1280(browser: Any, room: Any, scheme: str) -> None:
    context = browser.new_context(
        viewport={"width": 390, "height": 844}, color_scheme=scheme, has_touch=True, bypass_csp=True
    )
    tab = context.new_page()
    tab.goto(room.server.gate.address)
    tab.wait_for_url(f"{room.home}/")
    for path in ("read/gallbladder", "read/gallbladder?use=8#s8"):
        tab.goto(f"{room.home}/{path}")
        for width in (390, 1280):
            tab.set_viewport_size({"width": width, "height": 844})
            assert tab.evaluate("document.documentElement.scrollWidth") <= width
            tab.evaluate(AXE.read_text(encoding="utf-8"))
            found = tab.evaluate("tags => axe.run({runOnly: tags})", WCAG)["violations"]
            assert [(one["id"], one["nodes"][0]["html"][:120]) for one in found] == [], (path, width)
    context.close()

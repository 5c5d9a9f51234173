"""The forms in Chromium: with the keyboard alone, on a phone, in the dark, with slow scripts, and clean to axe."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from typing import Any

import pytest
from browser_tools import barriers, too_wide

Preview = Any  # the fixture of conftest.py
EXAMPLE = "content/procedures/example"
STEP = f"{EXAMPLE}/steps/open-canal.md"
HEAD = f"{EXAMPLE}/procedure.md"
PAGES = [
    f"edit/{STEP}", f"edit/{HEAD}", f"edit/{EXAMPLE}/cautions/nerve-injury.md",
    f"edit/{EXAMPLE}/aftercare/drain-out.md", "edit/new/step/example", "edit/new/caution/example?for=cut-skin",
]  # fmt: skip


@contextmanager
def let_in(browser: Any, preview: Preview) -> Iterator[Any]:
    """A tab that has been let in, 1280 px wide; fails on any error of a script and on anything the policy refuses."""
    context = browser.new_context(viewport={"width": 1280, "height": 900})
    page = context.new_page()
    said: list[str] = []
    page.on("pageerror", lambda error: said.append(str(error)))
    page.on("console", lambda message: said.append(message.text))
    page.goto(preview.server.gate.address)
    page.wait_for_url(f"{preview.home}/")
    yield page
    context.close()
    # An answer that refuses (422), shows both versions (409) or has no icon (404) is told by the browser, and is meant.
    assert [one for one in said if not one.startswith("Failed to load resource")] == []


@pytest.fixture
def tab(browser: Any, preview: Preview) -> Iterator[Any]:
    with let_in(browser, preview) as page:
        yield page


@pytest.fixture(scope="module")
def watched(browser: Any, still: Preview) -> Iterator[Any]:
    """A tab for all tests that only look."""
    with let_in(browser, still) as page:
        yield page


def opened(tab: Any, preview: Preview, path: str) -> Any:
    tab.goto(f"{preview.home}/{path}")
    tab.wait_for_selector("#save:enabled")
    return tab


def saved(tab: Any, act: Callable[[], Any]) -> None:
    """Do what saves, and wait until the page is there again and says so."""
    with tab.expect_navigation():
        act()
    tab.wait_for_selector("#save:enabled")
    assert re.match(r"(Saved|Taken back)", tab.inner_text("#state"))


def field(tab: Any, key: str) -> Any:
    return tab.locator(f"#form [data-field][data-key={key}] [data-value]").first


@pytest.mark.parametrize("path", PAGES)
def test_axe_finds_nothing_in_any_form_wide_or_narrow_light_or_dark(watched: Any, still: Preview, path: str) -> None:
    opened(watched, still, path)
    watched.evaluate("document.querySelectorAll('details').forEach(one => { one.open = true; })")
    for width, scheme in ((1280, "light"), (390, "dark"), (390, "light")):
        watched.set_viewport_size({"width": width, "height": 844})
        watched.emulate_media(color_scheme=scheme)
        assert barriers(watched) == [], (width, scheme)


@pytest.mark.parametrize("path", PAGES)
def test_nothing_sticks_out_at_any_width(watched: Any, still: Preview, path: str) -> None:
    opened(watched, still, path)
    watched.evaluate("document.querySelectorAll('details').forEach(one => { one.open = true; })")
    assert too_wide(watched, 320, 390, 768, 1024, 1280) == []


def test_buttons_are_large_enough_to_be_hit(watched: Any, still: Preview) -> None:
    """WCAG 2.2, 2.5.8: 24 by 24 CSS px."""
    watched.set_viewport_size({"width": 390, "height": 844})
    opened(watched, still, f"edit/{STEP}")
    sizes = watched.evaluate(
        "[...document.querySelectorAll('#form button, #form select, #form input:not([type=hidden])')]"
        ".filter(one => one.offsetParent).map(one => [one.offsetWidth, one.offsetHeight, one.outerHTML])"
    )
    assert [html for width, height, html in sizes if (width < 24 or height < 24) and "checkbox" not in html] == []


def test_a_step_is_edited_with_the_keyboard_alone(tab: Any, preview: Preview) -> None:
    opened(tab, preview, f"edit/{STEP}")
    before = (preview.root / STEP).read_text()
    keys = tab.keyboard
    for _ in range(60):
        keys.press("Tab")
        if tab.evaluate("document.activeElement.closest('[data-key=title]') !== null"):
            break
    keys.press("End")
    keys.type(", slowly")
    for _ in range(60):
        keys.press("Tab")
        if tab.evaluate("document.activeElement.matches('[data-down]')"):
            break
    keys.press("Enter")  # the first action goes down by one
    assert "Moved: now 2 of" in tab.inner_text("#state")
    assert tab.evaluate("document.activeElement.matches('[data-down]')"), "the button keeps the focus"
    saved(tab, lambda: keys.press("Control+s"))
    after = (preview.root / STEP).read_text().splitlines()
    assert after[1] == "title: Find the nerve, then open the canal, slowly"
    first = before.splitlines().index("actions:") + 1
    old = before.splitlines()
    assert after[first : first + 2] == [old[first + 1], old[first]]
    assert after[first + 2 :] == old[first + 2 :]


def test_names_are_picked_from_the_catalogue_by_keys(tab: Any, preview: Preview) -> None:
    opened(tab, preview, f"edit/{STEP}")
    tab.get_by_role("button", name="Add a structure").click()
    box = tab.locator("#form [data-key=at_risk] > ol > li:last-child input")
    assert box.evaluate("one => one === document.activeElement")
    tab.keyboard.type("superficial epig")
    tab.wait_for_selector("[role=listbox]")
    assert box.get_attribute("aria-expanded") == "true"
    tab.keyboard.press("ArrowDown")
    marked = box.get_attribute("aria-activedescendant")
    assert tab.locator(f"#{marked}").get_attribute("aria-selected") == "true"
    assert barriers(tab) == []
    tab.keyboard.press("Enter")
    assert box.input_value() == "superficial epigastric vein"
    assert tab.locator("[role=listbox]").count() == 0
    saved(tab, lambda: tab.keyboard.press("Control+s"))
    assert "superficial epigastric vein]" in (preview.root / STEP).read_text()


def test_how_it_was_done_goes_with_the_deed_it_was_said_of_and_can_be_kept(tab: Any, preview: Preview) -> None:
    opened(tab, preview, f"edit/{STEP}")
    opens = tab.locator("[data-key=actions] [data-kind=action]").nth(2)  # open: external oblique aponeurosis
    opens.locator("[data-key=objects] [data-value]").fill("oblique aponeurosis")
    opens.locator("[data-key=verb] select").focus()
    assert opens.locator(".fm-taken").count() == 0, "the same thing by another name"
    opens.locator("[data-key=verb] select").select_option("protect")
    assert opens.locator(".fm-taken").inner_text().startswith("“with dissecting scissors” was said of “open oblique")
    opens.get_by_role("button", name="Keep it").click()
    assert opens.locator("[data-key=with] [data-value]").first.input_value() == "dissecting scissors"
    opens.locator("[data-key=objects] [data-value]").fill("ilioinguinal nerve")
    opens.locator("[data-key=verb] select").focus()
    opens.locator(".fm-taken").wait_for()
    saved(tab, lambda: tab.keyboard.press("Control+s"))
    text = (preview.root / STEP).read_text()
    assert "  - protect: ilioinguinal nerve\n  - place: self-retaining retractor" in text


def test_a_source_is_found_by_a_word_of_its_title(tab: Any, preview: Preview) -> None:
    opened(tab, preview, f"edit/{STEP}")
    tab.get_by_role("button", name="Add a source").click()
    tab.keyboard.type("retained")
    tab.wait_for_selector("[role=option] .fm-about")
    assert "retained" in tab.inner_text("[role=option] .fm-about").lower()
    tab.locator("[role=option]").first.click()
    saved(tab, lambda: tab.locator("#save").click())
    assert "retained-items-risk-2003" in (preview.root / STEP).read_text()


def test_what_is_not_in_the_catalogue_is_added_from_the_field(tab: Any, preview: Preview) -> None:
    opened(tab, preview, f"edit/{STEP}")
    tab.get_by_role("button", name="Add a structure").click()
    tab.keyboard.type("round ligament")
    tab.get_by_role("option", name="Add “round ligament” to the catalogue").click()
    dialog = tab.get_by_role("dialog")
    assert dialog.get_by_label("Name").input_value() == "round ligament"
    assert barriers(tab) == []
    dialog.get_by_role("button", name="Add it").click()
    tab.wait_for_selector("dialog [data-messages]:not(:empty)")  # what it is was not said
    dialog.get_by_label("What it is").select_option("ligament")
    dialog.get_by_role("button", name="Add it").click()
    tab.wait_for_selector("dialog[open]", state="detached")
    assert preview.shop.state.library.structures.find("round ligament") is not None
    saved(tab, lambda: tab.keyboard.press("Control+s"))
    assert "round ligament]" in (preview.root / STEP).read_text()


def test_a_row_is_dragged_by_its_handle(tab: Any, preview: Preview) -> None:
    opened(tab, preview, f"edit/{STEP}")
    rows = tab.locator("#form [data-key=actions] > ol > li")
    verbs = [row.locator("select").first.input_value() for row in rows.all()]
    rows.nth(1).evaluate("one => one.scrollIntoView({block: 'center'})")
    start, end = rows.nth(0).locator("[data-handle]").bounding_box(), rows.nth(2).bounding_box()
    tab.mouse.move(start["x"] + 8, start["y"] + 8)
    tab.mouse.down()
    tab.mouse.move(start["x"] + 8, start["y"] + 40, steps=4)
    tab.mouse.move(start["x"] + 8, end["y"] + end["height"] - 4, steps=8)
    tab.mouse.up()
    now = [row.locator("select").first.input_value() for row in rows.all()]
    assert now == [*verbs[1:3], verbs[0], *verbs[3:]]
    assert "Moved: now 3 of" in tab.inner_text("#state")


def test_a_step_walks_into_the_ways_of_a_choice_and_out_again(tab: Any, preview: Preview) -> None:
    opened(tab, preview, f"edit/{HEAD}")
    before = (preview.root / HEAD).read_text()
    row = tab.locator("li[data-entry=step]").first
    down = row.locator("[data-down]")
    down.focus()
    tab.keyboard.press("Enter")
    assert tab.inner_text("#state") == "Moved: now 1 of 2 in local."
    saved(tab, lambda: tab.keyboard.press("Control+s"))
    after = (preview.root / HEAD).read_text()
    assert "local: [check-side, inject-local]" in after
    assert [line for line in after.splitlines() if line not in before.splitlines()] == [
        "        local: [check-side, inject-local]"
    ]
    up = tab.locator("li[data-entry=step]", has=tab.locator("input[value=check-side]")).locator("[data-up]")
    up.focus()
    tab.keyboard.press("Enter")
    saved(tab, lambda: tab.keyboard.press("Control+s"))
    assert (preview.root / HEAD).read_text() == before


def test_a_choice_is_added_with_its_ways(tab: Any, preview: Preview) -> None:
    opened(tab, preview, f"edit/{HEAD}")
    own = tab.locator("#form > section [data-key=sequence]").first
    own.locator("> p select").select_option("entry-choose")
    choice = own.locator("> ol > li:last-child")
    choice.locator("[data-key=id] input").fill("skin")
    choice.locator("[data-key=title] [data-value]").fill("Skin")
    for name, step in (("stitches", "cut-skin"), ("clips", "open-canal")):
        choice.get_by_role("button", name="Add a way").click()
        way = choice.locator("[data-key=between] > ol > li:last-child")
        way.locator("[data-name]").fill(name)
        way.get_by_role("button", name="Add a step").click()
        way.locator("li:last-child input").fill(step)
        tab.keyboard.press("Escape")
    saved(tab, lambda: tab.keyboard.press("Control+s"))
    text = (preview.root / HEAD).read_text()
    lines = [
        "  - choose:", "      id: skin", "      title: Skin", "      between:", "        stitches: [cut-skin]",
        "        clips: [open-canal]",
    ]  # fmt: skip
    assert "\n".join(lines) in text


def test_what_is_wrong_is_said_beside_the_field_and_leads_to_it(tab: Any, preview: Preview) -> None:
    opened(tab, preview, f"edit/{STEP}")
    before = (preview.root / STEP).read_bytes()
    field(tab, "title").fill("")
    tab.get_by_text("Teaching").click()
    field(tab, "minutes").fill("six")
    tab.locator("#save").click()
    tab.wait_for_selector("#messages .fm-wrong")
    assert "Nothing was saved yet." in tab.inner_text("#messages")
    assert tab.locator("[data-key=title] .fm-wrong").inner_text() == "This must be filled in."
    assert "'six' is not a number" in tab.locator("[data-key=minutes] .fm-wrong").inner_text()
    assert field(tab, "title").get_attribute("aria-invalid") == "true"
    assert barriers(tab) == []
    tab.locator("#messages a").first.click()
    assert tab.evaluate("document.activeElement.closest('[data-field]').dataset.key") in ("title", "minutes")
    assert (preview.root / STEP).read_bytes() == before
    assert field(tab, "minutes").input_value() == "six", "what was typed stays"
    field(tab, "title").fill("Open it")
    field(tab, "minutes").fill("6")
    saved(tab, lambda: tab.locator("#save").click())


def test_a_change_underneath_is_shown_and_chosen(tab: Any, preview: Preview) -> None:
    opened(tab, preview, f"edit/{STEP}")
    path = preview.root / STEP
    path.write_text(re.sub(r"(?m)^cue: .*$", "cue: Theirs.", path.read_text()))
    field(tab, "cue").fill("Mine.")
    tab.locator("#save").click()
    tab.wait_for_selector(".fm-both")
    assert barriers(tab) == []
    tab.get_by_role("button", name="Save what I chose").click()
    assert "Choose a version" in tab.inner_text("#state")
    tab.get_by_label("In this form").check()
    saved(tab, lambda: tab.get_by_role("button", name="Save what I chose").click())
    assert "cue: Mine." in path.read_text()


def test_an_edit_is_taken_back(tab: Any, preview: Preview) -> None:
    before = (preview.root / STEP).read_bytes()
    opened(tab, preview, f"edit/{STEP}")
    field(tab, "cue").fill("Seen.")
    saved(tab, lambda: tab.locator("#save").click())
    assert (preview.root / STEP).read_bytes() != before
    saved(tab, lambda: tab.get_by_role("button", name="Take back the last edit").click())
    assert (preview.root / STEP).read_bytes() == before


def test_nothing_typed_is_lost_while_the_scripts_are_slow(browser: Any, preview: Preview) -> None:
    context = browser.new_context()
    tab = context.new_page()
    held: list[Any] = []

    def hold(route: Any) -> None:
        held.append(route)

    tab.route("**/static/form*.js", hold)
    tab.goto(preview.server.gate.address)
    tab.wait_for_url(f"{preview.home}/")
    tab.goto(f"{preview.home}/edit/{STEP}", wait_until="commit")
    tab.wait_for_selector("#save")
    box = field(tab, "title")
    box.fill("Typed before any script")
    assert tab.locator("#save").is_disabled()
    box.press("Control+a")
    assert tab.url.endswith(STEP), "nothing was sent anywhere"
    box.fill("Typed before any script")
    for route in held:
        route.continue_()
    tab.wait_for_selector("#save:enabled")
    assert box.input_value() == "Typed before any script"
    tab.unroute("**/static/form*.js")
    saved(tab, lambda: tab.locator("#save").click())
    assert "title: Typed before any script" in (preview.root / STEP).read_text()
    context.close()


def test_leaving_with_something_unsaved_is_asked_about(tab: Any, preview: Preview) -> None:
    opened(tab, preview, f"edit/{STEP}")
    field(tab, "cue").fill("Not saved.")
    assert tab.inner_text("#state") == "Not saved yet"
    asked = []
    tab.on("dialog", lambda dialog: (asked.append(dialog.type), dialog.accept()))
    tab.goto(f"{preview.home}/")
    assert asked == ["beforeunload"]


def test_a_preview_that_has_ended_loses_nothing(browser: Any, preview: Preview) -> None:
    context = browser.new_context()
    tab = context.new_page()
    tab.goto(preview.server.gate.address)
    tab.wait_for_url(f"{preview.home}/")
    opened(tab, preview, f"edit/{STEP}")
    field(tab, "cue").fill("Mine.")
    tab.route("**/edit/save", lambda route: route.abort())
    tab.locator("#save").click()
    tab.wait_for_selector("#messages .fm-wrong")
    assert "what you typed is still here" in tab.inner_text("#messages")
    assert field(tab, "cue").input_value() == "Mine."
    context.close()


def test_a_broken_file_is_mended_in_its_text(tab: Any, preview: Preview) -> None:
    path = preview.root / STEP
    good = path.read_text()
    path.write_text(good.replace("title: ", "title: ["))
    preview.shop.saved()
    opened(tab, preview, f"edit/{STEP}")
    assert barriers(tab) == []
    tab.locator("#text").fill(good)
    saved(tab, lambda: tab.locator("#save").click())
    assert path.read_text() == good
    assert tab.locator("#form").count() == 1


def test_a_proposal_is_confirmed_with_one_button(tab: Any, preview: Preview) -> None:
    path = preview.root / STEP
    path.write_text("---\ntitle: Open\nproposed: true\nactions:\n  - {open: skin, proposed: true}\n---\nSlowly.\n")
    preview.shop.saved()
    opened(tab, preview, f"edit/{STEP}")
    assert barriers(tab) == []
    saved(tab, lambda: tab.get_by_role("button", name="Confirm this page").click())
    assert path.read_text() == "---\ntitle: Open\nactions:\n  - {open: skin}\n---\nSlowly.\n"
    assert tab.locator("#proposed").count() == 0


def test_an_abbreviation_is_added_from_beside_the_form(tab: Any, preview: Preview) -> None:
    opened(tab, preview, f"edit/{STEP}")
    tab.get_by_role("button", name="A new abbreviation").click()
    dialog = tab.get_by_role("dialog")
    dialog.get_by_label("Short form").fill("SEV")
    dialog.get_by_label("In full").fill("superficial epigastric vein")
    dialog.get_by_role("button", name="Add it").click()
    tab.wait_for_selector("dialog[open]", state="detached")
    assert "SEV" in [str(term.short) for term in preview.shop.state.library.terms]


def test_after_saving_the_keyboard_is_where_it_was_and_what_was_open_is_open(tab: Any, preview: Preview) -> None:
    opened(tab, preview, f"edit/{STEP}")
    tab.get_by_text("Teaching").click()
    field(tab, "minutes").fill("9")
    saved(tab, lambda: tab.keyboard.press("Control+s"))
    assert tab.evaluate("document.activeElement.closest('[data-field]').dataset.key") == "minutes"
    assert field(tab, "minutes").is_visible()


def test_a_step_is_taken_out_and_taken_back(tab: Any, preview: Preview) -> None:
    opened(tab, preview, f"edit/{EXAMPLE}/steps/cut-skin.md")
    before = (preview.root / HEAD).read_bytes()
    tab.on("dialog", lambda dialog: dialog.accept())
    with tab.expect_navigation():
        tab.get_by_role("button", name="Take this step out").click()
    tab.wait_for_selector("#save:enabled")
    assert tab.url.endswith(HEAD)
    assert not (preview.root / EXAMPLE / "steps/cut-skin.md").exists()
    saved(tab, lambda: tab.get_by_role("button", name="Take back the last edit").click())
    assert (preview.root / HEAD).read_bytes() == before
    assert (preview.root / EXAMPLE / "steps/cut-skin.md").exists()

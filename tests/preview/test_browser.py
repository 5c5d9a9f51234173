"""What a browser shows while files are saved. Chromium is Debian's; without it these tests say so and are skipped."""

from __future__ import annotations

import re
from pathlib import Path
from typing import Any

import pikepdf
import pytest
from browser_tools import too_wide
from department import read

from builder.edit.forms.field_words import in_form

EXAMPLE = "content/procedures/example"
STEP = f"{EXAMPLE}/steps/open-canal.md"
SHOWN = "[data-part]:not([data-shown])"
OUTLINE = "1. Wash the skin.\n2. Cut the skin along the crease.\n3. Close the skin with a suture.\n"


def opened(tab: Any, preview: Any, path: str) -> Any:
    """Open a page of the preview and wait until its parts are there."""
    tab.goto(f"{preview.home}/{path}")
    tab.wait_for_selector(SHOWN, state="detached")
    return tab


def change(base: Path, name: str, old: str, new: str) -> None:
    path = base / name
    text = path.read_text(encoding="utf-8")
    assert old in text
    path.write_text(text.replace(old, new), encoding="utf-8")


def test_a_saved_step_is_shown_without_moving_what_is_read(tab: Any, preview: Any, base: Path) -> None:
    opened(tab, preview, "page/example")
    tab.evaluate("document.getElementById('step-place-drain').scrollIntoView()")
    tab.evaluate("window.stays = 'the same page'")
    before = tab.locator("#step-place-drain").bounding_box()["y"]
    change(base, STEP, "title: Find the nerve, then", f"title: {'Find the nerve first of all, and only then ' * 4}")
    tab.locator("#step-open-canal", has_text="first of all").wait_for(state="attached")
    assert abs(tab.locator("#step-place-drain").bounding_box()["y"] - before) < 3
    assert tab.evaluate("window.stays") == "the same page", "replaced in place, not loaded again"


def test_a_finding_stands_beside_its_step_and_opens_its_line(tab: Any, preview: Any, base: Path) -> None:
    opened(tab, preview, "page/example")
    assert tab.locator(".pv-note").count() == 0
    change(base, STEP, "cue:", "why:")
    note = tab.locator(".pv-note", has_text="nothing says what shows that it is done")
    note.wait_for()
    step = tab.locator("section.step", has=tab.locator("#step-open-canal"))
    assert step.locator(".pv-note").count() >= 1
    finding = next(one for one in read(base)[1] if one.name == "critical-without-cue")
    assert note.locator(".pv-hint").inner_text() == in_form(finding, "step").hint
    assert not note.locator("pre").is_visible()
    tab.locator(".pv-list a", has_text="nothing says what shows").click()
    line = note.locator(".pv-it")
    line.wait_for()
    assert line.inner_text().strip().endswith("critical: true")
    assert f"line {finding.at.line}" in note.locator("summary").inner_text()
    note.get_by_text("Show the file").click()
    tab.wait_for_url(re.compile(r"/file/"))
    assert tab.locator(".pv-it").inner_text().strip().endswith("critical: true")
    tab.go_back()
    tab.wait_for_selector(SHOWN, state="detached")
    mended = note.get_by_text("Put it right").get_attribute("href")
    assert mended.endswith(
        f"/edit/{STEP}?finding={finding.name}&line={finding.at.line}.{finding.at.column}&back=page/example"
    )
    change(base, STEP, "why:", "cue:")
    note.wait_for(state="detached")


def test_a_finding_in_a_caution_stands_in_the_caution(tab: Any, preview: Any, base: Path) -> None:
    opened(tab, preview, "page/example")
    change(base, f"{EXAMPLE}/cautions/nerve-injury.md", "if_it_happens:", "sign:")
    note = tab.locator("#caution-nerve-injury .pv-note", has_text="does not say what to do if it happens")
    note.wait_for()
    assert tab.locator("#caution-nerve-injury .pv-edit a").count() == 1
    assert tab.locator(".step .marks .pv-edit").count() == tab.locator("section.step").count()


def test_an_address_that_names_a_place_leads_there(tab: Any, preview: Any) -> None:
    opened(tab, preview, "page/example#step-place-drain")
    assert abs(tab.locator("#step-place-drain").bounding_box()["y"] - 54) < 20


def test_a_broken_file_greys_the_page_and_is_told_on_top(tab: Any, preview: Any, base: Path) -> None:
    opened(tab, preview, "page/example")
    good = (base / STEP).read_bytes()
    (base / STEP).write_bytes(b"---\ntitle: [\n---\n")
    tab.wait_for_selector(".pv-old")
    assert tab.locator(".pv-sheet.pv-is-old #step-open-canal").count() == 1
    assert tab.locator(".pv-note").first.is_visible()
    (base / STEP).write_bytes(good)
    tab.wait_for_selector(".pv-old", state="detached")
    assert tab.locator(".pv-is-old").count() == 0


def test_the_card_follows_and_marks_what_concerns_it(tab: Any, preview: Any, base: Path) -> None:
    opened(tab, preview, "paper/card/example")
    first = tab.locator(".pv-picture img").first.get_attribute("src")
    assert tab.evaluate("document.querySelector('.pv-picture img').naturalWidth") > 500
    change(base, STEP, "title: Find the nerve, then", "title: Seek the nerve, then")
    tab.locator(f'.pv-picture img[src="{first}"]').wait_for(state="detached")
    change(base, STEP, "cue:", "why:")
    mark = tab.locator(".pv-marks a").first
    mark.wait_for()
    mark.focus()
    tab.keyboard.press("Enter")
    assert tab.evaluate("document.activeElement.className").startswith("pv-note")
    assert tab.locator(".pv-side .pv-note").first.is_visible()


def test_the_card_is_kept_as_the_tagged_file_that_is_published(tab: Any, preview: Any) -> None:
    opened(tab, preview, "paper/card/example")
    with tab.expect_download() as waiting:
        tab.get_by_text("Keep the pocket card").click()
    assert waiting.value.suggested_filename == "example-card.pdf"
    with pikepdf.open(Path(waiting.value.path())) as kept:
        assert kept.Root.MarkInfo.Marked, "tagged, which the picture's own file is not"
        assert len(kept.pages) == 2


def test_a_choice_of_way_and_an_open_line_are_kept(tab: Any, preview: Any, base: Path) -> None:
    opened(tab, preview, "page/example")
    change(base, STEP, "cue:", "why:")
    tab.locator(".pv-note summary").first.click()
    picked = tab.locator(".ways input:not([value=''])").first
    picked.check()
    value = picked.get_attribute("value")
    change(base, f"{EXAMPLE}/steps/place-drain.md", "title: ", "title: Now ")
    tab.locator("#step-place-drain", has_text="Now").wait_for(state="attached")
    assert tab.locator(f".ways input[value='{value}']").first.is_checked()
    assert tab.locator(".pv-note details[open]").count() == 1


def test_the_status_line_counts_and_says_when_the_preview_has_ended(tab: Any, preview: Any, base: Path) -> None:
    opened(tab, preview, "page/example")
    tab.locator("#pv-status", has_text=re.compile(r"Checked [\d.]+ (s|min) ago, nothing to put right")).wait_for()
    change(base, STEP, "cue:", "why:")
    tab.locator("#pv-status", has_text=re.compile(r"\d+ parts? to (put right|look at)")).wait_for()
    preview.shop.end()
    preview.server.shutdown()
    preview.server.server_close()
    tab.locator("#pv-status.pv-away", has_text="The preview has ended").wait_for()
    tab.context.set_default_timeout(1)  # the browser's own line about a lost connection is no fault of a script
    tab.evaluate("window.stop()")


def test_a_procedure_is_drafted_from_an_outline(tab: Any, preview: Any, base: Path) -> None:
    opened(tab, preview, "")
    tab.get_by_text("A new procedure").click()
    tab.get_by_label("Title").fill("  ")
    tab.get_by_role("button", name="Draft it").click()
    tab.locator(".pv-refused", has_text="Write a title in letters").wait_for()
    assert tab.evaluate("document.activeElement.id") == "pv-title"
    tab.get_by_label("Title").fill("Excision of a skin lump")
    tab.get_by_label("Or words to paste").fill(OUTLINE)
    tab.get_by_role("button", name="Draft it").click()
    tab.wait_for_url(re.compile(r"/read/excision-of-a-skin-lump"))
    tab.get_by_text("0 of 3 steps read").wait_for()
    tab.locator("h2", has_text="Cut the skin").wait_for()
    steps = sorted(path.name for path in (base / "content/procedures/excision-of-a-skin-lump/steps").iterdir())
    assert len(steps) == 3


def test_a_draft_that_cannot_be_made_writes_nothing(preview: Any, base: Path) -> None:
    before = sorted(path for path in base.rglob("*"))
    asked = (
        ({"title": "Example", "outline": OUTLINE}, 409, "exists already"),
        ({"title": "A lump", "outline": ""}, 422, "Nothing was written"),
        ({"title": "A lump", "name": "x.pdf", "file": "JVBERi0="}, 422, "Nothing was written"),
        ({"title": "A lump", "name": "x.docx", "file": "UEsDBA=="}, 422, "Nothing was written"),
        ({"title": "../x", "outline": ""}, 422, "Nothing was written"),
        ({"title": 7}, 422, "Write a title"),
        ([], 422, "Write a title"),
    )
    for body, status, said in asked:
        answer = preview.post("new", body)
        assert (answer.status, said in answer.text) == (status, True), answer.text
    assert preview.post("new", {"title": "A lump", "name": "x.md", "file": "no base64!"}).status == 400
    assert sorted(path for path in base.rglob("*")) == before


PAGES = ("", "page/example", "both/example", "paper/card/example", "papers/example", f"file/{STEP}?line=3", "new")


def with_findings(base: Path, preview: Any) -> None:
    change(base, STEP, "cue:", "why:")
    (base / f"{EXAMPLE}/steps/place-drain.md").write_text("---\ntitle: [\n---\n")
    preview.shop.saved()


def test_nothing_scrolls_sideways(tab: Any, preview: Any, base: Path) -> None:
    with_findings(base, preview)
    tab.set_viewport_size({"width": 320, "height": 844})  # on a wide one what lies beside a form is open
    for path in PAGES:
        opened(tab, preview, path)
        assert too_wide(tab, 320, 390, 768) == [], path


@pytest.mark.slow
def test_two_hundred_saves_of_which_every_third_breaks_the_file(tab: Any, preview: Any, base: Path) -> None:
    """No crash, no stale page. How long it takes is measured by `python -m bench preview`."""
    opened(tab, preview, "both/example")
    text = (base / STEP).read_text(encoding="utf-8")
    for number in range(200):
        if number % 3 == 2:
            (base / STEP).write_text(text[: 20 + number] + "\n[", encoding="utf-8")
            if number % 6 == 5:
                tab.wait_for_selector(".pv-sheet.pv-is-old")
            continue
        title = f"title: Save {number}, then"
        (base / STEP).write_text(text.replace("title: Find the nerve, then", title), encoding="utf-8")
        if number % 3 == 1:
            tab.locator("#step-open-canal", has_text=f"Save {number}, then").wait_for(state="attached")
            assert tab.locator(".pv-pane:first-child .pv-old").count() == 0
    (base / STEP).write_text(text, encoding="utf-8")
    tab.locator("#step-open-canal", has_text="Find the nerve, then").wait_for(state="attached")
    preview.until(lambda: preview.get("part/card/example").text.count("pv-is-old") == 0)
    number = preview.shop.state.number
    tab.wait_for_selector(f".pv-pane[data-shown='{number}'] .pv-side")
    assert tab.locator(".pv-old").count() == 0
    shown = tab.locator(".pv-picture img").first.get_attribute("src")
    assert shown in preview.get("part/card/example").text
    assert list(preview.shop.state.findings) == read(base)[1]

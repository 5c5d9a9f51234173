"""The reading room in a browser: a talk is read with mouse, keys and touch, and nobody types the keys of a file."""

from __future__ import annotations

import base64
import html
import io
import json
import re
import shutil
import zipfile
from collections.abc import Callable, Iterator
from dataclasses import replace
from pathlib import Path
from typing import Any
from urllib.parse import urlencode

import pytest
from PIL import Image

from builder.compose.reading.reading_view import reading_of
from builder.draft.told_file import Told, read_told
from builder.findings.finding import Severity

BASE = Path(__file__).parents[1] / "base"
HOME = "content/procedures/gallbladder"
FORM = "application/x-www-form-urlencoded"


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
    answer = pressed(room, "part:steps/incise-skin.md")
    assert (answer.status, "1 of 13 steps read" in room.get("read/gallbladder").text) == (303, True)
    assert "proposed" not in text(room, "steps/incise-skin.md")
    assert pressed(room, "undo").status == 303
    assert "proposed: true" in text(room, "steps/incise-skin.md")
    assert room.send("POST", f"{room.shop.home}/edit/save", b"a=1", Content_Type=FORM).status == 415
    sent = {"Content_Type": FORM, "Origin": "http://elsewhere.example"}
    assert room.send("POST", f"{room.shop.home}/read/gallbladder", b"do=undo", **sent).status == 403
    for wrong in ("", "up:steps/incise-skin.md", "accept:999", "use:x", "join:steps/none.md", "split:3"):
        assert pressed(room, wrong).status in (400, 409), wrong
    assert text(room, "told.yml").count('"read": "yes"') == 0


def test_a_step_is_read_with_one_click_and_the_next_comes(reader: Any, room: Any) -> None:
    reader.get_by_role("button", name="All of this is right").first.click()
    reader.locator("#before .rd-state", has_text="read").first.wait_for()
    reader.locator("#step-incise-skin").get_by_role("button", name="This step is right").click()
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
    reader.locator("button", has_text="Take back:").first.wait_for()
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
    words = reader.evaluate("document.activeElement.closest('.rd-said').querySelector('.rd-text').textContent")
    with reader.expect_response("**/read/gallbladder"):
        reader.keyboard.press("t")  # leave it out, by the letter beside it
    reader.locator("#left-out .rd-text", has_text=words).wait_for()
    reader.keyboard.press("m")
    reader.locator(".rd-panel").wait_for()
    with reader.expect_response("**/read/gallbladder"):
        reader.keyboard.press("Escape")
    reader.locator(".rd-panel").wait_for(state="detached")
    reader.locator(
        "#pv-status",
        has_text=re.compile(r"Checked [\d.]+ (s|min) ago, (nothing|\d+ parts?) to put right, \d+ (parts )?to look at$"),
    ).wait_for()


def test_each_step_is_read_by_the_same_key_from_wherever_one_comes_back(reader: Any, room: Any) -> None:
    reader.goto(reader.url.split("#")[0] + "#step-open-linea-alba")
    reader.reload()
    for _ in range(20):
        if "13 of 13 steps read" in reader.locator(".rd-progress").inner_text():
            break
        with reader.expect_response("**/read/gallbladder"):
            reader.keyboard.press("p")
        reader.locator("#rd:not([inert])").wait_for()
    assert "13 of 13 steps read" in reader.locator(".rd-progress").inner_text()
    assert "read, but" in " ".join(reader.locator("h2 .rd-state").all_inner_texts()), (
        "what is open is told all the same"
    )


def test_a_step_is_dragged_before_another(reader: Any, room: Any) -> None:
    reader.locator("#step-open-linea-alba h2").drag_to(reader.locator("#step-incise-skin h2"))
    reader.locator("#before + #step-open-linea-alba").wait_for()
    assert "- open-linea-alba\n  - incise-skin" in text(room, "procedure.md")


def answered(room: Any, do: str, question: str, words: str = "") -> Any:
    """Answer the question that is shown."""
    shown = dict(re.findall(r'name="(file|key|n)" value="([^"]*)"', question))
    body = urlencode({"do": do, "words": words, **shown}).encode()
    return room.send("POST", f"{room.shop.home}/asked/gallbladder", body, Content_Type=FORM)


def test_what_was_left_unsaid_is_answered_by_a_click_a_line_or_a_reason(room: Any) -> None:
    first = room.get("asked/gallbladder").text
    assert "count" in first, "what may be left in the patient is asked first"
    picked = re.search(r'value="(pick:[^"]*)"', first)
    assert picked, "an answer is offered to be clicked"
    assert answered(room, picked[1], first).status == 303
    second = room.get("asked/gallbladder").text
    assert second != first
    assert answered(room, "answer", second).status == 409
    assert answered(room, "aside", second).status == 409, "a reason is asked for"
    assert answered(room, "aside", second, "It does not arise here.").status == 303
    third = room.get("asked/gallbladder").text
    assert re.findall(r'name="key" value="[^"]*"|name="file" value="[^"]*"', third) != re.findall(
        r'name="key" value="[^"]*"|name="file" value="[^"]*"', second
    )
    assert "It does not arise here." in text(room, "told.yml")
    assert answered(room, "undo", third).status == 303
    assert "It does not arise here." not in text(room, "told.yml")


def test_what_was_found_speaks_as_the_forms_do_and_draws_its_way(room: Any) -> None:
    page = room.get("found/gallbladder").text
    assert not re.search(r"`\w+: |prescrub ", page)
    way = re.search(r"way=(\d+)", page)
    assert way
    assert "<svg" in room.get(f"found/gallbladder?way={way[1]}").text
    assert "13 steps to be read" in room.get("done/gallbladder").text


def test_a_module_is_given_to_a_colleague_and_taken_in_whole_or_not_at_all(
    room: Any, tmp_path: Path, preview_of: Callable[..., Any]
) -> None:
    given = room.get("give/gallbladder")
    assert given.body == room.get("give/gallbladder").body
    other = preview_of(Path(shutil.copytree(BASE, tmp_path / "other")))
    sent = {"file": base64.b64encode(given.body).decode(), "name": "gallbladder.module.zip"}
    assert other.post("take", sent).status == 200
    for path in sorted((room.root / HOME).rglob("*.*")):
        assert (other.root / HOME / path.relative_to(room.root / HOME)).read_bytes() == path.read_bytes()
    assert other.post("take", sent).status == 409, "never over one that is there"
    for name in (
        "../x.md",
        "content/department.md",
        "content/procedures/other/steps/.x.md",
        "content/procedures/a/x.svg",
    ):
        packed = io.BytesIO()
        with zipfile.ZipFile(packed, "w") as archive:
            archive.writestr("content/procedures/other/procedure.md", "x")
            archive.writestr(name, "x")
        assert other.post("take", {"file": base64.b64encode(packed.getvalue()).decode()}).status == 422, name
    assert other.post("take", {"file": "bm8="}).status == 422
    assert not (other.root / "content/procedures/other").exists()


def test_a_procedure_begins_from_nothing_without_scripts(preview: Any) -> None:
    body = urlencode({"title": "A lump", "steps": "Wash the skin.\nCut the skin.\n"}).encode()
    answer = preview.send("POST", f"{preview.shop.home}/new", body, Content_Type=FORM)
    assert (answer.status, answer.headers["location"]) == (303, f"{preview.shop.home}/read/a-lump")
    assert "0 of 2 steps read: go on" in preview.get("part/overview").text
    again = preview.send("POST", f"{preview.shop.home}/new", body, Content_Type=FORM)
    assert (again.status, "exists already" in again.text, "Wash the skin." in again.text) == (409, True, True)


def test_a_picture_begins_a_procedure_and_is_asked_about_at_once(preview: Any) -> None:
    content = io.BytesIO()
    Image.new("RGB", (60, 40), "red").save(content, "JPEG", comment=b"of somebody")
    sent = {"title": "A lump", "name": "IMG.JPG", "file": base64.b64encode(content.getvalue()).decode()}
    told = preview.post("new", {**sent, "steps": "Wash the skin.\nCut the skin."})
    page = json.loads(told.text)["page"].removeprefix(preview.shop.home)
    assert page.startswith("/picture/a-lump/steps/wash-skin")
    assert "Has the patient agreed?" in preview.get(page[1:]).text
    assert b"somebody" not in (preview.root / "content/procedures/a-lump/figures/picture-1.png").read_bytes()
    assert preview.post("new", {**sent, "title": "Another", "steps": ""}).status == 422


def test_a_browser_that_was_closed_has_the_preview_opened_again(preview: Any) -> None:
    refused = preview.get("", Cookie=None)
    assert f'href="{preview.shop.home}/again"' in refused.text
    assert "prescrub preview" not in refused.text
    opened = preview.get("again", Cookie=None)
    assert "set-cookie" not in opened.headers
    assert preview.server.gate.address not in opened.text, "who asks learns nothing"
    assert preview.told[-1] == preview.server.gate.address


def test_saving_says_when_it_made_an_error(reader: Any, room: Any) -> None:
    step = "content/procedures/example/steps/open-canal.md"
    reader.goto(f"{room.home}/edit/{step}?field=cue&back=read/gallbladder%23step-incise-skin")
    reader.wait_for_selector("#save:enabled")
    assert reader.evaluate("document.activeElement.closest('[data-field]').dataset.key") == "cue"
    reader.locator("#save").click()
    reader.wait_for_url("**/read/gallbladder#step-incise-skin")
    reader.goto(f"{room.home}/edit/{step}?field=if_not")
    reader.wait_for_selector("#save:enabled")
    assert reader.evaluate("document.activeElement.closest('[data-field]').dataset.key") == "if_not"
    assert reader.locator("#state").inner_text() == "", "nothing was saved here"


def errors(room: Any) -> list[str]:
    return [one.message for one in room.shop.state.findings if one.severity is Severity.ERROR]


@pytest.mark.slow  # a whole evening: some forty presses, each of which writes and checks the folder
def test_a_talk_becomes_a_module_without_an_error(room: Any) -> None:
    """Every press is one button of a plain form; the presses are counted, and no line is typed."""
    presses = 0
    assert len(errors(room)) > 5

    def press(do: str, **fields: str) -> None:
        nonlocal presses
        presses += 1
        answer = pressed(room, do, **fields)
        assert answer.status == 303, (do, re.findall(r'role="alert">([^<]*)', answer.text))

    def number(words: str) -> int:
        told = read_told(text(room, "told.yml"))
        return next(at for at, one in enumerate(told.sentences) if words in one.text)

    before = "steps/open-peritoneum.md"
    press(f"use:{number('great danger')}:caution", step=before)
    press(f"use:{number('jaundiced')}:consequence", step=before)
    for heard in read_told(text(room, "told.yml")).misheard:
        press(f"{'meant' if heard == 'cistic duct' else 'heard'}:{heard}")
    clipped = "steps/divide-cystic-artery.md"
    for words in ("Clamp", "Clamp", "Clamp", "Divide"):
        shown = room.get("read/gallbladder").text
        line = re.search(rf"<dd>{words} the [^<]*.*?value=\"(drop:{clipped}:\d+)\"", shown)
        assert line
        press(line[1])
    for duct in ("cystic artery", "cystic duct"):
        press(f"action:{clipped}", verb="seal", object=duct)
        press(f"action:{clipped}", verb="divide", object=duct, **{"with": "scissors"})
    for _ in range(25):
        shown = room.get("asked/gallbladder").text
        picked = re.search(r'value="(pick:[^"]*)"', shown)
        if not picked or not errors(room):
            break
        presses += 1
        assert answered(room, html.unescape(picked[1]), shown).status == 303
    for part in re.findall(r'value="(practice:[^"]*)"', room.get("read/gallbladder").text):
        press(part)
    assert errors(room) == [], "\n".join(errors(room))
    assert presses < 60


def test_an_action_brings_its_new_name_and_what_it_uses_along(room: Any) -> None:
    fields = {"verb": "seal", "object": "cystic artery", "with": "bipolar pencil", "kind": "items:instrument"}
    assert pressed(room, "action:steps/divide-cystic-artery.md", **fields).status == 303
    assert room.shop.state.library.items.find("bipolar pencil") is not None
    assert "bipolar pencil: 1" in text(room, "procedure.md")
    assert [one for one in errors(room) if "bipolar pencil" in one and "cystic" not in one] == []
    assert pressed(room, "action:steps/divide-cystic-artery.md", **{**fields, "kind": ""}).status == 303
    assert text(room, "procedure.md").count("bipolar pencil") == 1


def test_the_text_of_a_step_is_shown_on_the_right(room: Any) -> None:
    said = text(room, "steps/incise-skin.md").rpartition("---")[2]
    assert said.strip()
    page = html.unescape(room.get("read/gallbladder").text)
    part = page[page.index('id="step-incise-skin"') :]
    module = part[part.index('class="rd-module"') : part.index("</section>")]
    assert f"<dt>How it is done</dt><dd>{' '.join(said.split())} <a" in module
    assert "field=prose&back=read/gallbladder%23step-incise-skin" in module


def test_a_new_name_without_its_kind_is_asked_for_it_and_what_was_chosen_stays(room: Any) -> None:
    fields = {"verb": "seal", "object": "grey cord", "with": "scissors", "kind": ""}
    before = text(room, "steps/divide-cystic-artery.md")
    answer = pressed(room, "action:steps/divide-cystic-artery.md", **fields)
    assert (answer.status, text(room, "steps/divide-cystic-artery.md")) == (409, before)
    (form,) = re.findall(r'<details class="rd-ways" open>.*?</details>', answer.text, re.DOTALL)
    assert "“grey cord” is in no catalogue. Choose what it is" in form
    assert re.findall(r'name="\w+" value="([^"]*)" list', form) == ["grey cord", "scissors", ""]
    assert '<option value="seal" selected>' in form
    two = pressed(room, "action:steps/divide-cystic-artery.md", **{**fields, "with": "blue pencil"})
    assert "“grey cord” and “blue pencil” are both new" in two.text
    counted = {"verb": "count", "object": "swabs"}
    assert pressed(room, "action:steps/divide-cystic-artery.md", **counted).status == 303
    named = {**fields, "kind": "structures:vessel"}
    assert pressed(room, "action:steps/divide-cystic-artery.md", **named).status == 303
    assert room.shop.state.library.structures.find("grey cord") is not None


def test_a_new_name_gets_its_kind_by_one_key(reader: Any, room: Any) -> None:
    asked = reader.locator(".rd-ask", has=reader.locator(".rd-kinds"))
    many = asked.count()
    words = re.search("“(.*)”", asked.first.inner_text())[1]  # type: ignore[index]
    kind = asked.first.locator("[data-digit='1']").inner_text().split()[-1]
    with reader.expect_response("**/read/gallbladder"):
        reader.keyboard.press("1")
    reader.locator(".rd-kinds").nth(many - 1).wait_for(state="detached")
    library = room.shop.state.library
    found = library.items.find(words) or library.structures.find(words)
    assert found.kind.value == kind


def test_what_comes_out_afterwards_is_bound_to_its_aftercare_by_one_click(preview: Any) -> None:
    step, care = (
        preview.root / "content/procedures/example" / name
        for name in ("steps/place-drain.md", "aftercare/drain-out.md")
    )
    before = step.read_bytes(), care.read_bytes()
    step.write_bytes(before[0].replace(b"    stays: true\n", b""))
    title = before[1].replace(b"title: Take the drain out", b"title: The drain, if there is one, comes out")
    pick = "The drain, if there is one, comes out (if a drain was left in)"
    care.write_bytes(title.replace(b"concerns: suction drain\n", b""))
    preview.shop.saved()
    shown = preview.get("asked/example?n=0").text
    assert 'name="key" value="comes_out.1"' in shown
    assert f'value="pick:{pick}"' in shown
    asked = dict(re.findall(r'name="(file|key|n)" value="([^"]*)"', shown))
    body = urlencode({"do": f"pick:{pick}", "words": "", **asked}).encode()
    typed = urlencode({"do": "answer", "words": "Stays. It comes out the next morning.", **asked}).encode()
    refused = preview.send("POST", f"{preview.shop.home}/asked/example", typed, Content_Type=FORM)
    assert refused.status == 409
    assert ">Stays. It comes out the next morning.</textarea>" in refused.text, "what was typed is not lost"
    told = re.search(r'role="alert">([^<]*)<', refused.text)
    assert told
    assert ".md" not in told[1]
    assert preview.send("POST", f"{preview.shop.home}/asked/example", body, Content_Type=FORM).status == 303
    assert b"stays: true" in step.read_bytes()
    assert b"concerns: suction drain" in care.read_bytes()
    assert [one.message for one in preview.shop.state.findings if one.severity is Severity.ERROR] == []


def test_a_name_that_is_known_meanwhile_is_asked_no_more(room: Any) -> None:
    before = sorted((path.name, path.read_bytes()) for path in (room.root / "content/catalogue").iterdir())
    assert pressed(room, "kind:structures:vessel:Skin").status == 303, "another spelling, or another tab"
    assert sorted((path.name, path.read_bytes()) for path in (room.root / "content/catalogue").iterdir()) == before


def test_an_error_is_answered_where_it_was_found(room: Any) -> None:
    step = "steps/incise-skin.md"
    assert pressed(room, f"action:{step}", verb="place", object="suction drain").status == 303
    number = text(room, step).partition("- place: suction drain")[0].count("\n  - ") + 1
    asked = {"file": f"{HOME}/{step}", "key": f"comes_out.{number}", "n": "0", "words": ""}
    before = text(room, step)
    body = urlencode({**asked, "do": "pick:Nowhere at all"}).encode()
    answer = room.send("POST", f"{room.shop.home}/found/gallbladder", body, Content_Type=FORM)
    assert (answer.status, "is not the title of a step" in html.unescape(answer.text)) == (409, True)
    assert text(room, step) == before
    body = urlencode({**asked, "do": "pick:stays"}).encode()
    assert room.send("POST", f"{room.shop.home}/found/gallbladder", body, Content_Type=FORM).status == 303
    assert "stays: true" in text(room, step)


def test_a_fresh_draft_is_not_told_that_its_cautions_guard_other_steps(room: Any) -> None:
    assert "caution-guards-other-step" not in {one.name for one in room.shop.state.findings}


def test_steps_that_were_not_followed_stand_beside_the_errors_wherever_these_are_counted(room: Any) -> None:
    told = "of 13 steps say nothing of what is done: not analysed"
    steps = sorted((room.root / HOME / "steps").iterdir())
    silent = sum("\nactions:" not in step.read_text() for step in steps)
    step = room.root / HOME / "steps/incise-skin.md"
    front = step.read_text()
    assert "\nactions:" in front
    step.write_text(re.sub(r"\nactions:(\n +.*)+", "", front))
    room.shop.saved()
    assert silent >= 1
    for page in ("found/gallbladder", "done/gallbladder", "part/overview"):
        assert f"{silent + 1} {told}" in room.get(page).text, page


def test_a_sentence_that_was_read_and_is_gone_from_the_module_is_told(room: Any) -> None:
    told, mark = read_told(text(room, "told.yml")), "but its words stand nowhere in the module now"
    number = next(at for at, one in enumerate(told.sentences) if "press with a swab" in one.text)
    assert pressed(room, f"accept:{number}").status == 303
    assert mark not in room.get("read/gallbladder").text
    page = room.root / HOME / told.sentences[number].page
    page.write_text(page.read_text().replace(told.sentences[number].text, "Call for help."))
    room.shop.saved()
    shown = room.get("read/gallbladder").text
    assert shown.count(mark) == 1
    assert "the words of 1 sentence that you read stand nowhere in the module" in shown


def test_how_grave_a_caution_of_a_draft_is_is_asked_and_answered_by_one_click(room: Any) -> None:
    shown = room.get("read/gallbladder").text
    page = re.search(r'value="grave:(cautions/[^:"]+):danger"', shown)
    assert page
    assert re.search("<dt>(Warning|Caution|Notice), proposed</dt>", shown)
    assert pressed(room, f"grave:{page[1]}:danger").status == 303
    assert "\nsignal: danger\n" in text(room, page[1])
    assert "<dt>Danger, proposed</dt>" in room.get("read/gallbladder").text
    before = text(room, page[1])
    assert (pressed(room, f"grave:{page[1]}:awful").status, text(room, page[1])) == (409, before)
    asked = room.get("read/gallbladder").text
    part = next(one for one in re.findall(r'value="(part:[^"]*)"', asked) if page[1] in one)
    assert pressed(room, part).status == 303
    assert f"grave:{page[1]}" not in room.get("read/gallbladder").text, "what was read is asked no more"


def test_aftercare_stands_in_the_order_in_which_it_was_told(room: Any) -> None:
    library = room.shop.state.library
    told = read_told(text(room, "told.yml"))

    def aftercare(heard: Told) -> tuple[str, ...]:
        parts = reading_of(library, library.by_id["gallbladder"], heard).parts
        return next(part.pages for part in parts if part.anchor == "afterwards")

    pages = aftercare(told)
    assert len(pages) > 1
    other_way = dict(zip(pages, reversed(pages), strict=True))
    turned = tuple(replace(one, page=other_way.get(one.page, one.page)) for one in told.sentences)
    assert aftercare(replace(told, sentences=turned)) == pages[::-1]


def test_a_guessed_action_asks_whether_it_is_so_beside_the_talk_and_where_it_is_found(room: Any) -> None:
    path = next(path for path in (room.root / HOME / "steps").glob("*.md") if "Place three clips" in path.read_text())
    path.write_text(path.read_text().replace("actions:\n", "actions:\n  - divide: liver\n    proposed: true\n", 1))
    room.shop.saved()
    page = f"steps/{path.name}"
    for screen, words in (("read", "A guess: no sentence here"), ("found", "Is “Divide the liver” done at all?")):
        assert words in html.unescape(room.get(f"{screen}/gallbladder").text), screen
    assert f'value="sure:{page}:0:cystic artery"' in room.get("read/gallbladder").text
    assert pressed(room, f"sure:{page}:0").status == 303
    assert f'value="sure:{page}:0"' not in room.get("read/gallbladder").text
    assert "Is “Divide the liver” done at all?" not in html.unescape(room.get("found/gallbladder").text)


def test_what_was_misheard_is_put_right_beside_the_talk_as_it_was_said(room: Any) -> None:
    said = read_told(text(room, "told.yml")).sentences
    number = next(at for at, one in enumerate(said) if "Divide the peritoneum" in one.text)
    was = said[number].text
    assert "I said it as written above" in room.get(f"read/gallbladder?use={number}").text
    answer = pressed(room, f"said:{number}", was=was, words=was.replace("hook", "hot hook"))
    assert answer.headers["location"].endswith(f"#s{number}")
    shown = room.get("read/gallbladder").text
    assert shown.count("Divide the peritoneum with the hot hook.") >= 2, "on the left and on the right"


def test_a_sentence_that_leaves_its_step_is_followed_by_the_next_one_there(reader: Any, room: Any) -> None:
    said = read_told(text(room, "told.yml")).sentences
    number = next(at for at, one in enumerate(said) if "Place three clips" in one.text)
    reader.click(f"#s{number} [data-key=m]")
    reader.click("text=Leave it out")
    reader.wait_for_selector(f"#left-out #s{number}")
    reader.wait_for_selector(f"#s{number + 1}.rd-now")
    assert reader.locator("button[value^='told:']").count() > 0
    assert reader.evaluate("document.documentElement.scrollWidth") <= 1280, (
        "a long sentence to choose stays in its column"
    )


def test_what_is_not_said_yet_is_filled_with_a_sentence_of_the_talk_by_one_click(room: Any) -> None:
    shown = html.unescape(room.get("read/gallbladder").text)
    page, key = re.findall(r'value="told:(cautions/[^:"]*):(\w+)"', shown)[0]
    number, words = re.findall(r'<option value="(\d+)">([^<]*)</option>', shown[: shown.index(f"told:{page}:{key}")])[
        -1
    ]
    assert pressed(room, f"told:{page}:{key}", told=number).status == 303
    assert words in " ".join(text(room, page).split())
    assert read_told(text(room, "told.yml")).sentences[int(number)].page == page
    for n in range(80):
        asked = html.unescape(room.get(f"asked/gallbladder?n={n}").text)
        if found := re.findall(r'value="told:(\d+)" aria-label="This answers it: ([^"]*)"', asked):
            break
    fields = dict(re.findall(r'type="hidden" name="(\w+)" value="([^"]*)"', asked))
    body = urlencode({"do": f"told:{found[0][0]}", **fields}).encode()
    assert room.send("POST", f"{room.shop.home}/asked/gallbladder", body, Content_Type=FORM).status == 303
    moved = read_told(text(room, "told.yml")).sentences[int(found[0][0])]
    assert moved.role == fields["key"]
    assert fields["file"].endswith(moved.page)


def test_what_the_draft_left_open_leads_to_its_questions_once_all_is_read(room: Any) -> None:
    while parts := re.findall(r'name="do" value="(part:[^"]*)"', room.get("read/gallbladder").text):
        assert pressed(room, html.unescape(parts[0])).status == 303
    done = room.get("done/gallbladder").text
    assert re.search(r'/asked/gallbladder">\d+ answers? that the draft left open', done)
    assert "to be read" not in done


def test_a_question_shows_its_own_words_first_and_folds_what_was_told_around_them(room: Any) -> None:
    shown = (room.get(f"asked/gallbladder?n={number}").text for number in range(30))
    asked = next(text for text in shown if "What else was told there" in text and "/cautions/" in text)
    own, folded = asked.split("What else was told there")
    assert 1 <= own.count("<blockquote>") <= 3
    assert folded.count("<blockquote>") >= 1


def test_no_error_is_no_praise_where_nothing_is_said_to_be_done(room: Any) -> None:
    for step in (room.root / HOME / "steps").iterdir():
        step.write_text(re.sub(r"\nactions:(\n +.*)+", "", step.read_text()))
    room.shop.saved()
    assert errors(room) == []
    found = room.get("found/gallbladder").text
    assert "Nothing was found in what could be checked, but 13 of 13 steps say nothing of what is done" in found
    assert "Nothing stops it" not in found


def test_a_sentence_that_is_right_is_followed_by_the_next_over_the_end_of_its_step(reader: Any, room: Any) -> None:
    numbers = [int(one) for one in re.findall(r'data-number="(\d+)"', room.get("read/gallbladder").text)][:6]
    reader.click(f"#s{numbers[0]} [data-key=a]")
    for number in numbers[1:]:
        reader.wait_for_selector(f"#s{number}.rd-now")
        with reader.expect_response("**/read/gallbladder"):
            reader.keyboard.press("a")
        reader.wait_for_selector(f"#s{number}.rd-is-read")

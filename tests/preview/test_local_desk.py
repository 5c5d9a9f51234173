"""What is local over the parent, in the preview: both texts, the choice between them, and a new change."""

from __future__ import annotations

import html
import re
from collections.abc import Callable
from pathlib import Path
from typing import Any
from urllib.parse import urlencode

import pytest
from browser_tools import assert_a_screen_suits_all
from over import Ward

FORM = "application/x-www-form-urlencoded"
OURS, THEIRS = "The nerve and its branch are seen.", "The nerve is seen along its whole length."


@pytest.fixture
def ward(tmp_path: Path) -> Ward:
    ward = Ward(tmp_path)
    ward.local({"replace": "step open-canal", "key": "cue", "with": OURS})
    return ward


@pytest.fixture
def room(ward: Ward, preview_of: Callable[..., Any]) -> Any:
    return preview_of(ward.root)


def shown(room: Any, page: str) -> str:
    return " ".join(html.unescape(re.sub(r"<[^>]+>", " ", room.get(page).text)).split())


def sent(room: Any, page: str, **fields: str) -> Any:
    return room.send("POST", f"{room.shop.home}/{page}", urlencode(fields).encode(), Content_Type=FORM)


def seen(room: Any) -> str:
    return re.findall(r'name="seen" value="([^"]*)"', room.get("local").text)[0]


def test_both_texts_stand_side_by_side_and_ours_is_kept(room: Any, ward: Ward) -> None:
    page = shown(room, "local")
    assert OURS in page
    assert THEIRS in page
    assert sent(room, "local", where="example 0", seen=seen(room), do="keep").status == 303
    assert "was: " in (ward.root / "content/local/example.md").read_text()
    assert "Chosen" in shown(room, "local")


def test_a_change_of_the_parent_waits_for_a_choice(room: Any, ward: Ward) -> None:
    sent(room, "local", where="example 0", seen=seen(room), do="keep")
    ward.of_region("steps/open-canal.md", THEIRS, "The nerve is seen at the ring.")
    room.shop.saved()
    assert "The parent has changed this since: it now says The nerve is seen at the ring." in shown(room, "local")
    assert sent(room, "local", where="example 0", seen="older", do="keep").status == 409
    assert sent(room, "local", where="example 0", seen=seen(room), do="take").status == 303
    assert "Nothing of the parent is changed here." in shown(room, "local")


def test_a_new_change_is_written_with_its_reason(room: Any, ward: Ward) -> None:
    filled = {"which": "step open-canal if_not", "with": "Stop and call.", "because": "So agreed.", "document": "P 3"}
    assert "If not: " in shown(room, "local/example")
    assert sent(room, "local/example", **filled, date="soon").status == 409
    assert sent(room, "local/example", **filled, date="2026-05-01").status == 303
    library, findings = ward.read()
    assert library.by_id["example"].steps["open-canal"].if_not == "Stop and call."
    assert [made.name for made in findings] == ["local-not-confirmed"]  # the other one


def test_a_first_change_makes_the_page(tmp_path: Path, preview_of: Callable[..., Any]) -> None:
    ward = Ward(tmp_path / "bare")
    room = preview_of(ward.root)
    filled = {"which": "step open-canal cue", "with": OURS, "because": "So agreed.", "document": "P 3"}
    assert sent(room, "local/example", **filled, date="2026-05-01").status == 303
    assert ward.read()[0].by_id["example"].steps["open-canal"].cue == OURS
    assert ward.read()[1] == []


def test_a_page_of_the_parent_leads_to_what_can_be_changed(room: Any) -> None:
    page = room.get("part/page/example").text
    assert f"{room.shop.home}/local/example" in page
    assert "/edit/content/procedures/example/steps/open-canal.md" not in page
    assert room.get("figures/example/canal.svg").status == 200


WHY = {"because": "So agreed.", "document": "P 3", "date": "2026-05-01"}


def test_a_whole_part_is_left_out(room: Any, ward: Ward) -> None:
    assert "Way of “" in shown(room, "local/example")
    assert sent(room, "local/example/part", part="step test-block", deed="switch_off", title="", **WHY).status == 303
    assert "switch_off: step test-block" in (ward.root / "content/local/example.md").read_text()
    assert "test-block" not in ward.read()[0].by_id["example"].steps


def test_a_way_is_left_out(room: Any, ward: Ward) -> None:
    ways = re.findall(r'<option value="(branch [^"]+)"', room.get("local/example").text)
    assert sent(room, "local/example/part", part=ways[0], deed="replace", title="", **WHY).status == 409
    assert sent(room, "local/example/part", part=ways[0], deed="switch_off", title="", **WHY).status == 303
    library, _ = ward.read()
    assert [change.target for change in library.local][1:] == [html.unescape(ways[0]), "step inject-local"]


def test_an_option_goes_with_the_steps_that_only_it_leads_to(room: Any, ward: Ward) -> None:
    assert sent(room, "local/example/part", part="option drain", deed="switch_off", title="", **WHY).status == 303
    library, findings = ward.read()
    assert [change.target for change in library.local][1:] == ["option drain", "step place-drain", "step tell-recovery"]
    assert "step-not-used" not in [made.name for made in findings]
    assert "place-drain" not in library.by_id["example"].steps


@pytest.mark.parametrize(("deed", "folder", "entry"), [
    ("add_step", "steps", "add: step wash-the-wound"), ("add_caution", "cautions", "add: caution wash-the-wound"),
])  # fmt: skip
def test_a_new_part_is_written_and_its_form_opened(room: Any, ward: Ward, deed: str, folder: str, entry: str) -> None:
    fields = {"part": "step cut-skin", "deed": deed, **WHY}
    assert "Write what the new one is called." in html.unescape(
        sent(room, "local/example/part", title="", **fields).text
    )
    answer = sent(room, "local/example/part", title="Wash the wound", **fields)
    assert answer.status == 303
    file = f"content/procedures/example/{folder}/wash-the-wound.md"
    assert entry in (ward.root / "content/local/example.md").read_text()
    assert "Wash the wound" in shown(room, f"edit/{file}")
    library = ward.read()[0]
    made = library.by_id["example"].steps if folder == "steps" else library.by_id["example"].cautions
    assert "wash-the-wound" in made


def test_a_part_is_written_anew_from_the_parents_text(room: Any, ward: Ward) -> None:
    file = "content/procedures/example/steps/cut-skin.md"
    answer = sent(room, "local/example/part", part="step cut-skin", deed="replace", title="", **WHY)
    assert answer.status == 303
    assert (ward.root / file).read_text() == (ward.region / file).read_text()
    assert "replace: step cut-skin" in (ward.root / "content/local/example.md").read_text()
    refused = sent(room, "local/example/part", part="step open-canal", deed="replace", title="", **WHY)
    assert "A text of it is changed already." in html.unescape(refused.text)


def test_the_screens_fit_a_phone_and_are_accessible(room: Any, browser: Any) -> None:
    context = browser.new_context(viewport={"width": 1280, "height": 900})
    tab = context.new_page()
    tab.goto(room.server.gate.address)
    tab.wait_for_url(f"{room.home}/")
    for path in ("local", "local/example"):
        tab.goto(f"{room.home}/{path}")
        assert_a_screen_suits_all(tab)
    context.close()

"""Several experts in the preview: their drafts side by side, and one draft out of them, without a command."""

from __future__ import annotations

import html
import re
import shutil
from collections.abc import Callable
from pathlib import Path
from typing import Any
from urllib.parse import urlencode

import pytest
from browser_tools import assert_a_screen_suits_all

TESTS = Path(__file__).parents[1]
FORM = "application/x-www-form-urlencoded"


@pytest.fixture
def room(tmp_path: Path, preview_of: Callable[..., Any]) -> Any:
    root = Path(shutil.copytree(TESTS / "base", tmp_path / "department"))
    other = root / "content/procedures/other"
    shutil.copytree(root / "content/procedures/example", other)
    for name, old, new in (
        ("procedure.md", "title: Opening", "title: The second way of opening"),
        ("steps/open-canal.md", "  - identify: ilioinguinal nerve\n", ""),
        ("steps/open-canal.md", "[here](procedure:example)", "here"),
    ):
        text = (other / name).read_text()
        assert old in text
        (other / name).write_text(text.replace(old, new))
    return preview_of(root)


def shown(room: Any, page: str) -> str:
    return " ".join(html.unescape(re.sub(r"<[^>]+>", " ", room.get(page).text)).split())


def sent(room: Any, **fields: str) -> Any:
    return room.send("POST", f"{room.shop.home}/lay", urlencode(fields).encode(), Content_Type=FORM)


def test_drafts_are_chosen_laid_side_by_side_and_made_one(room: Any) -> None:
    assert f"{room.shop.home}/lay" in room.get("new").text
    assert "Choose another one too." in shown(room, "lay?of=example")
    said = shown(room, "lay?of=example&of=other")
    assert "other left out 1 of" in said
    assert "Only example: identify ilioinguinal nerve" in said
    assert sent(room, of="example", title="Both").status == 409
    assert sent(room, of="example other", title="").status == 409
    assert sent(room, of="example other", title="Both ways").status == 303
    made = (room.root / "content/procedures/both-ways/steps/open-canal.md").read_text()
    assert "said_by: [example]" in made
    assert "said_by: [example, other]" in made
    form = shown(room, "edit/content/procedures/both-ways/steps/open-canal.md")
    assert "Said by example and other, not confirmed yet. Read it" in form
    assert "Said only by example" in form
    assert sent(room, of="example other", title="Both ways").status == 409, "what exists is never touched"


def test_the_screen_fits_a_phone_and_is_accessible(room: Any, browser: Any) -> None:
    context = browser.new_context(viewport={"width": 1280, "height": 900})
    tab = context.new_page()
    tab.goto(room.server.gate.address)
    tab.wait_for_url(f"{room.home}/")
    assert tab.goto(f"{room.home}/lay").status == 200
    for box in tab.locator("input[type=checkbox]").all():
        box.check()
    tab.click("text=Lay them side by side")
    tab.wait_for_url("**of=other**")
    assert_a_screen_suits_all(tab)
    context.close()

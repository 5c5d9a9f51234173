"""The committee's copy in the preview: kept, brought back, and taken as by the commands."""

from __future__ import annotations

import base64
import html
import re
import shutil
from collections.abc import Callable
from pathlib import Path
from typing import Any
from urllib.parse import urlencode

import pytest
from browser_tools import assert_a_screen_suits_all
from marked_by_hand import COMMENT, marked, rewritten

BASE = Path(__file__).parents[1] / "base"
STEP = "content/procedures/example/steps/open-canal.md"
FORM = "application/x-www-form-urlencoded"


@pytest.fixture
def room(tmp_path: Path, preview_of: Callable[..., Any]) -> Any:
    return preview_of(Path(shutil.copytree(BASE, tmp_path / "department")))


def shown(room: Any, page: str = "committee/example") -> str:
    return " ".join(html.unescape(re.sub(r"<[^>]+>", " ", room.get(page).text)).split())


def brought(room: Any, content: bytes, name: str = "back.docx") -> Any:
    return room.post("committee/example", {"name": name, "file": base64.b64encode(content).decode()})


def taken(room: Any, **fields: str) -> Any:
    return room.send("POST", f"{room.shop.home}/committee/example", urlencode(fields).encode(), Content_Type=FORM)


def test_a_copy_is_kept_brought_back_and_taken(room: Any) -> None:
    assert f"{room.shop.home}/committee/example" in room.get("done/example").text
    content = room.get("copy/example").body
    cue, slip = rewritten("step_open_canal_cue", "whole", "full"), rewritten("step_open_canal_error", "roof", "top")
    back = marked(content, cue, slip, comments=COMMENT.format(1, "Cat", "Why?"))
    assert brought(room, back).status == 200
    assert "Changes: 2" in shown(room)
    assert "Ann Example" in shown(room)
    assert taken(room, do="ticked").status == 409, "nothing is ticked"
    assert taken(room, do="ticked", n1="yes").status == 303
    text = (room.root / STEP).read_text()
    assert "along its full length" in text
    assert "roof of the canal." in text
    assert "Already in the module: 1" in shown(room)
    assert taken(room, do="all").status == 303
    assert "top of the canal." in (room.root / STEP).read_text()
    assert "To answer" in shown(room)
    assert "Why? (Cat)" in shown(room)


def test_what_is_not_our_copy_is_refused_in_words(room: Any) -> None:
    assert brought(room, b"nothing").status == 422
    assert "cannot be opened" in brought(room, b"nothing").text
    assert "is not a .docx or an .odt" in brought(room, b"nothing", "back.rtf").text
    assert taken(room, do="all").status == 409


def test_the_screen_fits_a_phone_and_is_accessible(room: Any, browser: Any) -> None:
    back = marked(room.get("copy/example").body, rewritten("step_open_canal_cue", "whole", "full"),
                  rewritten("step_open_canal_action_1", "Identify", "Look at"),
                  comments=COMMENT.format(1, "Cat", "Why?"))  # fmt: skip
    assert brought(room, back).status == 200
    context = browser.new_context(viewport={"width": 1280, "height": 900})
    tab = context.new_page()
    tab.goto(room.server.gate.address)
    tab.wait_for_url(f"{room.home}/")
    assert tab.goto(f"{room.home}/committee/example").status == 200
    assert_a_screen_suits_all(tab)
    tab.set_input_files("#cm-file", {"name": "back.docx", "mimeType": "x", "buffer": back})
    tab.click("text=Show what came back")
    tab.wait_for_url(f"{room.home}/committee/example")
    context.close()

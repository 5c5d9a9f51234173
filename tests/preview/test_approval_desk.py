"""Approving and the year in the preview: shown, asked and written as by the commands."""

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

from builder.load.ledger import UNSIGNED, read_ledger

BASE = Path(__file__).parents[1] / "base"
PAGE = "content/procedures/example/procedure.md"
FORM = "application/x-www-form-urlencoded"


@pytest.fixture
def room(tmp_path: Path, preview_of: Callable[..., Any]) -> Any:
    root = Path(shutil.copytree(BASE, tmp_path / "department"))
    page = root / PAGE
    page.write_text(page.read_text().replace("status: draft", "status: in review"))
    return preview_of(root)


def shown(room: Any, page: str) -> str:
    text = room.get(page).text
    return " ".join(html.unescape(re.sub(r"<[^>]+>", " ", text)).split())


def code(room: Any) -> str:
    found = re.search(r'name="content" value="([^"]+)"', room.get("approve/example").text)
    assert found
    return found[1]


def sent(room: Any, **fields: str) -> Any:
    given = {"name": "Bea Example", "role": "clinical lead", "read": "yes", "content": code(room), **fields}
    return room.send("POST", f"{room.shop.home}/approve/example", urlencode(given).encode(), Content_Type=FORM)


def test_an_approval_is_shown_asked_and_written(room: Any) -> None:
    assert "Nothing was approved before, so all of it is new" in shown(room, "approve/example")
    assert sent(room).status == 303
    assert "status: approved" in (room.root / PAGE).read_text()
    (line,) = read_ledger(room.root).approved
    assert (line.by, line.role, line.signature) == ("Bea Example", "clinical lead", UNSIGNED)
    assert "It is approved as it stands. Nothing is missing." in shown(room, "approve/example")
    assert "approved Bea Example, clinical lead" in shown(room, "year")


@pytest.mark.parametrize(
    ("fields", "why"),
    [
        ({"name": ""}, "Write your name: it stands on the approval."),
        ({"name": "A. Example"}, "owns this procedure and cannot approve it."),
        ({"role": "porter"}, "is not a role that may approve here."),
        ({"read": ""}, "Say that you have read what changed."),
        ({"content": "v1-0"}, "The procedure was changed while you looked at it."),
    ],
)
def test_what_cannot_be_approved_is_told_and_nothing_written(room: Any, fields: dict[str, str], why: str) -> None:
    answer = sent(room, **fields)
    assert answer.status == 409
    assert why in html.unescape(answer.text)
    assert "status: in review" in (room.root / PAGE).read_text()
    assert not (room.root / "ledger").exists()


def test_a_draft_has_no_form(room: Any) -> None:
    page = room.root / PAGE
    page.write_text(page.read_text().replace("status: in review", "status: draft"))
    room.shop.saved()
    said = shown(room, "approve/example")
    assert "is a draft. Write `status: in review`" in said
    assert "Approve this content" not in said


def test_the_year_is_shown(room: Any) -> None:
    said = shown(room, "year")
    assert "The year at a glance" in said
    assert "in review, not approved" in said
    assert "The year at a glance" in shown(room, "part/overview")


def test_the_screens_fit_a_phone_and_are_accessible(room: Any, browser: Any) -> None:
    context = browser.new_context(viewport={"width": 1280, "height": 900})
    tab = context.new_page()
    tab.goto(room.server.gate.address)
    tab.wait_for_url(f"{room.home}/")
    for path in ("year", "approve/example"):
        answer = tab.goto(f"{room.home}/{path}")
        assert answer.status == 200
        assert_a_screen_suits_all(tab)
    context.close()

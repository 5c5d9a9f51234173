"""What is local over the parent, in the preview: both texts, the choice between them, and a new change."""

from __future__ import annotations

import html
import re
from collections.abc import Callable
from pathlib import Path
from typing import Any
from urllib.parse import urlencode

import pytest
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

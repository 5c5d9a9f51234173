"""What changed, in the preview: since a revision or an issued edition, and as a page to pin up."""

from __future__ import annotations

import html
import re
import shutil
import subprocess
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from browser_tools import assert_a_screen_suits_all

BASE = Path(__file__).parents[1] / "base"
STEP = "content/procedures/example/steps/open-canal.md"


@pytest.fixture
def room(tmp_path: Path, preview_of: Callable[..., Any]) -> Any:
    """A department whose first edition is in git, and whose step was changed since."""
    root = Path(shutil.copytree(BASE, tmp_path / "hospital" / "department"))
    author = ["-c", "user.name=Ada Example", "-c", "user.email=ada@example.org"]
    for words in (["init", "-q", "."], ["add", "-A"], ["commit", "-qm", "First edition"]):
        subprocess.run(["git", *author, *words], cwd=root.parent, check=True, capture_output=True)
    step = root / STEP
    step.write_text(step.read_text().replace("title: ", "title: Within 5 minutes, ", 1))
    return preview_of(root)


def shown(answer: Any) -> str:
    return " ".join(html.unescape(re.sub(r"<[^>]+>", " ", answer.text)).split())


def test_what_changed_since_a_revision_is_shown_with_both_texts(room: Any) -> None:
    assert "No edition of it has been issued yet." in shown(room.get("changed/example"))
    said = shown(room.get("changed/example?revision=HEAD"))
    assert "1 change" in said
    assert "Now Within 5 minutes," in said
    step = room.root / STEP
    step.write_text(step.read_text().replace("Within 5 minutes, ", ""))
    room.shop.saved()
    assert "Nothing that a reader sees has changed since then." in shown(room.get("changed/example?revision=HEAD"))


def test_it_is_kept_as_a_page_to_pin_up(room: Any) -> None:
    answer = room.get("changed/example/paper?since=HEAD")
    assert answer.status == 200
    assert answer.body.startswith(b"%PDF-")


@pytest.mark.parametrize(("page", "why"), [
    ("changed/example?revision=no-such", "'no-such' is not a department's folder, a code in ledger/issued.jsonl"),
    ("changed/example?revision=--help", "'--help' cannot be the name of a revision."),
    ("changed/example/paper?since=no-such", "'no-such' is not a department's folder"),
])  # fmt: skip
def test_a_state_that_git_does_not_know_is_said(room: Any, page: str, why: str) -> None:
    answer = room.get(page)
    assert answer.status == 409
    assert why in shown(answer)


def test_the_button_leads_there_and_the_screen_is_accessible(room: Any, browser: Any) -> None:
    context = browser.new_context(viewport={"width": 390, "height": 844})
    tab = context.new_page()
    tab.goto(room.server.gate.address)
    tab.wait_for_url(f"{room.home}/")
    tab.goto(f"{room.home}/done/example")
    tab.get_by_text("What changed since an earlier edition").click()
    tab.fill("#ch-revision", "HEAD")
    tab.get_by_text("Show what changed").click()
    tab.get_by_text("Within 5 minutes,").first.wait_for()
    assert_a_screen_suits_all(tab)
    context.close()

"""Nothing of what is read and answered in the reading room is lost: killed while it is saved, or two tabs at once."""

from __future__ import annotations

import random
import re
import shutil
from collections.abc import Callable
from pathlib import Path
from typing import Any
from urllib.parse import urlencode

import pytest
from kill_points import killed_at, left, state

from builder.draft.told_answers import pages_accepted
from builder.draft.told_desk import Desk
from builder.edit.forms.form_files import FormFolder
from builder.load.files import open_file
from builder.write.writer import last_edit, recover, undo, write_files

HOME = "content/procedures/gallbladder"
KILLS, MOST_CALLS = 100, 60


def read_a_step(root: Path) -> None:
    """Accept the first step, as its button does: the step and the file of what was told."""
    names = frozenset(path.relative_to(root).as_posix() for path in root.rglob("*") if path.is_file())
    desk = Desk(FormFolder(names, lambda name: open_file(root, name)), "gallbladder")
    edit = pages_accepted(desk, ["steps/incise-skin.md"], as_practice=True)
    assert f"{HOME}/told.yml" in edit.changes
    write_files(root, edit.changes, edit.label)


@pytest.mark.slow
@pytest.mark.parametrize("work", [read_a_step, undo])
def test_killed_a_hundred_times_while_a_step_is_read(
    work: Callable[[Path], object], drafted: Path, tmp_path: Path
) -> None:
    chance, seen = random.Random(20261130), set()
    begun, root = tmp_path / "begun", tmp_path / "department"
    shutil.copytree(drafted, begun)
    if work is undo:
        read_a_step(begun)
    shutil.copytree(begun, root)
    old = state(root)
    work(root)
    new = state(root)
    assert new != old
    for kill in range(KILLS):
        shutil.rmtree(root)
        shutil.copytree(begun, root)
        killed = killed_at(chance.randint(1, MOST_CALLS), root, work)
        recover(root)
        assert left(root) == [], kill
        now = state(root)
        assert now in (old, new), f"kill {kill}: neither as before nor as after"
        seen.add((killed, now == new))
        if now == new and work is not undo:
            undo(root)
            assert state(root) == old, f"kill {kill}: not taken back right"
    print(f"{KILLS} kills: {sorted(seen)}")
    assert {(True, False)} <= seen
    assert last_edit(root) is not None or work is undo


def test_two_tabs_answer_one_question_and_neither_answer_is_lost(room: Any) -> None:
    shown = room.get("asked/gallbladder?n=12").text
    asked = dict(re.findall(r'name="(file|key|n)" value="([^"]*)"', shown))

    def answered(words: str) -> Any:
        body = urlencode({"do": "answer", "words": words, **asked}).encode()
        form = "application/x-www-form-urlencoded"
        return room.send("POST", f"{room.shop.home}/asked/gallbladder", body, Content_Type=form)

    assert answered("The bile runs clear.").status == 303
    again = answered("The bile runs black.")
    assert again.status == 409
    assert "The bile runs black.</textarea>" in again.text, "what was typed second stays to be used"
    assert "already has an answer" in again.text
    assert "The bile runs clear." in (room.root / asked["file"]).read_text(encoding="utf-8")

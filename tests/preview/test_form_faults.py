"""Every call of a form's save that writes fails in turn: the file is as it was or as filled in, and that is said."""

from __future__ import annotations

import json
import shutil
from pathlib import Path
from typing import Any

import pytest
from faults import Faults, let_swaps_fail
from test_forms import STEP, filled

from builder.write.lock import UNDO_FOLDER


def test_whatever_call_fails_the_form_says_so_and_saving_again_succeeds(
    preview: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    let_swaps_fail(monkeypatch, can_exchange=True, can_rename=True)
    path: Path = preview.root / STEP
    old, again = path.read_bytes(), filled(preview, STEP)
    body = filled(preview, STEP, minutes="7")
    at, seen, told = -1, 0, []
    while seen > at:
        at += 1
        Faults.begin(preview.root, at)
        answer = preview.post("edit/save", body)
        seen = Faults.end()
        is_new = path.read_bytes() != old
        assert is_new == (answer.status == 200), at
        if not is_new:
            told.append(json.loads(answer.text)["errors"][0]["message"])
            assert preview.post("edit/save", body).status == 200, at
        assert b"minutes: 7" in path.read_bytes()
        assert [one.name for one in preview.root.rglob("*") if one.suffix in (".part", ".begun")] == [], at
        path.write_bytes(old)
        shutil.rmtree(preview.root / UNDO_FOLDER)
        preview.shop.saved()
    assert len(told) > 5, seen
    assert all(one.startswith("It could not be written (") for one in told)
    assert again["opened"] == body["opened"]

"""Every call of a publish or an issue that writes fails in turn, or is the last: the old stands or the new, whole."""

from __future__ import annotations

import json
import os
import shutil
import subprocess
import sys
from pathlib import Path

import pytest
from department import read
from faults import ONLY, Faults, FaultyPublish, change_text, demo_met, let_swaps_fail
from publishing import fingerprint

from builder.load.templates import load_templates
from builder.model.library import Library
from builder.pipeline import publish
from builder.publish.publish_error import PublishError

HERE = Path(__file__).parent


def failing_publish(library: Library, root: Path, out: Path, at: int) -> tuple[int, bool]:
    """Publish while the call number ``at`` fails; return how many calls there were, and whether it was refused."""
    Faults.begin(out, at)
    try:
        publish(library, out / "public", load_templates(root), only=ONLY)
    except PublishError:
        return Faults.end(), True
    return Faults.end(), False


@pytest.mark.parametrize("way", ["exchange", "two renames", "file by file"])
def test_whatever_call_fails_a_whole_site_stands_and_the_next_publish_succeeds(
    way: str, base: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    let_swaps_fail(monkeypatch, can_exchange=way == "exchange", can_rename=way != "file by file")
    templates, to = load_templates(base), tmp_path / "out/public"
    publish(read(base)[0], tmp_path / "old", templates, only=ONLY)
    change_text(base)
    library, _ = read(base)
    publish(library, tmp_path / "new", templates, only=ONLY)
    whole = {fingerprint(tmp_path / "old"), fingerprint(tmp_path / "new")}
    assert len(whole) == 2
    to.parent.mkdir()
    at, seen, refused = -1, 0, 0
    while seen > at:  # the last run has no call of that number, so nothing failed in it
        at += 1
        shutil.copytree(tmp_path / "old", to)
        seen, is_refused = failing_publish(library, base, to.parent, at)
        refused += is_refused
        assert fingerprint(to) in whole, at
        # This process still helps the publish that failed; whoever publishes again is another, and this one has ended.
        shutil.rmtree(to.parent / f".prescrub-{to.name}", ignore_errors=True)
        publish(library, to, templates, only=ONLY)
        assert fingerprint(to) == fingerprint(tmp_path / "new"), at
        shutil.rmtree(to)
    assert refused > 8, seen


@pytest.mark.slow
def test_whatever_call_of_an_issue_fails_no_card_lacks_its_line_and_the_next_succeeds(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    let_swaps_fail(monkeypatch, can_exchange=True, can_rename=True)
    faulty = FaultyPublish(tmp_path / "all", issues=True)
    assert faulty.new[1]
    assert not faulty.old[1]
    at, seen, refused = -1, 0, []
    while seen > at:
        at += 1
        Faults.begin(faulty.folder, at)
        try:
            faulty.publish()
        except PublishError as error:
            refused.append(str(error))
        seen = Faults.end()
        assert faulty.judged() in ("old", "new", "ahead"), at
        shutil.rmtree(faulty.folder / ".prescrub-public", ignore_errors=True)  # as above
        faulty.publish()
        assert faulty.judged() == "new", at
        faulty.reset()
    assert len(refused) > 15, seen


@pytest.mark.slow
@pytest.mark.parametrize("what", ["publish", "issue"])
def test_killed_at_each_call_the_old_stands_or_the_new_and_the_next_succeeds(what: str, tmp_path: Path) -> None:
    command = [sys.executable, str(HERE / "faults.py"), str(tmp_path / "all"), what]
    done = subprocess.run(command, stdout=subprocess.PIPE, check=True, text=True, env={**os.environ})
    told = [json.loads(line) for line in done.stdout.splitlines()]
    assert len(told) > 15
    assert [one for one in told if one["left"] == "neither" or one["then"] != "new"] == []
    assert {"old", "new"} <= {one["left"] for one in told}


@pytest.mark.slow
def test_at_each_place_that_writes_a_fault_and_a_kill_leave_the_demonstration_whole(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Pages, files of text, a PDF: what other outputs write is written at the same places."""
    let_swaps_fail(monkeypatch, can_exchange=True, can_rename=True)
    met = demo_met(tmp_path, ("site", "phone-card", "rehearsal-text", "count-sheet"))
    assert [one for one in met if "neither" in (one.failed, one.killed) or not one.in_words] == []
    assert {one.killed for one in met} == {one.failed for one in met} == {"old", "new"}
    assert len(met) > 15, met

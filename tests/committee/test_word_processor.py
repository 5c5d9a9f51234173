"""60 edits made with LibreOffice come back as .docx and as .odt, each to its key or refused by name; the Markdown
differs only there."""

from __future__ import annotations

import json
import os
import shutil
import subprocess
import sys
from pathlib import Path

import pytest
from committee_edits import EDITS, CommitteeEdit
from department import read

from builder.cli import main
from builder.compose.changes.committee_copy import CommitteeCopy
from builder.compose.changes.returned import ReturnedItem, ReturnedSort
from builder.load.files import read_bytes
from builder.load.limits import MAX_SOURCES_BYTES
from builder.load.marked_file import ENDINGS
from builder.write.committee_taking import TO_ANSWER, came_back, take_in

ROOT = Path(__file__).parent.parent.parent
ID = "open-mesh-inguinal-hernia"
_COMMENT_WINDOW = "share/config/soffice.cfg/modules/swriter/ui/annotation.ui"

pytestmark = pytest.mark.slow


def _with_uno() -> str:
    """Return a Python that can speak to LibreOffice; "" where there is none."""
    for name in (sys.executable, "python3", "/usr/bin/python3"):
        found = shutil.which(name)
        asked = [found, "-c", "import uno"]
        if found and subprocess.run(asked, capture_output=True, check=False).returncode == 0:
            return found
    return ""


@pytest.fixture(scope="module")
def demo(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("department")
    for part in ("content", "references"):
        shutil.copytree(ROOT / part, folder / part)
    return folder


@pytest.fixture(scope="module")
def edits() -> tuple[CommitteeEdit, ...]:
    """All edits; without the comments where this LibreOffice is a build without windows, which fails at the second."""
    soffice = os.environ.get("PRESCRUB_SOFFICE") or shutil.which("soffice")
    if not soffice or not _with_uno():
        pytest.skip("no LibreOffice with Writer and its module for Python (python3-uno) is installed")
    can_comment = "PRESCRUB_SOFFICE" in os.environ or (Path(soffice).resolve().parents[1] / _COMMENT_WINDOW).exists()
    return tuple(edit for edit in EDITS if can_comment or edit.do != "comment")


@pytest.fixture(scope="module")
def back(demo: Path, edits: tuple[CommitteeEdit, ...]) -> dict[str, Path]:
    """What was saved, by ending: one LibreOffice makes all edits once."""
    sent, told = demo / "committee.docx", demo / "edits.json"
    saved = {ending: demo / f"back{ending}" for ending in ENDINGS}
    assert main(["share", ID, str(demo), "--to", str(sent)]) == 0
    asked = [edit.asked for edit in edits]
    soffice = os.environ.get("PRESCRUB_SOFFICE") or shutil.which("soffice")
    targets = [str(path) for path in saved.values()]
    told.write_text(json.dumps({"soffice": soffice, "source": str(sent), "targets": targets, "edits": asked}))
    program = Path(__file__).with_name("word_processor.py")
    done = subprocess.run([_with_uno(), str(program), str(told)], capture_output=True, text=True, check=False)
    assert all(path.exists() for path in saved.values()), done.stderr
    return saved


@pytest.fixture(scope="module", params=ENDINGS)
def came(
    request: pytest.FixtureRequest, back: dict[str, Path], demo: Path
) -> tuple[CommitteeCopy, tuple[ReturnedItem, ...]]:
    """The copy and everything that came back in it."""
    name = back[request.param].name
    return came_back(read(demo)[0], name, read_bytes(demo, name, MAX_SOURCES_BYTES))


def _of(copy: CommitteeCopy, items: tuple[ReturnedItem, ...], id: str) -> list[ReturnedItem]:
    return [item for item in items if item.words == copy.by_name[id].words]


def test_there_are_sixty() -> None:
    assert len(EDITS) == 60
    assert {edit.do for edit in EDITS} == {
        "replace", "append", "bold", "comment", "delete", "empty", "new_paragraph", "split", "join", "move", "table",
        "delete_row", "insert_row", "merge_cells",
    }  # fmt: skip


def test_each_comes_back_to_its_key_or_is_refused_by_name(came, edits: tuple[CommitteeEdit, ...]) -> None:
    copy, items = came
    wrong = []
    for edit in edits:
        own = _of(copy, items, edit.id)
        if edit.outcome == "change":
            right = [one.sort for one in own] == [ReturnedSort.CHANGE] and edit.more["new"].strip() in own[0].after
        elif edit.outcome == "comment":
            right = any(one.sort is ReturnedSort.COMMENT and one.after == edit.more["new"] for one in own)
        elif edit.outcome == "nothing":
            right = not own
        elif edit.outcome == "put in below":
            right = any(one.why.startswith(f"it was put in below “{copy.by_name[edit.id].words}”") for one in items)
        else:
            told = [one for id in (edit.id, *edit.also) for one in _of(copy, items, id)]
            right = bool(told) and all(one.sort is ReturnedSort.TOLD and edit.outcome in one.why for one in told)
        wrong += [] if right else [(edit, own)]
    assert wrong == []


def test_nothing_else_came_back(came, edits: tuple[CommitteeEdit, ...]) -> None:
    copy, items = came
    touched = {copy.by_name[id].words for edit in edits for id in (edit.id, *edit.also)}
    assert [item for item in items if item.words not in touched | {"A new paragraph", "A table"}] == []


def test_who_marked_it_is_told(came, edits: tuple[CommitteeEdit, ...]) -> None:
    copy, items = came
    for edit in edits:
        if edit.outcome == "change":
            wanted = edit.author if edit.tracked else "somebody who did not track it"
            assert [item.by for item in _of(copy, items, edit.id)] == [wanted], edit


def test_the_markdown_differs_only_there(came, edits: tuple[CommitteeEdit, ...], demo: Path, tmp_path: Path) -> None:
    copy, items = came
    demo = Path(shutil.copytree(demo, tmp_path / "taken"))
    wanted = {path: path.read_text(encoding="utf-8") for path in demo.rglob("*.md")}
    for edit in edits:
        if edit.outcome == "change":
            path = demo / copy.by_name[edit.id].file
            old, new = edit.in_file or (edit.more["old"], edit.more["new"])
            key = copy.by_name[edit.id].pieces[-1].path
            wanted[path] = _with(wanted[path], edit.id, (old, new), key)
    accepted = {item.number for item in items if item.sort in (ReturnedSort.CHANGE, ReturnedSort.COMMENT)}
    take_in(read(demo)[0], copy, items, accepted)
    notes = demo / f"content/procedures/{ID}/notes.md"
    before = wanted.pop(notes)
    assert {path: path.read_text(encoding="utf-8") for path in demo.rglob("*.md") if path != notes} == wanted
    after = notes.read_text(encoding="utf-8")
    comments = [edit.more["new"] for edit in edits if edit.do == "comment"]
    assert after.startswith(before.rstrip())
    assert all(words in after.partition(TO_ANSWER)[2] for words in comments)
    assert [one for one in read(demo)[1] if one.severity.value == "error" and "not read" in one.message] == []


def _with(text: str, id: str, change: tuple[str, str], key: tuple[str | int, ...] | None) -> str:
    """Return ``text`` with the change made once, in the line of its key."""
    old, new = change
    name = str(key[-1]) if key else ""
    lines = text.splitlines(keepends=True)
    fitting = [number for number, line in enumerate(lines) if old.strip() in line]
    named = [number for number in fitting if lines[number].lstrip(" -{").startswith(f"{name}:")] or fitting
    if id.startswith("kit_"):
        named = [n for n in fitting if lines[n].strip().startswith(id.removeprefix("kit_").replace("_", " "))]
    lines[named[0]] = lines[named[0]].replace(old, new, 1)
    return "".join(lines)

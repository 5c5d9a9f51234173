"""Edited files are written whole, all of an edit or none, never over a change nobody saw, and can be undone."""

from __future__ import annotations

import errno
import hashlib
import json
import os
from pathlib import Path

import pytest

from builder.edit.file_change import FileChange
from builder.findings.finding import Refused
from builder.load.files import open_file
from builder.write.lock import UNDO_FOLDER, NotWritten
from builder.write.writer import ChangedUnderneath, forget_last, last_edit, recover, undo, write_files

CUT = "content/procedures/p/steps/cut.md"
NEW = "content/procedures/p/cautions/new.md"


@pytest.fixture
def root(tmp_path: Path) -> Path:
    path = tmp_path / CUT
    path.parent.mkdir(parents=True)
    path.write_bytes(b"\xef\xbb\xbfone\r\n")
    path.chmod(0o640)
    return tmp_path


def sha(text: str) -> str:
    return hashlib.sha256(text.encode()).hexdigest()


def everything(root: Path) -> dict[str, bytes]:
    return {str(path.relative_to(root)): path.read_bytes() for path in root.rglob("content/**/*") if path.is_file()}


def both(root: Path) -> dict[str, FileChange]:
    return {NEW: FileChange("new\n", None), CUT: FileChange("two\r\n", open_file(root, CUT).digest)}


def test_bytes_and_rights_stay(root: Path) -> None:
    opened = open_file(root, CUT)
    assert opened.text == "\ufeffone\r\n"
    assert opened.digest == sha("\ufeffone\r\n")
    write_files(root, {CUT: FileChange(opened.text.replace("one", "two"), opened.digest)}, "edited")
    assert (root / CUT).read_bytes() == b"\xef\xbb\xbftwo\r\n"
    assert (root / CUT).stat().st_mode & 0o777 == 0o640
    assert [path.name for path in (root / CUT).parent.iterdir()] == ["cut.md"]


def test_a_change_underneath_is_never_overwritten(root: Path) -> None:
    changes = both(root)
    (root / CUT).write_text("saved by somebody else")
    before = everything(root)
    with pytest.raises(ChangedUnderneath) as caught:
        write_files(root, changes, "edited")
    assert caught.value.files == [CUT]
    assert everything(root) == before
    assert last_edit(root) == ""


def test_a_new_file_never_replaces_one_that_is_there(root: Path) -> None:
    with pytest.raises(ChangedUnderneath):
        write_files(root, {CUT: FileChange("new", None)}, "made")


@pytest.mark.parametrize(
    ("call", "fails_at"), [("fsync", 1), ("fsync", 3), ("fsync", 4), ("rename", 1), ("replace", 1), ("replace", 2)]
)
def test_what_fails_half_way_puts_all_back(
    root: Path, monkeypatch: pytest.MonkeyPatch, call: str, fails_at: int
) -> None:
    before, changes, calls = everything(root), both(root), []
    real = getattr(os, call)

    def failing(*arguments: object) -> object:
        calls.append(arguments)
        if len(calls) == fails_at:
            raise OSError(28, os.strerror(28))
        return real(*arguments)

    monkeypatch.setattr(os, call, failing)
    with pytest.raises(NotWritten, match="No space"):
        write_files(root, changes, "edited")
    assert everything(root) == before
    assert not (root / NEW).parent.exists()
    assert last_edit(root) == ""
    assert not (root / UNDO_FOLDER).exists()


def test_undo_goes_back_step_by_step_even_after_a_restart(root: Path) -> None:
    first = everything(root)
    write_files(root, both(root), "added a caution")
    second = everything(root)
    write_files(root, {CUT: FileChange("three", open_file(root, CUT).digest)}, "edited the step")
    assert last_edit(root) == "edited the step"
    assert undo(root) == ("edited the step", [CUT])
    assert everything(root) == second
    label, files = undo(root)
    assert (label, sorted(files)) == ("added a caution", sorted([CUT, NEW]))
    assert everything(root) == first
    with pytest.raises(LookupError):
        undo(root)


def test_undo_does_not_undo_what_somebody_else_wrote(root: Path) -> None:
    write_files(root, both(root), "added a caution")
    (root / NEW).write_text("new, and better\n")
    before = everything(root)
    with pytest.raises(ChangedUnderneath):
        undo(root)
    assert everything(root) == before
    forget_last(root)
    assert last_edit(root) == ""


def test_undo_takes_new_folders_away_and_leaves_what_somebody_added_there(root: Path) -> None:
    write_files(root, {f"content/procedures/q/{name}.md": FileChange(name, None) for name in "ab"}, "drafted")
    assert undo(root)[0] == "drafted"
    assert not (root / "content/procedures/q").exists()
    write_files(root, both(root), "added a caution")
    (root / NEW).with_name("mine.md").write_text("mine")
    undo(root)
    assert [path.name for path in (root / NEW).parent.iterdir()] == ["mine.md"]


def test_what_is_no_text_comes_back_as_it_was(root: Path) -> None:
    figure, raw = "content/procedures/p/figures/a.png", bytes(range(256))
    write_files(root, {figure: FileChange(raw, None)}, "added")
    digest = hashlib.sha256(raw).hexdigest()
    write_files(root, {figure: FileChange(None, digest)}, "removed")
    assert undo(root) == ("removed", [figure])
    assert (root / figure).read_bytes() == raw


def test_what_has_no_label_is_never_undone(root: Path) -> None:
    write_files(root, both(root))
    with pytest.raises(LookupError):
        undo(root)
    assert not (root / UNDO_FOLDER).exists()


def test_a_folder_that_came_in_between_is_not_replaced(root: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    real = os.fsync

    def slow(handle: int) -> None:
        (root / "content/procedures/q").mkdir(exist_ok=True)
        (root / "content/procedures/q/theirs.md").write_text("somebody else's")
        real(handle)

    monkeypatch.setattr(os, "fsync", slow)
    with pytest.raises(ChangedUnderneath):
        write_files(root, {"content/procedures/q/mine.md": FileChange("mine", None)}, "drafted")
    assert [path.name for path in (root / "content/procedures/q").iterdir()] == ["theirs.md"]


def test_files_of_others_that_look_like_ours_stay(root: Path) -> None:
    others = [".cut.md.x1y2.part", ".prescrub-0011223344556677-0.part", "cut.md.part", "00000001.begun"]
    for name in others:
        (root / CUT).with_name(name).write_text("precious")
    write_files(root, both(root), "edited")
    recover(root)
    assert {path.name for path in (root / CUT).parent.iterdir()} == {"cut.md", *others}


def test_where_files_cannot_be_locked_nothing_is_cleared_away(root: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def refuse(*_: object) -> None:
        raise OSError(errno.ENOTSUP, os.strerror(errno.ENOTSUP))

    monkeypatch.setattr("portalocker.portalocker.LOCKER", refuse)
    begun = root / UNDO_FOLDER / "00000007.begun"
    begun.parent.mkdir()
    begun.write_text(json.dumps({"label": "x", "files": {CUT: {"before": "old", "after": sha("\ufeffone\r\n")}}}))
    write_files(root, both(root), "edited")
    assert begun.exists()
    assert undo(root)[0] == "edited"


def test_a_record_of_an_older_edition_is_undone_too(root: Path) -> None:
    (root / UNDO_FOLDER).mkdir()
    told = {"label": "before", "files": {CUT: {"before": "older", "after": sha("\ufeffone\r\n")}}}
    (root / UNDO_FOLDER / "00000003.edit").write_text(json.dumps(told))
    assert undo(root) == ("before", [CUT])
    assert (root / CUT).read_text() == "older"


def test_a_record_that_cannot_be_read_undoes_nothing(root: Path) -> None:
    (root / UNDO_FOLDER).mkdir()
    (root / UNDO_FOLDER / "00000003.edit").write_text("{")
    with pytest.raises(LookupError):
        undo(root)
    assert last_edit(root) == ""


def test_the_folder_of_undo_tells_git_to_pass_it_by(root: Path) -> None:
    write_files(root, both(root), "edited")
    assert (root / ".prescrub-undo" / ".gitignore").read_text() == "*\n"


@pytest.mark.parametrize(
    "name",
    [
        "../out.md",
        "content/../../out.md",
        "/etc/x.md",
        "content/x.py",
        "site_templates/x.md",
        "content/a/../b.md",
        "content/.hidden/a.md",
        "content/.a.md",
        "ledger/issued.jsonl",
        "content/a.md\n",
        "content//a.md",
    ],
)
def test_nothing_outside_the_content_is_written(root: Path, name: str) -> None:
    with pytest.raises(Refused):
        write_files(root, {name: FileChange("x", None)}, "edited")
    assert [path.name for path in root.parent.glob("*.md")] == []


def test_links_are_not_followed(root: Path, tmp_path_factory: pytest.TempPathFactory) -> None:
    elsewhere = tmp_path_factory.mktemp("elsewhere")
    (root / "content/shared").symlink_to(elsewhere)
    with pytest.raises(Refused):
        write_files(root, {"content/shared/cautions/x.md": FileChange("x", None)}, "edited")
    assert list(elsewhere.iterdir()) == []

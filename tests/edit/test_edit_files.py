"""Edited files are written whole, all of an edit or none, never over a change nobody saw, and can be undone."""

from __future__ import annotations

import hashlib
import os
from pathlib import Path

import pytest

from builder.findings.finding import Refused
from builder.write import edit_files
from builder.write.edit_files import ChangedUnderneath, FileChange, UndoLog, open_file, write_files

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
    assert UndoLog(root).last() == ""


def test_a_new_file_never_replaces_one_that_is_there(root: Path) -> None:
    with pytest.raises(ChangedUnderneath):
        write_files(root, {CUT: FileChange("new", None)}, "made")


@pytest.mark.parametrize("fails_at", [1, 2])
def test_what_fails_half_way_puts_all_back(root: Path, monkeypatch: pytest.MonkeyPatch, fails_at: int) -> None:
    before, changes, calls = everything(root), both(root), []
    replace = Path.replace

    def failing(self: Path, target: Path) -> Path:
        if str(target).endswith(".md") and self.suffix == ".part":
            calls.append(target)
            if len(calls) == fails_at:
                raise OSError(28, os.strerror(28))
        return replace(self, target)

    monkeypatch.setattr(Path, "replace", failing)
    with pytest.raises(OSError, match="No space"):
        write_files(root, changes, "edited")
    assert everything(root) == before
    assert not (root / NEW).parent.exists()
    assert UndoLog(root).last() == ""


def test_undo_goes_back_step_by_step_even_after_a_restart(root: Path) -> None:
    first = everything(root)
    write_files(root, both(root), "added a caution")
    second = everything(root)
    write_files(root, {CUT: FileChange("three", open_file(root, CUT).digest)}, "edited the step")
    assert UndoLog(root).last() == "edited the step"
    assert UndoLog(root).undo() == ("edited the step", [CUT])
    assert everything(root) == second
    label, files = UndoLog(root).undo()
    assert (label, sorted(files)) == ("added a caution", sorted([CUT, NEW]))
    assert everything(root) == first
    with pytest.raises(LookupError):
        UndoLog(root).undo()


def test_undo_does_not_undo_what_somebody_else_wrote(root: Path) -> None:
    write_files(root, both(root), "added a caution")
    (root / NEW).write_text("new, and better\n")
    before = everything(root)
    with pytest.raises(ChangedUnderneath):
        UndoLog(root).undo()
    assert everything(root) == before
    UndoLog(root).drop_last()
    assert UndoLog(root).last() == ""


def test_a_crash_between_two_moves_is_put_right_at_the_next_start(root: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    before = everything(root)

    def killed(root: Path, before: object, after: dict[str, bytes]) -> None:
        (root / NEW).parent.mkdir()
        (root / NEW).write_bytes(after[NEW])
        raise KeyboardInterrupt

    monkeypatch.setattr(edit_files, "_replace_all", killed)
    monkeypatch.setattr(UndoLog, "forget_last", lambda self: None)
    with pytest.raises(KeyboardInterrupt):
        write_files(root, both(root), "added a caution")
    assert everything(root) != before
    assert UndoLog(root).recover() == [NEW]
    assert everything(root) == before
    assert UndoLog(root).last() == ""


def test_the_folder_of_undo_tells_git_to_pass_it_by(root: Path) -> None:
    write_files(root, both(root), "edited")
    assert (root / ".prescrub-undo" / ".gitignore").read_text() == "*\n"


@pytest.mark.parametrize(
    "name",
    ["../out.md", "content/../../out.md", "/etc/x.md", "content/x.py", "site_templates/x.md", "content/a/../b.md"],
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

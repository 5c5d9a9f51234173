"""Every broken state of the files: the preview goes on, says what is wrong, and shows the last good state as old."""

from __future__ import annotations

import json
import os
import re
import shutil
from collections.abc import Callable
from hashlib import sha256
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import pytest
from department import read

from builder.preview import state
from builder.preview.press import NotSet, Paper
from builder.preview.state import Keeper
from builder.write.writer import UNDO_FOLDER

STEP = "content/procedures/example/steps/open-canal.md"
PROCEDURE = "content/procedures/example/procedure.md"
PAGE = "part/page/example"
TITLE = "Find the nerve, then open the canal"
Break = Callable[[Path], None]


def _write(name: str, content: bytes) -> Break:
    return lambda root: void((root / name).write_bytes(content))


def void(_: object) -> None:
    """Forget a result."""


def _half(root: Path) -> None:
    text = (root / STEP).read_bytes()
    (root / STEP).write_bytes(text[: text.index(b"actions:") + 4])


def _folder(root: Path) -> None:
    (root / STEP).unlink()
    (root / STEP).mkdir()


def _folder_with_file(root: Path) -> None:
    _folder(root)
    (root / STEP / "x.md").write_text("---\ntitle: x\n---\n")


def _link(root: Path) -> None:
    (root / STEP).rename(root / "elsewhere.md")
    (root / STEP).symlink_to(root / "elsewhere.md")


def _pipe(root: Path) -> None:
    (root / STEP).unlink()
    os.mkfifo(root / STEP)


BROKEN: dict[str, Break] = {
    "empty": _write(STEP, b""),
    "half-written": _half,
    "yaml-unclosed": _write(STEP, b"---\ntitle: [a, b\n---\n"),
    "no-front-matter": _write(STEP, b"Just words.\n"),
    "binary": _write(STEP, bytes(range(256)) * 40),
    "nul": _write(STEP, b"---\ntitle: a\0b\n---\n"),
    "utf-16": _write(STEP, "---\ntitle: x\n---\n".encode("utf-16")),
    "list": _write(STEP, b"---\n- a\n- b\n---\n"),
    "key-unknown": lambda root: void((root / STEP).write_bytes((root / STEP).read_bytes().replace(b"cue:", b"qeu:"))),
    "alias-bomb": _write(STEP, b"---\na: &a [x,x,x]\nb: &b [*a,*a,*a]\nc: [*b,*b,*b]\n---\n"),
    "too-large": _write(STEP, b"---\ntitle: x\n---\n" + b"x" * 600_000),
    "link": _link,
    "pipe": _pipe,
    "permission-lost": lambda root: (root / STEP).chmod(0),
    "procedure-broken": _write(PROCEDURE, b"---\ntitle: [\n---\n"),
    "department-broken": _write("content/department.md", b"---\nname: [\n---\n"),
    "department-missing": lambda root: (root / "content/department.md").unlink(),
    "catalogue-broken": _write("content/catalogue/structures.yml", b"- id: [\n"),
    "catalogue-binary": _write("content/catalogue/items.yml", b"\xff\xfe\x00"),
    "shared-broken": _write("content/shared/cautions/wrong-side.md", b"---\nsignal: loud\n---\n"),
    "sources-broken": lambda root: void(next(root.glob("references/*.bib")).write_bytes(b"@article{x, title = {")),
    "sources-binary": lambda root: void(next(root.glob("references/*.bib")).write_bytes(b"\xff\xfe\x00")),
    "folder-for-a-file-with-a-file": _folder_with_file,
    "content-deleted": lambda root: shutil.rmtree(root / "content"),
    "content-is-a-file": lambda root: (shutil.rmtree(root / "content"), void((root / "content").write_text("x")))[1],
    "all-deleted": shutil.rmtree,
    "procedure-deleted": lambda root: shutil.rmtree(root / "content/procedures/example"),
    "procedure-md-deleted": lambda root: (root / PROCEDURE).unlink(),
}  # fmt: skip


@pytest.mark.parametrize("name", BROKEN)
def test_the_last_good_page_is_shown_as_old_and_what_is_wrong_above_it(
    name: str, preview: Any, base: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(state, "_DELETING_SECONDS", 0.25)  # a busy machine may halt whoever deletes for a while
    before = preview.get(PAGE)
    assert before.status == 200
    assert 'class="pv-old"' not in before.text
    assert "ilioinguinal nerve" in before.text
    copy = base.parent / "copy"
    shutil.copytree(base, copy)
    number = preview.shop.state.number
    BROKEN[name](base)
    preview.until(lambda: preview.shop.state.number > number)
    broken = preview.get(PAGE)
    assert broken.status == 200
    assert "<b>Old:</b>" in broken.text
    assert TITLE in broken.text
    assert "pv-is-old" in broken.text
    assert preview.shop.state.findings, "a broken state is never silent"
    assert preview.get("").status == 200
    assert preview.get("part/overview").status == 200
    assert preview.get(f"file/{STEP}?line=3").status in (200, 404)
    # And back: nothing that was broken leaves a trace.
    number = preview.shop.state.number
    shutil.rmtree(base, ignore_errors=True)
    shutil.copytree(copy, base)
    preview.until(lambda: preview.shop.state.number > number and preview.get(PAGE).text == before.text)
    assert list(preview.shop.state.findings) == read(base)[1]


def test_a_folder_that_is_deleted_slowly_is_not_taken_for_one_that_was_tidied(
    base: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A copy over a network, or a large folder: a page goes each time that the preview waits a moment."""
    keeper = Keeper(base)
    left = sorted((base / "content").rglob("*"))

    def delete_one(_: float = 0) -> None:
        while left:
            path = left.pop()
            path.rmdir() if path.is_dir() else path.unlink()
            if path.suffix == ".md":
                return

    monkeypatch.setattr(state, "time", SimpleNamespace(monotonic=lambda: 0.0, sleep=delete_one))
    delete_one()
    found = keeper.look()
    assert left == []
    assert found.old
    assert TITLE in {str(step.title) for step in found.library.by_id["example"].steps.values()}


def test_what_was_killed_in_the_middle_of_an_edit_is_put_back_first(base: Path, preview_of: Any) -> None:
    before = (base / STEP).read_text()
    (base / STEP).write_text("---\ntitle: half of an edit\n---\n")
    change = {"before": before, "after": sha256((base / STEP).read_bytes()).hexdigest()}
    (base / UNDO_FOLDER).mkdir()
    (base / UNDO_FOLDER / "00000001.begun").write_text(json.dumps({"label": "edited", "files": {STEP: change}}))
    preview = preview_of(base)
    assert (base / STEP).read_text() == before
    assert preview.shop.state.findings == ()


def test_what_the_preview_finds_is_what_check_finds(preview: Any, base: Path) -> None:
    for break_it in (BROKEN["half-written"], BROKEN["department-missing"], BROKEN["sources-broken"]):
        break_it(base)
        preview.shop.saved()
        assert list(preview.shop.state.findings) == read(base)[1]


@pytest.mark.parametrize("name", ["sources-broken", "sources-binary"])
def test_the_references_stay_while_their_list_cannot_be_read(name: str, preview: Any, base: Path) -> None:
    listed = re.findall(r'<li id="ref-.*', preview.get(PAGE).text)
    assert listed
    BROKEN[name](base)
    preview.shop.saved()
    broken = preview.get(PAGE).text
    assert re.findall(r'<li id="ref-.*', broken) == listed
    assert "references/" in broken[broken.index("<b>Old:</b>") : broken.index("</div>")]


def test_a_file_that_never_could_be_read_is_said_to_be_missing(base: Path, preview_of: Any) -> None:
    (base / STEP).write_bytes(b"---\ntitle: [\n---\n")
    preview = preview_of(base)
    text = preview.get(PAGE).text
    assert "it is missing here" in text
    assert "You see it as it last was." not in text


def test_a_step_that_is_taken_out_is_gone_at_once(preview: Any, base: Path) -> None:
    """The control of all above: what is meant to be gone is not kept."""
    assert "step-check-side" in preview.get(PAGE).text
    path = base / PROCEDURE
    path.write_text(path.read_text().replace("  - check-side\n", ""))
    (base / "content/procedures/example/steps/check-side.md").unlink()
    preview.shop.saved()
    text = preview.get(PAGE).text
    assert 'id="step-check-side"' not in text
    assert "<b>Old:</b>" not in text


@pytest.mark.usefixtures("set_here")
def test_the_card_is_shown_as_it_was(preview: Any, base: Path) -> None:
    good = preview.get("part/card/example").text
    assert good.count("<img") == 2
    (base / STEP).write_bytes(b"")
    preview.shop.saved()
    old = preview.get("part/card/example").text
    assert "<b>Old:</b>" in old
    assert old.count("<img") == 2


@pytest.mark.usefixtures("set_here")
def test_a_card_that_does_not_fit_says_by_how_much_and_the_last_one_stays(preview: Any, base: Path) -> None:
    assert preview.get("part/card/example").text.count("<img") == 2
    for path in (base / "content/procedures/example/cautions").glob("*.md"):
        text = path.read_text()
        path.write_text(text.replace("hazard: ", "hazard: " + "Keep away from it in every way. " * 120))
    preview.shop.saved()
    answer = preview.get("part/card/example")
    assert answer.status == 200
    assert "does not fit" in answer.text or "too long" in answer.text
    assert answer.text.count("<img") == 2
    assert "pv-is-old" in answer.text


def test_a_template_of_the_department_that_fails_leaves_the_last_page(preview: Any, base: Path) -> None:
    good = preview.get(PAGE)
    folder = base / "site_templates" / "site"
    folder.mkdir(parents=True)
    (folder / "page.html.j2").write_text("{{ nothing_of_that_name }}")
    preview.shop.saved()
    answer = preview.get(PAGE)
    assert answer.status == 200
    assert "The page cannot be made" in answer.text
    assert "pv-is-old" in answer.text
    (folder / "page.html.j2").unlink()
    preview.shop.saved()
    assert preview.get(PAGE).text == good.text


def test_the_process_that_sets_type_may_die(preview: Any) -> None:
    first = preview.shop.press.paper(preview.shop.state.library, "example", "card")
    assert isinstance(first, Paper)
    for process in preview.shop.press.processes._pool._processes.values():
        process.kill()
    second = preview.shop.press.paper(preview.shop.state.library, "example", "card", as_file=True)
    assert isinstance(second, Paper)
    assert second.content.startswith(b"%PDF")


def test_an_output_that_fails_is_told_in_words(preview: Any) -> None:
    found = preview.shop.press.paper(preview.shop.state.library, "example", "no-such-output")
    assert isinstance(found, NotSet)


def test_a_fault_of_our_own_is_told_and_looking_goes_on(preview: Any, monkeypatch: pytest.MonkeyPatch) -> None:
    def fails() -> None:
        raise RuntimeError("on purpose")

    keeper = preview.shop._keeper
    real = keeper.look
    monkeypatch.setattr(keeper, "look", fails)
    preview.shop.saved()
    assert "prescrub itself failed" in preview.get(PAGE).headers["x-prescrub-said"]
    monkeypatch.setattr(keeper, "look", real)
    preview.shop.saved()
    assert preview.get(PAGE).headers["x-prescrub-said"] == "nothing to put right"


def test_a_change_is_seen_where_the_system_tells_nothing(base: Path, preview_of: Any, monkeypatch: Any) -> None:
    """A full table of watches (inotify) raises OSError; then the folder is looked at from time to time."""

    def full(*_: object, **__: object) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr("watchdog.observers.api.BaseObserver.schedule", full)
    preview = preview_of(base)
    assert not preview.shop._watch.hears
    number = preview.shop.state.number
    (base / STEP).write_bytes((base / STEP).read_bytes() + b"\nOne more line.\n")
    preview.until(lambda: preview.shop.state.number > number)


@pytest.mark.usefixtures("set_here")
def test_a_paper_is_set_once_whatever_was_worked_out_in_between(preview: Any, base: Path) -> None:
    first = preview.get("part/card/example").text
    preview.get(PAGE)
    assert preview.get("part/card/example").text == first
    assert len(preview.shop.press._kept) == 1
    # A saved file: the paper is begun before the check, and what is asked for afterwards is that one.
    (base / STEP).write_text((base / STEP).read_text().replace(TITLE, "Seek the nerve"))
    preview.shop.saved()
    assert len(preview.shop.press._kept) == 2
    preview.get(PAGE)
    assert preview.get("part/card/example").text != first
    assert len(preview.shop.press._kept) == 2

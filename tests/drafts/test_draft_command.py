"""``prescrub draft``: asks or reads, writes a whole folder or nothing, and says what it did."""

from __future__ import annotations

import errno
import io
import os
import re
import shutil
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from department import family, read
from publishing import fingerprint

from builder.cli import main
from builder.edit.operations import confirmed
from builder.write import draft_files
from drafts import results

OUTLINE = results.HERE / "sources" / "trigger-finger.md"


@pytest.fixture
def root(tmp_path: Path) -> Path:
    """A fresh copy of the department for drafts."""
    return Path(shutil.copytree(results.DEPARTMENT, tmp_path / "department"))


class _Terminal(io.StringIO):
    def isatty(self) -> bool:
        return True


@pytest.fixture
def answer(monkeypatch: pytest.MonkeyPatch) -> Callable[[str], _Terminal]:
    """Sit at a terminal and type ``lines``."""

    def typed(lines: str) -> _Terminal:
        screen = _Terminal()
        monkeypatch.setattr("sys.stdin", _Terminal(lines))
        monkeypatch.setattr("sys.stdout", screen)
        return screen

    return typed


def test_report_says_what_was_found_and_what_to_do_next(root: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["draft", "Trigger finger release", str(root), "--from", str(OUTLINE)]) == 0
    shown = capsys.readouterr()
    assert shown.err == ""
    assert shown.out.startswith(
        "Drafted content/procedures/trigger-finger-release/ from the outline: 12 steps, 11 actions, 2 cautions, "
    )
    for line in (
        "   8. Divide the A1 pulley along its whole length with the scissors",
        "        divide A1 pulley, with dissecting scissors",
        "  warning: Never cut into the A2 pulley.",
        f"  prescrub check {root} --ask > questions.md",
        f"  prescrub check {root} ",
    ):
        assert line in shown.out
    files = sorted(path.name for path in (root / "content/procedures/trigger-finger-release").iterdir())
    assert files == ["aftercare", "cautions", "notes.md", "procedure.md", "steps", "told.yml"]


def test_commands_it_names_run(root: Path, capsys: pytest.CaptureFixture[str]) -> None:
    main(["draft", "Trigger finger release", str(root), "--from", str(OUTLINE)])
    capsys.readouterr()
    assert main(["check", str(root), "--ask"]) == 0
    assert "## Divide the A1 pulley along its whole length with the scissors" in capsys.readouterr().out
    assert main(["check", str(root)]) == 1
    found = capsys.readouterr().out
    assert "proposed-not-confirmed" in found
    # Its only error is clinical: what is asked of a text that somebody has confirmed is not asked of a proposal.
    assert re.findall(r": error ([a-z-]+)", found) == ["skin-closed-uncounted"]


def test_new_draft_is_asked_the_gravest_questions_first(root: Path, capsys: pytest.CaptureFixture[str]) -> None:
    main(["draft", "Trigger finger release", str(root), "--from", str(OUTLINE)])
    capsys.readouterr()
    assert main(["check", str(root), "--ask"]) == 0
    sheet = capsys.readouterr().out
    own = sheet[sheet.index("# Trigger finger release") :]
    asked = [re.findall(r"^### ([a-z_.0-9]+):", step, re.MULTILINE) for step in own.split("\n## ")[1:]]
    assert sum(map(len, asked)) == 25
    assert "The 25 gravest are here" in own
    assert max(map(len, asked)) <= 3
    assert len({tuple(keys) for keys in asked}) > 2


def test_answers_to_its_questions_go_back_into_the_steps(root: Path, tmp_path: Path) -> None:
    from builder.edit.interview_sheet import ask
    from builder.write.fill import fill

    main(["draft", "Trigger finger release", str(root), "--from", str(OUTLINE)])
    before, after = ask(read(root)[0]).split("steps/divide-a1-pulley-along-whole.md", 1)
    question = "What do you see, feel or hear that tells you this step is done?\n"
    sheet = f"{before}steps/divide-a1-pulley-along-whole.md" + after.replace(question, f"{question}\nIt glides.\n", 1)
    changes, findings = fill(root, sheet)
    assert ([(one.key, one.words) for one in changes], findings) == ([("cue", "It glides.")], [])
    step = read(root)[0].procedures[0].steps["divide-a1-pulley-along-whole"]
    assert (step.cue, step.proposed, len(step.actions)) == ("It glides.", True, 1)


def test_existing_procedure_is_never_touched(root: Path, capsys: pytest.CaptureFixture[str]) -> None:
    main(["draft", "Trigger finger release", str(root), "--from", str(OUTLINE)])
    before = fingerprint(root)
    capsys.readouterr()
    assert main(["draft", "Trigger  Finger: release!", str(root), "--from", str(OUTLINE)]) == 2
    assert "exists already. Choose another title" in capsys.readouterr().err
    assert fingerprint(root) == before


@pytest.mark.parametrize("kind", ["file", "dangling link", "empty folder"])
def test_whatever_stands_there_is_never_touched(kind: str, root: Path, capsys: pytest.CaptureFixture[str]) -> None:
    target = root / "content/procedures/new"
    target.parent.mkdir()
    if kind == "file":
        target.write_text("mine", encoding="utf-8")
    elif kind == "dangling link":
        target.symlink_to(root / "nowhere")
    else:
        target.mkdir()
    assert main(["draft", "New", str(root), "--from", str(OUTLINE)]) == 2
    assert "exists already" in capsys.readouterr().err
    assert [path.name for path in target.parent.iterdir()] == ["new"]


def test_disk_that_fills_up_leaves_nothing_behind(
    root: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    written = []

    def full(handle: int) -> None:
        written.append(handle)
        if len(written) > 5:
            raise OSError(errno.ENOSPC, "No space left on device")

    monkeypatch.setattr(os, "fsync", full)
    before = fingerprint(root)
    assert main(["draft", "New", str(root), "--from", str(OUTLINE)]) == 2
    assert "could not be written (No space left on device)" in capsys.readouterr().err
    assert fingerprint(root) == before


def test_folder_that_came_in_between_is_not_replaced(
    root: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    real = draft_files.pages

    def slow(*told: Any) -> dict[str, str]:
        (root / "content/procedures/new").mkdir(parents=True)
        (root / "content/procedures/new/procedure.md").write_text("somebody else's", encoding="utf-8")
        return real(*told)

    monkeypatch.setattr(draft_files, "pages", slow)
    assert main(["draft", "New", str(root), "--from", str(OUTLINE)]) == 2
    assert "exists already" in capsys.readouterr().err
    assert [path.name for path in (root / "content/procedures").iterdir()] == ["new"]
    assert (root / "content/procedures/new/procedure.md").read_text(encoding="utf-8") == "somebody else's"


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (["draft"], "TITLE (the title of the procedure, in quotation marks) is missing"),
        (["draft", "!!!"], "gives no name for a folder"),
        (["draft", "手術"], "gives no name for a folder"),
        (["draft", "New", "nowhere"], "is not a folder"),
        (["draft", "New", "."], "holds no content/"),
    ],
)
def test_wrong_call_is_refused(
    arguments: list[str], said: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.chdir(tmp_path)
    assert main(arguments) == 2
    assert said in capsys.readouterr().err
    assert list(tmp_path.iterdir()) == []


def test_without_terminal_and_without_file_it_says_what_to_do(root: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["draft", "New", str(root)]) == 2
    assert "Name what to draft from: --from FILE" in capsys.readouterr().err


def test_questions_on_a_terminal_make_a_procedure(root: Path, answer: Callable[[str], _Terminal]) -> None:
    screen = answer(
        "hand surgery\nRosalind Amberley\nconsultant hand surgeon\neither\nminor theatre\n"
        "A thick tendon catches.\n\n"
        "The side is marked.\n\n"
        "scalpel\n2 artery forceps\n\n"
        "Inject lidocaine into the palm skin\nOpen the palm skin\nIdentify the digital nerves\nDivide the A1 pulley\n\n"
        "The digital nerves lie close to the midline\n\n"
        "Take the bandage off after two days\n\n"
    )
    assert main(["draft", "Trigger finger", str(root)]) == 0
    assert "What are the steps, in order? One a line." in screen.getvalue()
    library, findings = read(root)
    (procedure,) = library.procedures
    assert (procedure.specialty, procedure.owner.name, procedure.owner.role) == (
        "hand surgery", "Rosalind Amberley", "consultant hand surgeon",
    )  # fmt: skip
    assert (procedure.side, procedure.setting) == ("either", "minor theatre")
    assert procedure.before_you_start == ("The side is marked.",)
    assert dict(procedure.kit) == {"scalpel blade": 1, "artery forceps": 2, "lidocaine": 1}
    assert [str(one.title) for one in procedure.steps.values()] != []
    assert len(procedure.steps) == 4
    assert len(procedure.cautions) == 1
    assert len(procedure.aftercare_items) == 1
    assert procedure.body.source.strip() == "A thick tendon catches."
    assert [one for one in findings if family(one) in ("format", "files")] == []


def test_every_question_but_the_steps_can_be_skipped(root: Path, answer: Callable[[str], _Terminal]) -> None:
    answer("\n\n\n\n\n\n\n\nOpen the skin\nClose the skin\n")  # and then the end of input
    assert main(["draft", "Short", str(root)]) == 0
    library, _ = read(root)
    assert [str(entry) for entry in library.procedures[0].steps] == ["close-skin", "open-skin"]


def test_no_answer_at_all_writes_nothing(
    root: Path, answer: Callable[[str], _Terminal], capsys: pytest.CaptureFixture[str]
) -> None:
    answer("\n" * 11)
    before = fingerprint(root)
    assert main(["draft", "Short", str(root)]) == 1
    assert fingerprint(root) == before


def test_stopping_in_the_middle_writes_nothing(
    root: Path, answer: Callable[[str], _Terminal], monkeypatch: pytest.MonkeyPatch
) -> None:
    answer("hand surgery\n")
    asked = []

    def stop(prompt: str) -> str:
        asked.append(prompt)
        if len(asked) > 3:
            raise KeyboardInterrupt
        return "x"

    monkeypatch.setattr("builtins.input", stop)
    before = fingerprint(root)
    assert main(["draft", "Short", str(root)]) == 3
    assert fingerprint(root) == before


def test_confirming_takes_the_marks_out_and_nothing_else(root: Path, capsys: pytest.CaptureFixture[str]) -> None:
    main(["draft", "Trigger finger release", str(root), "--from", str(OUTLINE)])
    folder = root / "content/procedures/trigger-finger-release"
    step = folder / "steps/divide-a1-pulley-along-whole.md"
    before = step.read_text(encoding="utf-8")
    others = {path: path.read_bytes() for path in folder.rglob("*.md") if path != step}
    capsys.readouterr()
    assert main(["draft", str(root), "--confirm", str(step)]) == 0
    assert capsys.readouterr().out == f"{step.relative_to(root).as_posix()}: 2 confirmed\n"
    after = step.read_text(encoding="utf-8")
    assert [line for line in before.split("\n") if "proposed: true" not in line] == after.split("\n")
    assert {path: path.read_bytes() for path in others} == others
    assert main(["draft", str(root), "--confirm", "content/procedures/trigger-finger-release"]) == 0
    assert [one for one in read(root)[1] if one.name == "proposed-not-confirmed"] == []
    capsys.readouterr()
    assert main(["draft", str(root), "--confirm", "content/procedures/trigger-finger-release"]) == 0
    assert capsys.readouterr().out == "Nothing there is proposed.\n"


@pytest.mark.parametrize("path", ["content/department.md", "/etc/passwd", "content/procedures/none", "../x.md"])
def test_only_pages_of_the_department_are_confirmed(path: str, root: Path, capsys: pytest.CaptureFixture[str]) -> None:
    before = fingerprint(root)
    assert main(["draft", str(root), "--confirm", path]) == 2
    assert "prescrub: " in capsys.readouterr().err
    assert fingerprint(root) == before


@pytest.mark.parametrize(
    ("before", "after", "marks"),
    [
        ("---\ntitle: A\nproposed: true\n---\nproposed: true\n", "---\ntitle: A\n---\nproposed: true\n", 1),
        ("---\r\ntitle: A\r\nproposed: true # later\r\n---\r\n", "---\r\ntitle: A\r\n---\r\n", 1),
        ("---\nactions:\n  - {open: skin, proposed: true}\n---\n", "---\nactions:\n  - {open: skin}\n---\n", 1),
        ("---\nactions:\n  - {proposed: true, open: skin}\n---\n", "---\nactions:\n  - {open: skin}\n---\n", 1),
        ("---\ntitle: A\nproposed: false\n---\n", "---\ntitle: A\nproposed: false\n---\n", 0),
        ("---\ncue: 'it says proposed: true'\n---\n", "---\ncue: 'it says proposed: true'\n---\n", 0),
    ],
)
def test_marks_are_taken_out_of_front_matter_only(before: str, after: str, marks: int) -> None:
    assert confirmed(before, "step") == (after, marks)


def test_a_page_that_cannot_be_read_stops_all(root: Path, capsys: pytest.CaptureFixture[str]) -> None:
    main(["draft", "Trigger finger release", str(root), "--from", str(OUTLINE)])
    step = root / "content/procedures/trigger-finger-release/steps/divide-a1-pulley-along-whole.md"
    step.write_text(step.read_text().replace("title: ", "title: ["))
    before = fingerprint(root / "content")
    capsys.readouterr()
    assert main(["draft", str(root), "--confirm", "content/procedures/trigger-finger-release"]) == 2
    assert "divide-a1-pulley-along-whole.md: the front matter cannot be read" in capsys.readouterr().err
    assert fingerprint(root / "content") == before

"""``prescrub start``: a department from nothing that checks without an error, or nothing at all."""

from __future__ import annotations

import builtins
import os
import re
import shlex
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

from builder.cli import main
from builder.commands.start import launchers, left_in

OUTLINE = "# Steps\n1. Open the skin with a blade\n2. Find the lump\n3. Count the blades\n4. Close the skin\n"


@pytest.fixture
def outline(tmp_path: Path) -> str:
    path = tmp_path / "outline.md"
    path.write_text(OUTLINE, encoding="utf-8")
    return str(path)


def answered(monkeypatch: pytest.MonkeyPatch, *lines: str) -> None:
    """Answer the questions as on a terminal; after the last line the input ends."""
    left = iter(lines)

    def answer(_: str) -> str:
        try:
            return next(left)
        except StopIteration:
            raise EOFError from None

    monkeypatch.setattr(sys.stdin, "isatty", lambda: True, raising=False)
    monkeypatch.setattr(sys.stdout, "isatty", lambda: True, raising=False)
    monkeypatch.setattr(builtins, "input", answer)


def test_everything_given_on_the_command_line(tmp_path: Path, outline: str, capsys: pytest.CaptureFixture[str]) -> None:
    folder = str(tmp_path / "ours")
    called = ["--call", "ward, extension 0006", "--call", "duty surgeon: day, 0001", "--approver", "clinical lead"]
    given = ["--name", 'Surgery: "Ours"', *called, "--procedure", "Open lumpectomy", "--from", outline]
    assert main(["start", folder, *given]) == 0
    assert "4 steps" in capsys.readouterr().out
    assert main(["check", folder]) == 0
    assert "error" not in capsys.readouterr().out
    page = (tmp_path / "ours/content/department.md").read_text(encoding="utf-8")
    assert "role: 'duty surgeon: day'\n  number: '0001'" in page
    assert [path.name for path in (tmp_path / "ours/content/procedures").iterdir()] == ["open-lumpectomy"]
    assert sorted(path.name for path in tmp_path.iterdir()) == ["ours", "outline.md"]


def test_everything_asked(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> None:
    asked = ["Surgery", "ward 0006", "", "ward, 0006", "", "clinical lead", "", "Open lumpectomy"]
    draft = ["general surgery", "Ada Example", "consultant", "", "", "", "", "", "Open the skin", "Close the skin", ""]
    answered(monkeypatch, *asked, *draft)
    assert main(["start", str(tmp_path / "ours")]) == 0
    out = capsys.readouterr().out
    assert "'ward 0006' has no role and number with a comma between" in out
    assert "2 steps" in out
    assert main(["check", str(tmp_path / "ours")]) == 0


def test_what_is_needed_is_asked_again_and_no_answer_is_lost(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    asked = ["", "Surgery", "ward, 0006", "", "", "", "!", "Open lumpectomy"]
    draft = ["", "", "", "", "", "", "", "", "", "", "Divide the omphalomesenteric flap", "", "", ""]
    answered(monkeypatch, *asked, *draft)
    assert main(["start", str(tmp_path / "ours")]) == 0
    out = capsys.readouterr().out
    assert out.startswith("Name, operation and at least one step are needed; an empty line skips any other question")
    assert out.count("An answer is needed here") == 4
    assert "'!' gives no name for a folder" in out
    assert "omphalomesenteric flap" in out.partition("Not understood")[2]
    assert "write the action that names it into its step" in out
    assert "draft again" not in out
    assert "number: '0006'" in (tmp_path / "ours/content/department.md").read_text(encoding="utf-8")
    # Its name is proposed with its action, so the analysis asks at once what the words left unsaid.
    assert main(["check", str(tmp_path / "ours")]) == 1
    assert "not-seen-before-cut" in capsys.readouterr().out


@pytest.mark.parametrize(
    "wrong", [["--from", "nowhere.md"], ["--procedure", "!"], ["--call", "ward 6"]], ids=lambda wrong: wrong[0]
)
def test_what_is_given_wrongly_is_said_before_anything_is_asked(
    wrong: list[str], tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    answered(monkeypatch)
    assert main(["start", str(tmp_path / "ours"), *wrong]) in (1, 2)
    assert capsys.readouterr().out == ""


@pytest.mark.parametrize(
    ("given", "says"),
    [
        ([], "--name TEXT"),
        (["--name", "Surgery"], "--procedure TEXT"),
        (["--name", "Surgery", "--procedure", "Open lumpectomy"], "--from FILE"),
        (["--name", "Surgery", "--procedure", "Open lumpectomy", "--call", "ward 6"], "comma between"),
        (["--name", "Surgery", "--procedure", "!", "--from", "OUTLINE"], "gives no name for a folder"),
        (["--name", "Surgery", "--procedure", "Open lumpectomy", "--from", "nowhere.md"], "nowhere.md"),
    ],
)
def test_what_is_missing_leaves_nothing(
    given: list[str], says: str, tmp_path: Path, outline: str, capsys: pytest.CaptureFixture[str]
) -> None:
    words = [outline if word == "OUTLINE" else word for word in given]
    assert main(["start", str(tmp_path / "ours"), *words]) in (1, 2)
    assert says in capsys.readouterr().err
    assert [path.name for path in tmp_path.iterdir()] == ["outline.md"]


def test_a_folder_with_something_in_it_is_left_alone(
    tmp_path: Path, outline: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["start", str(tmp_path), "--name", "Surgery", "--procedure", "Lump", "--from", outline]) == 2
    assert "is there already and is not empty" in capsys.readouterr().err
    assert [path.name for path in tmp_path.iterdir()] == ["outline.md"]


def test_an_empty_folder_is_filled(tmp_path: Path, outline: str) -> None:
    folder = tmp_path / "ours"
    folder.mkdir()
    assert main(["start", str(folder), "--name", "Surgery", "--procedure", "Lump", "--from", outline]) == 0
    assert (folder / "content/department.md").is_file()


def test_the_talk_of_the_readme_begins_a_department(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    root = Path(__file__).parents[1]
    talk = "examples/hemithyroidectomy.vtt"
    assert f"--from {talk}" in (root / "README.md").read_text(encoding="utf-8")
    ends = re.findall(r"--> (\d\d):", (root / talk).read_text(encoding="utf-8"))
    assert ends[-1] == "09"  # it takes ten minutes
    given = ["--name", "Neck surgery", "--procedure", "Hemithyroidectomy", "--from", str(root / talk)]
    assert main(["start", str(tmp_path / "ours"), *given]) == 0
    steps = re.search(r"(\d+) steps", capsys.readouterr().out)
    assert steps
    assert int(steps[1]) >= 12  # as many as it announces
    assert main(["check", str(tmp_path / "ours"), "--ask"]) == 0
    assert "middle thyroid vein" in capsys.readouterr().out


def test_a_file_is_left_to_double_click_and_opens_the_preview(tmp_path: Path) -> None:
    folder = tmp_path / 'our "own" $folder'
    folder.mkdir()
    files = launchers("linux", sys.executable, folder)
    shutil.copytree(Path(__file__).parent / "base", folder, dirs_exist_ok=True)
    said = left_in(folder, "linux", sys.executable, folder)
    assert "open-preview.sh or open-preview.desktop" in said
    line = next(line for line in files["open-preview.desktop"].splitlines() if line.startswith("Exec="))
    # The Desktop Entry Specification: a value is unescaped first, then its quoted words.
    words = shlex.split(line.removeprefix("Exec=").replace("\\\\", "\\").replace("%%", "%"))
    words = [word.replace("\\$", "$") for word in words]  # which a shell's words do not, but the specification does
    assert words == [sys.executable, "-m", "builder", "preview", str(folder)]
    environment = {**os.environ, "PYTHONPATH": str(Path(__file__).parents[1]), "BROWSER": "true"}
    with subprocess.Popen(
        [str(folder / "open-preview.sh")], env=environment, stdout=subprocess.PIPE, text=True
    ) as process:
        assert process.stdout is not None
        assert process.stdout.readline().startswith("Preview: http://127.0.0.1:")
        process.terminate()


@pytest.mark.parametrize(("platform", "name"), [("darwin", "open-preview.command"), ("win32", "open-preview.bat")])
def test_files_for_other_systems_are_written_and_said_to_be_untried(tmp_path: Path, platform: str, name: str) -> None:
    said = left_in(tmp_path, platform, "/opt/python", tmp_path)
    assert name in said
    assert "was not tried" in said
    assert "-m builder preview ." in (tmp_path / name).read_text()

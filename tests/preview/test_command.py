"""``prescrub preview`` as a person starts and ends it."""

from __future__ import annotations

import os
import re
import signal
import socket
import subprocess
import sys
from pathlib import Path

import pytest

from builder.cli import main


def _started(*words: str) -> tuple[subprocess.Popen[str], str]:
    command = [sys.executable, "-m", "builder", "preview", *words, "--no-browser"]
    process = subprocess.Popen(command, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True)
    assert process.stdout
    line = process.stdout.readline()
    return process, line


@pytest.mark.skipif(os.name == "nt", reason="a signal cannot be sent so on Windows")
@pytest.mark.parametrize("number", [signal.SIGINT, signal.SIGTERM])
def test_ctrl_c_ends_it_calmly(base: Path, number: int) -> None:
    process, line = _started(str(base))
    assert re.fullmatch(r"Preview: http://127\.0\.0\.1:\d+/[\w-]+/enter/[\w-]+\n", line)
    process.send_signal(number)
    out, err = process.communicate()
    assert process.returncode == 0
    assert err == ""
    assert out.endswith("The preview has ended. What was saved can still be taken back the next time.\n")


def test_the_port_can_be_chosen_and_a_taken_one_is_said(base: Path, capsys: pytest.CaptureFixture[str]) -> None:
    with socket.socket() as taken:
        taken.bind(("127.0.0.1", 0))
        taken.listen()
        port = taken.getsockname()[1]
        assert main(["preview", str(base), "--no-browser", "--port", str(port)]) == 2
    assert f"Port {port} cannot be used" in capsys.readouterr().err
    process, line = _started(str(base), "--port", str(port))
    process.terminate()
    process.communicate()
    assert f"http://127.0.0.1:{port}/" in line


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (["nowhere"], "nowhere is not a folder"),
        ([".", "--port", "70000"], "70000 is not a port"),
        ([".", "--editor", "javascript:{path}"], "is no editor's address"),
        ([".", "--editor", "someeditor"], "does not say where the file's name goes"),
    ],
)
def test_what_is_called_wrongly_is_said(words: list[str], said: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["preview", *words, "--no-browser"]) == 2
    assert said in capsys.readouterr().err


def test_a_folder_that_is_no_department_is_shown_with_what_is_wrong(tmp_path: Path, preview_of: object) -> None:
    preview = preview_of(tmp_path)  # type: ignore[operator]
    text = preview.get("part/overview").text
    assert "There is no procedure that can be read." in text
    assert "content/department.md is missing" in text

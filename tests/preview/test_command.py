"""``prescrub preview`` as a person starts and ends it."""

from __future__ import annotations

import html
import os
import re
import signal
import socket
import subprocess
import sys
from collections.abc import Callable
from email.message import Message
from http.client import parse_headers
from pathlib import Path
from typing import Any
from urllib.parse import urlencode, urlsplit

import patience
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


@pytest.mark.skipif(os.name == "nt", reason="a signal cannot be sent so on Windows")
def test_ctrl_c_ends_it_while_browsers_listen_and_the_terminal_told_nothing_of_them(base: Path) -> None:
    started, line = _started(str(base))
    address = urlsplit(line.split()[1])
    home = address.path.partition("/enter/")[0]
    connection = socket.create_connection((address.hostname, address.port))
    with started as process, connection as tab, tab.makefile("rb") as answers:

        def asked(path: str, cookie: str = "") -> Message:
            tab.sendall(f"GET {path} HTTP/1.1\r\nHost: {address.netloc}\r\nCookie: {cookie}\r\n\r\n".encode())
            assert answers.readline().startswith(b"HTTP/1.1 ")
            return parse_headers(answers)

        entered = asked(address.path)
        answers.read(int(entered["Content-Length"]))
        cookie = entered["Set-Cookie"].partition(";")[0]
        answers.read(int(asked(f"{home}/nowhere", cookie)["Content-Length"]))
        asked(f"{home}/changes", cookie)
        assert answers.readline().startswith(b"data: "), "a tab listens"
        process.send_signal(signal.SIGINT)
        assert process.stdout
        assert process.stderr
        out, err = process.stdout.read(), process.stderr.read()
    assert process.wait(patience.SECONDS) == 0
    assert err == ""
    assert [said.partition(":")[0] for said in out.splitlines() if said] == [
        "The address lets one browser in, once. End with Ctrl-C.",
        "The preview has ended. What was saved can still be taken back the next time.",
    ]


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
        ([".", "--editor", "javascript:{path}"], "is not an editor's address"),
        ([".", "--editor", "someeditor"], "does not say where the file's name goes"),
    ],
)
def test_what_is_called_wrongly_is_said(words: list[str], said: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["preview", *words, "--no-browser"]) == 2
    assert said in capsys.readouterr().err


def answered_first(preview: Any, **fields: str) -> Any:
    body = urlencode({"name": "", "calls": "", "approvers": "", **fields}).encode()
    headers = {"Content_Type": "application/x-www-form-urlencoded"}
    return preview.send("POST", f"{preview.shop.home}/begin", body, **headers)


def test_in_an_empty_folder_a_department_is_begun(tmp_path: Path, preview_of: Callable[..., Any]) -> None:
    preview = preview_of(tmp_path)
    assert "What is your department called?" in preview.get("").text
    calls = "duty surgeon: day, extension 0001\nward, 0006\n"
    answer = answered_first(preview, name='Surgery: "Ours" & theirs', calls=calls, approvers="clinical lead")
    assert (answer.status, answer.headers["location"]) == (303, f"{preview.shop.home}/new")
    assert main(["check", str(tmp_path)]) == 0
    department = preview.shop.state.library.department
    assert department.name == 'Surgery: "Ours" & theirs'
    assert [(str(one.role), str(one.number)) for one in department.call] == [
        ("duty surgeon: day", "extension 0001"),
        ("ward", "0006"),
    ]
    first = preview.get("part/overview").text
    assert "No procedure yet. Begin with what you have." in first
    assert "pv-note" not in first


@pytest.mark.parametrize(
    ("fields", "said"),
    [
        ({"name": "  "}, "Write what your department is called."),
        ({"name": "Surgery", "calls": "ward 0006"}, "has no role and number with a comma between"),
    ],
)
def test_what_is_missing_of_a_department_is_said_and_nothing_is_written(
    fields: dict[str, str], said: str, tmp_path: Path, preview_of: Callable[..., Any]
) -> None:
    preview = preview_of(tmp_path)
    answer = answered_first(preview, **fields)
    assert answer.status == 422
    assert said in html.unescape(answer.text)
    assert fields.get("calls", "") in answer.text
    assert not list(tmp_path.glob("content"))


def test_where_the_folder_leads_elsewhere_nothing_is_begun(tmp_path: Path, preview_of: Callable[..., Any]) -> None:
    elsewhere, root = tmp_path / "elsewhere", tmp_path / "department"
    elsewhere.mkdir()
    root.mkdir()
    (root / "content").symlink_to(elsewhere)
    answer = answered_first(preview_of(root), name="Surgery")
    assert answer.status == 422
    assert "pv-refused" in answer.text
    assert not list(elsewhere.iterdir())


def test_a_department_that_is_there_is_never_begun_again(preview: Any) -> None:
    before = (preview.root / "content/department.md").read_bytes()
    answer = answered_first(preview, name="Another")
    assert answer.status == 422
    assert (preview.root / "content/department.md").read_bytes() == before

"""``prescrub start``: a department from nothing, with its first procedure begun."""

from __future__ import annotations

import argparse
import os
import re
import shlex
import shutil
import sys
import tempfile
from collections.abc import Callable
from functools import partial
from pathlib import Path, PurePath
from typing import TYPE_CHECKING, TypeVar

from builder.commands.common import HOW_TO_ANSWER, NOTHING_BLOCKS, CalledWrongly, asks_here, empty, lines_asked
from builder.commands.draft import begun, nameless, source_named
from builder.write.lock import NotWritten
from builder.write.new_department import call_of, write_department

if TYPE_CHECKING:
    from builder.load.told.draft_source import Source

T = TypeVar("T")
_TRIED = "linux"
"""Where a test runs the file to double-click. Those for macOS and Windows are written by the rules of those systems (a
shell script that ends in .command; a batch file), and have not been tried on one."""


def run(arguments: argparse.Namespace) -> int:
    """Ask what is not given, then write the whole folder, or nothing, and say what to do next."""
    target = Path(arguments.folder)
    _refuse_full(target)
    # All that is given is looked at before anything is asked, so that no answer is lost by it.
    given = [_call(line) for line in arguments.call or ()]
    if arguments.procedure and (wrong := nameless(arguments.procedure)):
        raise CalledWrongly(wrong)
    source = source_named(arguments.source) if arguments.source else None
    if asks_here():
        sys.stdout.write(HOW_TO_ANSWER.format("Name, operation and at least one step are"))
    name = _one(arguments.name, "--name", "What is your department called?", empty)
    calls = given or _many(None, "Whom do you call when it goes wrong? Role and number, with a comma between.", _call)
    approvers = _many(arguments.approver, "Who may approve what is written here? Give roles, not names.", str)
    title = _one(arguments.procedure, "--procedure", "Which operation do you write first?", nameless)
    source = source or source_named(None)
    report = _made(target, partial(write_department, name=name, calls=calls, approvers=approvers), title, source)
    sys.stdout.write(f"{arguments.folder} is ready: content/department.md, references/, and the first procedure.\n")
    sys.stdout.write(report)
    return NOTHING_BLOCKS


def _made(target: Path, write: Callable[[Path], None], title: str, source: Source) -> str:
    """Make the folder under a name of its own and move it into place; return what the draft reports."""
    try:
        target.parent.mkdir(parents=True, exist_ok=True)
        made = Path(tempfile.mkdtemp(prefix=f".{target.name}-", dir=target.parent))
    except OSError as error:
        raise NotWritten(f"{target} cannot be made ({error.strerror or error}).") from error
    try:
        write(made)
        opens = left_in(made, sys.platform, sys.executable, target.resolve())
        report = f"{opens}\n{begun(made, title, source, str(target))}"
        made.chmod(0o777 & ~_umask())
        made.replace(target)
    except OSError as error:
        raise NotWritten(f"{target} cannot be made ({error.strerror or error}).") from error
    finally:
        shutil.rmtree(made, ignore_errors=True)
    return report


def _umask() -> int:
    mask = os.umask(0)
    os.umask(mask)
    return mask


def _refuse_full(target: Path) -> None:
    if target.exists() and not (target.is_dir() and not any(target.iterdir())):
        raise CalledWrongly(f"{target} is there already and is not empty. Name a new folder.")


def _one(given: str | None, option: str, question: str, refused: Callable[[str], str]) -> str:
    otherwise = f"Write it on the command line: {option} TEXT"
    answers = [given] if given else lines_asked(question, False, otherwise, refused)[0]
    if not "".join(answers).strip():
        raise CalledWrongly(f"{question} There was no answer, so nothing was written.")
    return " ".join(answers[0].split())


def _many(given: list[str] | None, question: str, read: Callable[[str], T]) -> list[T]:
    if given or not asks_here():
        return [read(line) for line in given or ()]
    answers: list[T] = []
    lines = lines_asked(question, True)[0]
    while lines:
        try:
            answers = [read(line) for line in lines]
            break
        except CalledWrongly as error:
            lines = lines_asked(f"{error} All of them again, please.", True)[0]
    return answers


def _call(line: str) -> dict[str, str]:
    try:
        return call_of(line)
    except ValueError as error:
        raise CalledWrongly(str(error)) from None


def launchers(platform: str, python: str, folder: PurePath) -> dict[str, str]:
    """Return the text of each file for ``platform`` (as ``sys.platform`` names it), by its name.

    ``python`` is the program that runs this one, ``folder`` where the department will be.
    """
    if platform == "win32":
        lines = ["@echo off", 'cd /d "%~dp0"', f'"{python}" -m builder preview .', "pause"]
        return {"open-preview.bat": "\r\n".join([*lines, ""])}
    shell = f'#!/bin/sh\ncd "$(dirname "$0")" && exec {shlex.quote(python)} -m builder preview .\n'
    if platform == "darwin":
        return {"open-preview.command": shell}
    entry = [
        "[Desktop Entry]", "Type=Application", "Name=Open the preview", "Terminal=true",
        f"Exec={_quoted(python)} -m builder preview {_quoted(str(folder))}",
    ]  # fmt: skip
    return {"open-preview.sh": shell, "open-preview.desktop": "\n".join([*entry, ""])}


def _quoted(word: str) -> str:
    """Return a word as the Desktop Entry Specification 1.5 quotes it in ``Exec``."""
    inner = re.sub(r'(["`$\\])', r"\\\1", word).replace("\\", "\\\\").replace("%", "%%")
    return f'"{inner}"'


def left_in(made: Path, platform: str, python: str, folder: PurePath) -> str:
    """Write the files into the folder ``made``; return what is said about them."""
    files = launchers(platform, python, folder)
    for name, text in files.items():
        path = made / name
        path.write_bytes(text.encode())
        path.chmod(0o755)
    tried = "" if platform == _TRIED else " It is written for this system, and was not tried on one."
    return f"Double-click {' or '.join(files)} there to open it in the browser.{tried}\n"

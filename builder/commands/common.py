"""What the commands share: the folder, reading it, and showing findings."""

from __future__ import annotations

import os
import sys
from collections.abc import Callable, Iterable, Mapping
from dataclasses import replace
from datetime import date
from pathlib import Path
from shutil import get_terminal_size
from typing import TYPE_CHECKING, Any, TextIO

from builder.commands.formats import json, sarif, terminal
from builder.commands.formats.laid_out import laid_out
from builder.findings.finding import Finding, Refused
from builder.findings.message_words import quoted
from builder.load import limits
from builder.load.files import read_text
from builder.place import Place
from builder.write.lock import UNDO_FOLDER

if TYPE_CHECKING:
    from builder.model.library import Library
    from builder.model.pages import Procedure

NOTHING_BLOCKS, ERRORS_FOUND, CALLED_WRONGLY, TOOL_FAILED = 0, 1, 2, 3


class CalledWrongly(Exception):
    """The command cannot be carried out as it was called; the text says why and what to do."""


def examined(folder: str, today: date | None = None) -> tuple[Library, list[Finding]]:
    """Read and check the department in ``folder``. Raises CalledWrongly where there is no such folder."""
    # Imported here because it takes longer than a check whose findings are kept from the last one.
    from builder import pipeline  # noqa: PLC0415

    return pipeline.examined(department(folder), today)


def shown_in(library: Library, findings: Iterable[Finding]) -> list[Finding]:
    """Return ``findings`` with the places in files of a parent as they are found from the department's folder."""

    def shown(at: Place) -> Place:
        parent = library.department.parent
        if at.file not in library.lent or parent is None:
            return at
        folder, name = library.lent[at.file]
        above = parent.archive or parent.wheel or os.path.relpath(folder, library.root).replace(os.sep, "/")
        return at._replace(file=f"{above}/{name}")

    return [
        replace(made, at=shown(made.at), also=tuple(replace(second, at=shown(second.at)) for second in made.also))
        for made in findings
    ]


def is_department(folder: str) -> bool:
    """Tell whether ``folder`` holds a department."""
    return (Path(folder) / "content").is_dir()


def department(folder: str) -> Path:
    """Return the path of ``folder``, put right after a writer that was killed. Raises CalledWrongly where none is."""
    root = Path(folder)
    if not root.is_dir():
        raise CalledWrongly(f"{folder} is not a folder. Name the folder that holds content/ and references/.")
    if (root / UNDO_FOLDER).is_dir():
        from builder.write.writer import recover  # noqa: PLC0415  # most departments need it never

        recover(root)
    return root


def procedure_named(library: Library, id: str) -> Procedure:
    """Return the procedure ``id`` of ``library``. Raises CalledWrongly where there is none."""
    procedure = library.by_id.get(id)
    if procedure is None:
        known = ", ".join(sorted(library.by_id)) or "none yet"
        raise CalledWrongly(f"There is no procedure {quoted(id)}. Use one of: {known}.")
    return procedure


def read_given(name: str) -> str:
    """Return the text of a file named on the command line. Raises CalledWrongly where it cannot be read."""
    path = Path(name)
    try:
        return read_text(path.parent, path.name, limits.MAX_SOURCES_BYTES)
    except Refused as refusal:
        raise CalledWrongly(f"{refusal.finding.message}. {refusal.finding.hint}") from None


def as_text(findings: list[Finding], root: Path | None, stream: TextIO) -> str:
    """Return findings as ``stream`` shows them: wrapped and coloured on a terminal, or as wide as COLUMNS says."""
    is_terminal = stream.isatty()
    width = get_terminal_size().columns if is_terminal or os.environ.get("COLUMNS") else None

    def lines_of(name: str) -> list[str]:
        try:
            return read_text(root, name, limits.MAX_SOURCES_BYTES).splitlines() if root else []
        except Refused:
            return []

    return laid_out(findings, lines_of, width, terminal.wants_colour(is_terminal, os.environ), sort=root is not None)


def show(
    findings: list[Finding],
    form: str | None = None,
    coverage: Mapping[str, Any] | None = None,
    root: Path | None = None,
) -> None:
    """Print findings in the form that was asked for, by default as text with the lines of ``root`` they stand in."""
    if form == "json":
        sys.stdout.write(json.render(findings, coverage))
    elif form in (None, "text"):
        sys.stdout.write(as_text(findings, root, sys.stdout))
    else:
        sys.stdout.write(sarif.render(findings, under_repository(root) if root else ""))


def under_repository(root: Path) -> str:
    """Return where the department in ``root`` lies in the repository that holds it; "" at its top, and without one."""
    folder = root.resolve()
    top = next((one for one in (folder, *folder.parents) if (one / ".git").exists()), folder)
    return "" if top == folder else folder.relative_to(top).as_posix()


HOW_TO_ANSWER = (
    "{} needed; an empty line skips any other question, or ends a list. Nothing is written before the last one.\n"
)


def asks_here() -> bool:
    """Tell whether there is a terminal to ask questions on."""
    return sys.stdin.isatty() and sys.stdout.isatty()


def empty(line: str) -> str:
    """Return what to say of an empty answer where one is needed; "" of any other."""
    return "" if line else "An answer is needed here."


def lines_asked(
    question: str, many: bool, otherwise: str = "", refused: Callable[[str], str] | None = None
) -> tuple[list[str], bool]:
    """Ask on the terminal; return the lines of the answer, and whether the input ended with it.

    An empty line skips the question, or ends a list. It is asked again while ``refused`` says of the first line why it
    is not an answer. Raises CalledWrongly, with what to do ``otherwise``, where there is no terminal.
    """
    if not asks_here():
        raise CalledWrongly(f"There is no terminal to ask you questions on. {otherwise}.")
    sys.stdout.write(f"\n{question}{' One a line.' if many else ''}\n")
    lines: list[str] = []
    try:
        while True:
            line = input("> ").strip()
            if refused and not lines and (why := refused(line)):
                sys.stdout.write(f"{why}\n")
                continue
            if line:
                lines.append(line)
            if not (line and many):
                break
    except EOFError:
        sys.stdout.write("\n")
        return lines, True
    return lines, False

"""The first files of a department: its page with names and numbers, and an empty list of sources."""

from collections.abc import Sequence
from pathlib import Path
from typing import Any

import yaml

from builder.edit.file_change import FileChange
from builder.findings.message_words import quoted
from builder.write.writer import write_files

PAGE = "content/department.md"
_FRONT_PAGE = """
This is teaching material. It does not know your patient. Local policy and the supervising clinician decide.
Check every dose in your local formulary.
"""
_SOURCES = "references/sources.bib"
_NO_SOURCE = "% The sources that your claims rest on. `prescrub sources add FILE` puts exported records here.\n"


def call_of(line: str) -> dict[str, str]:
    """Return whom to call, written as ``role, number``. Raises ValueError that says what is wrong."""
    role, comma, number = (part.strip() for part in line.rpartition(","))
    if not (role and comma and any(sign.isdigit() for sign in number)):
        message = f"{quoted(line)} has no role and number with a comma between, such as: ward, extension 0006."
        raise ValueError(message)
    return {"role": role, "number": number}


def write_department(root: Path, name: str, calls: Sequence[dict[str, str]], approvers: Sequence[str]) -> None:
    """Write them into the folder ``root``; sources that are there already stay. Raises what ``write_files`` raises."""
    front: dict[str, Any] = {"name": name, "approvers": list(approvers), "call": list(calls)}
    shown = {key: value for key, value in front.items() if value}
    text = yaml.safe_dump(shown, allow_unicode=True, sort_keys=False, width=120)
    files = {PAGE: f"---\n{text}---\n# {name}\n{_FRONT_PAGE}"}
    if not (root / _SOURCES).exists():
        files[_SOURCES] = _NO_SOURCE
    write_files(root, {file: FileChange(words.encode(), None) for file, words in files.items()})

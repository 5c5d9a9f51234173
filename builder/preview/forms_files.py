"""Which file a form is for, what is wrong in a text that is to be written, and what belongs together."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

from pydantic import ValidationError

from builder.edit.file_text import FileText
from builder.edit.value_at import path_at
from builder.edit.values import CannotEdit, Path, Value
from builder.findings.finding import Finding, Refused
from builder.load.frontmatter import read_values, split
from builder.load.prose import EMPTY
from builder.model.json_schema import KINDS
from builder.model.validation import findings_of
from builder.place import BODY_KEY, ID_KEY, WHERE_KEY, Place, Text, Where
from builder.preview.forms_shapes import shape_of
from builder.preview.forms_words import words_of

FOLDERS = {"step": "steps", "caution": "cautions", "aftercare": "aftercare"}
_FILE = re.compile(
    r"content/(?:procedures/(?P<procedure>[a-z0-9-]+)|shared)/"
    r"(?:(?P<folder>steps|cautions|aftercare)/(?P<id>[a-z0-9-]+)\.md|(?P<head>procedure)\.md)"
)
_KINDS = {folder: kind for kind, folder in FOLDERS.items()}
_FILL = "This must be filled in."


@dataclass(frozen=True, slots=True)
class FormFile:
    """A file that has a form: its ``kind``, its ``procedure`` ("" for what is shared) and its ``id``."""

    file: str
    kind: str
    procedure: str
    id: str


def target_of(file: str) -> FormFile | None:
    """Return what the form of ``file`` is for; None where there is none."""
    match = _FILE.fullmatch(file)
    if match is None or (match["head"] and not match["procedure"]):
        return None
    if match["head"]:
        return FormFile(file, "procedure", match["procedure"], match["procedure"])
    return FormFile(file, _KINDS[match["folder"]], match["procedure"] or "", match["id"])


def problems_of(text: str, target: FormFile) -> list[tuple[Path, str]]:
    """Return what is wrong with ``text`` as the file of ``target``, each with its place; nothing where it fits."""
    normal = text.removeprefix("\ufeff").replace("\r\n", "\n").replace("\r", "\n")
    try:
        parts = split(normal, target.file)
        value, findings = read_values(parts.front, target.file, first_line=2)
    except Refused as refusal:
        return [((), _told(refusal.finding))]
    value = value if value is not None else {WHERE_KEY: Where(Place(target.file))}  # type: ignore[dict-item]
    if not isinstance(value, dict):
        return [((), "The front matter is no list of `key: value` lines.")]
    sheet = FileText.cut(normal)
    found = [_placed(sheet, one) for one in (*findings, *_misfits(value, target))]
    # The validator's findings name one missing key a place; in a form each has a field of its own.
    required = [(part.key,) for part in shape_of(target.kind).parts if part.is_required and part.key not in value]
    named = [path for path, _ in found]
    return found + [(path, _FILL) for path in required if path not in named]


def _misfits(value: dict[str, Any], target: FormFile) -> list[Finding]:
    start = Place(target.file)
    where = value[WHERE_KEY]
    hidden = {WHERE_KEY: where.starting(start), ID_KEY: Text(target.id, start), BODY_KEY: EMPTY}
    try:
        KINDS[target.kind].validate_python({**value, **hidden})
    except ValidationError as error:
        return findings_of(error, value, start, target.kind)
    return []


def _placed(sheet: FileText, one: Finding) -> tuple[Path, str]:
    path = safe_path(sheet, one)
    return ((*path, one.key), _FILL) if one.name == "key-missing" else (path, _told(one))


def _told(one: Finding) -> str:
    return f"{one.message[:1].upper()}{one.message[1:]}. {one.hint}"


def safe_path(sheet: FileText, one: Finding) -> Path:
    """Return which value the finding concerns; ``("prose",)`` for the text below, ``()`` where none is meant."""
    front_lines = sheet.front.replace("\r\n", "\n").replace("\r", "\n").count("\n")
    if one.at.line > sheet.first_line + front_lines:
        return ("prose",)
    try:
        return path_at(sheet, one.at.line, one.at.column)
    except CannotEdit:
        return ()


def label_of(kind: str, path: Path) -> str:
    """Return what the form calls the field at ``path``."""
    return words_of(kind, str(path[0])).label if path else ""


def sequence_place(data: Value, step: str, path: Path = ("sequence",)) -> tuple[Path, int] | None:
    """Return the list of a sequence in which ``step`` stands, and where; None where it does not."""
    for where, listed in _lists(data, path):
        if step in listed:
            return where, listed.index(step)
    return None


def _lists(value: Value, path: Path) -> Iterator[tuple[Path, list[Value]]]:
    if isinstance(value, dict):
        for key, inner in value.items():
            yield from _lists(inner, (*path, key))
    elif isinstance(value, list):
        yield path, value
        for number, inner in enumerate(value):
            yield from _lists(inner, (*path, number))

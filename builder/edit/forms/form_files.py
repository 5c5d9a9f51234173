"""Which file a form is for, what is wrong in a text that is to be written, and what a form's work comes to."""

from collections.abc import Callable, Collection, Iterator, Mapping
from dataclasses import dataclass
from typing import Any

import yaml
from pydantic import ValidationError

from builder.edit.file_change import CannotEdit, FileChange, Path, Unfit, Value
from builder.edit.file_text import FileText, keep_lines, plain_ends
from builder.edit.forms.field_words import in_form
from builder.edit.forms.form_shapes import shape_of
from builder.edit.operations import CATALOGUES
from builder.findings.finding import Finding, Refused
from builder.findings.message_words import capital
from builder.load.files import OpenedFile
from builder.load.folder import ID, kind_of
from builder.load.frontmatter import read_values, split
from builder.load.prose import EMPTY
from builder.model.json_schema import KINDS
from builder.model.validation import findings_of
from builder.place import BODY_KEY, ID_KEY, WHERE_KEY, Place, Text, Where

FOLDERS = {"step": "steps", "caution": "cautions", "aftercare": "aftercare"}
_FILL = "This must be filled in."


@dataclass(frozen=True, slots=True)
class FormFile:
    """A file that has a form: its ``kind``, its ``procedure`` ("" for what is shared) and its ``id``."""

    file: str
    kind: str
    procedure: str
    id: str


@dataclass(frozen=True, slots=True)
class FormFolder:
    """The department's folder as the forms see it: the ``names`` of its files, and how one is opened (or Refused)."""

    names: Collection[str]
    open: Callable[[str], OpenedFile]


@dataclass(frozen=True, slots=True)
class FormEdit:
    """What is to be written, what that does in words, and the file whose form comes next."""

    changes: Mapping[str, FileChange]
    label: str
    go: str


def target_of(file: str) -> FormFile | None:
    """Return what the form of ``file`` is for; None where there is none."""
    kind, procedure, id = kind_of(file)
    if kind not in ("department", "procedure", *FOLDERS) or not all(
        ID.fullmatch(part) for part in (procedure, id) if part
    ):
        return None
    return FormFile(file, kind, procedure, procedure if kind == "procedure" else id)


def refuse_misfits(text: str, target: FormFile) -> None:
    """Raise Unfit with what is wrong in ``text`` as the file of ``target``."""
    problems = problems_of(text, target)
    if problems:
        raise Unfit(*problems)


def problems_of(text: str, target: FormFile) -> list[tuple[Path, str]]:
    """Return what is wrong with ``text`` as the file of ``target``, each with its place; nothing where it fits."""
    normal = plain_ends(text)
    sheet = FileText.cut(normal, target.kind in CATALOGUES)
    try:
        front = sheet.front if target.kind in CATALOGUES else split(normal, target.file).front
        value, findings = read_values(front, target.file, sheet.first_line)
    except Refused as refusal:
        return [((), _told(refusal.finding))]
    if target.kind not in CATALOGUES:
        value = value if value is not None else {WHERE_KEY: Where(Place(target.file))}  # type: ignore[dict-item]
        if not isinstance(value, dict):
            return [((), "The front matter is not a list of `key: value` lines.")]
    found = [_placed(sheet, in_form(one, target.kind)) for one in (*findings, *_misfits(value, target))]
    # The validator's findings name one missing key a place; in a form each has a field of its own.
    held = value if isinstance(value, dict) else {part.key for part in shape_of(target.kind).parts}
    required = [(part.key,) for part in shape_of(target.kind).parts if part.is_required and part.key not in held]
    named = [path for path, _ in found]
    return found + [(path, _FILL) for path in required if path not in named]


def _misfits(value: Any, target: FormFile) -> list[Finding]:
    start = Place(target.file)
    if isinstance(value, dict):
        where = value[WHERE_KEY].starting(start)
        value = {**value, WHERE_KEY: where, ID_KEY: Text(target.id, start), BODY_KEY: EMPTY}
    try:
        KINDS[target.kind].validate_python(value)
    except ValidationError as error:
        return findings_of(error, value, start, target.kind)
    return []


def _placed(sheet: FileText, one: Finding) -> tuple[Path, str]:
    path = path_of(sheet, one)
    return ((*path, one.key), _FILL) if one.name == "key-missing" else (path, _told(one))


def _told(one: Finding) -> str:
    return capital(f"{one.message}. {one.hint}")


def path_of(sheet: FileText, one: Finding) -> Path:
    """Return which value the finding is about; ``("prose",)`` for the text below, ``()`` where none is meant.

    Of a missing key it is the mapping that lacks it.
    """
    lines = keep_lines(sheet.front)
    number = one.at.line - sheet.first_line
    if number > len(lines):
        return ("prose",)
    if not 0 <= number < len(lines):
        return ()
    index = sum(map(len, lines[:number])) + one.at.column - 1
    path: list[str | int] = []
    try:
        node = sheet.root
        while node is not None and not (one.name == "key-missing" and node.start_mark.index == index):
            part, node = _inside(sheet, node, index)
            path += [] if part is None else [part]
    except CannotEdit:
        return ()
    return tuple(path)


def _inside(sheet: FileText, node: yaml.Node, index: int) -> tuple[str | int | None, yaml.Node | None]:
    """Return the key or number of what stands at ``index`` inside ``node``, and its node; None for nothing there."""
    entries: Iterator[tuple[str | int, yaml.Node, yaml.Node]] = iter(())
    if isinstance(node, yaml.MappingNode):
        entries = ((str(key.value), key, value) for key, value in node.value)
    elif isinstance(node, yaml.SequenceNode):
        entries = ((number, value, value) for number, value in enumerate(node.value))
    fitting = (
        (part, value) for part, first, value in entries if first.start_mark.index <= index <= sheet.content_end(value)
    )
    return next(fitting, (None, None))


def place_in_sequence(data: Value, step: str, path: Path = ("sequence",)) -> tuple[Path, int] | None:
    """Return the list of a sequence in which ``step`` stands, and where; None where it does not."""
    if isinstance(data, list) and step in data:
        return path, data.index(step)
    inner = data.items() if isinstance(data, dict) else enumerate(data) if isinstance(data, list) else ()
    places = (place_in_sequence(value, step, (*path, part)) for part, value in inner)
    return next((place for place in places if place), None)

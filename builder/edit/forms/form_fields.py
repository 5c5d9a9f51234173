"""What the template of a form sees: fields with their words, values, findings, and empty rows to be added."""

from __future__ import annotations

import json
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

from builder.edit.file_change import CannotEdit, Path, Value, at
from builder.edit.file_text import FileText
from builder.edit.forms.field_words import ENTRY_WORDS, KEY_NAMED, ONE, SECTIONS, in_form, words_of
from builder.edit.forms.form_files import FormFile, path_of
from builder.edit.forms.form_shapes import FieldShape, FormKey, entry_shapes, shape_of
from builder.edit.forms.form_trees import Misfit, Tree, tree_of
from builder.edit.forms.saving import shown_prose
from builder.edit.operations import proposed_in
from builder.findings.finding import Finding
from builder.findings.message_words import listed

_SELF_SPOKEN = ("side", "what", "number")
"""Parts of an action whose value says enough without its name."""
_ALWAYS_OPEN = 5
_NOT_ASKED = ("id", "close_to", "not_close_to", "also", "off")
_PROSE = FormKey("prose", FieldShape("text"))
_NEW = "\0new"
"""Begins the path of what is not in the file."""


@dataclass
class Field:
    """One field, ready to be shown. ``blank`` names the template of a new row; ``origin`` is JSON, as rows send it."""

    key: str
    kind: str
    label: str
    path: Path
    help: str = ""
    pick: str = ""
    size: str = "line"
    one: str = ""
    value: Any = ""
    is_required: bool = False
    options: tuple[str, ...] = ()
    parts: list[Field] = field(default_factory=list)
    rows: list[Field] = field(default_factory=list)
    origin: str = "null"
    name: str = ""
    entry: str = ""
    blank: str = ""
    findings: list[Finding] = field(default_factory=list)
    is_proposed: bool = False
    said_by: str = ""
    is_filled: bool = False


@dataclass
class FormSection:
    """Fields under one heading. What is not ``is_open`` is folded away, and ``filled`` says what lies in it."""

    heading: str
    fields: list[Field]
    is_open: bool
    filled: str = ""


def _filled(fields: list[Field]) -> str:
    rows = sum(len(one.rows) for one in fields)
    return str(rows) if rows else "filled in" if any(one.is_filled for one in fields) else ""


@dataclass(frozen=True)
class FormPage:
    """One form. ``findings`` are those that belong to no field; ``blanks`` are empty rows to be copied, by name;
    ``said_by`` is which of several experts said it, in words."""

    title: str
    sections: list[FormSection]
    blanks: Mapping[str, Field]
    findings: Sequence[Finding] = ()
    is_proposed: bool = False
    said_by: str = ""


def new_page(kind: str, data: Mapping[str, Value]) -> FormPage:
    """Return the form of something new of ``kind``, with ``data`` filled in already."""
    maker = FieldMaker()
    sections = maker.sections(kind, data, "")
    for one in _every_field(sections):
        one.origin = "null"
    return FormPage(f"A new {kind}{' item' if kind == 'aftercare' else ''}", sections, maker.blanks)


def shown_page(target: FormFile, text: str, findings: Sequence[Finding]) -> FormPage:
    """Return the form of the file of ``target``, each finding beside its field. Raises CannotEdit where it has none."""
    sheet = FileText.cut(text)
    _ = sheet.root  # refuses what cannot be edited at all
    data = sheet.data if sheet.data is not None else {}
    if not isinstance(data, dict):
        raise CannotEdit("the front matter is not a list of `key: value` lines", "Mend it in the text.", 2)
    maker = FieldMaker()
    sections = maker.sections(target.kind, data, shown_prose(sheet))
    proposed = set(proposed_in(data))
    # That something is proposed is said above the page and at each action, with the button that confirms it.
    places = [(path_of(sheet, one), one) for one in findings]
    rest = maker.place(
        (maker.mended_at(one, path), in_form(one, target.kind)) for path, one in places if path not in proposed
    )
    for one in _every_field(sections):
        one.is_proposed = (*one.path, "proposed") in proposed
        one.said_by = _said_by(data, one.path)
    for section in sections:
        section.is_open = section.is_open or any(one.findings for one in _every_field([section]))
    title = str(data.get("title") or data.get("hazard") or target.id)
    return FormPage(title, sections, maker.blanks, rest, bool(proposed), _said_by(data, ()))


def _said_by(data: Value, path: Path) -> str:
    """Return in words which experts said what stands at ``path``; "" where that is not written."""
    try:
        who = at(data, (*path, "said_by"))
    except LookupError:
        return ""
    return listed([str(name) for name in who] if isinstance(who, list) else [str(who)])


class FieldMaker:
    """Makes the fields of one form."""

    def __init__(self) -> None:
        self.by_path: dict[Path, Field] = {}
        self.blanks: dict[str, Field] = {}
        self._made: set[str] = set()

    def sections(self, kind: str, data: Mapping[str, Value], prose: str) -> list[FormSection]:
        """Return the form of a file of ``kind``."""
        parts = {part.key: part for part in (*shape_of(kind).parts, _PROSE)}
        held = {**data, _PROSE.key: prose}
        sections = []
        for number, (heading, keys) in enumerate(SECTIONS[kind]):
            fields = [self._part(parts[key], held.get(key), kind) for key in keys if key in parts]
            sections.append(FormSection(heading, fields, number < _ALWAYS_OPEN, _filled(fields)))
        return sections

    def entry(self, shape: FieldShape, owner: str) -> list[Field]:
        """Return the fields of a new entry of a catalogue; what else can be said of it is written there."""
        return [self._part(part, None, owner) for part in shape.parts if part.key not in _NOT_ASKED]

    def _part(self, part: FormKey, value: Value, owner: str) -> Field:
        found = self.field(part.shape, value, owner, (part.key,))
        found.is_required = part.is_required
        return found

    def field(self, shape: FieldShape, value: Value, owner: str, path: Path) -> Field:
        """Return the field of what stands at ``path``; where the form cannot show it, one that only says so."""
        try:
            tree = tree_of(shape, value, path)
        except Misfit:
            words = words_of(owner, str(path[-1]))
            found = Field(str(path[-1]), "fixed", words.label, path, is_filled=True)
            self.by_path[path] = found
            return found
        return self._field(shape, tree, owner, path)

    def _field(self, shape: FieldShape, tree: Tree, owner: str, path: Path) -> Field:
        key = str(path[-1])
        words = words_of(owner, key)
        found = Field(key, shape.kind, words.label, path, words.help, words.pick, words.size, ONE.get(key, "row"), tree)
        found.options = shape.options
        if shape.kind in ("group", "citation", "action"):
            self._fill_group(found, shape, tree, path)
        elif shape.kind in ("rows", "named"):
            self._fill_rows(found, shape, tree, owner, path)
        else:
            found.is_filled = bool(tree)
        self.by_path[path] = found
        return found

    def _fill_group(self, found: Field, shape: FieldShape, tree: Tree, path: Path) -> None:
        for part in shape.parts:
            inner = self._field(part.shape, tree[part.key], shape.owner, (*path, part.key))
            inner.is_required = part.is_required
            found.parts.append(inner)
        found.is_filled = any(part.is_filled for part in found.parts)

    def _fill_rows(self, found: Field, shape: FieldShape, tree: Tree, owner: str, path: Path) -> None:
        assert shape.item is not None
        found.kind = "sequence" if shape.item.kind == "entry" else found.kind
        found.blank = "entry" if found.kind == "sequence" else f"{owner}-{found.key}"
        for row in tree:
            at = tuple(row["from"])
            inner = self._row(shape.item, row["value"], owner, (*path[:-1], found.key, at[-1]), found)
            inner.origin = json.dumps(row["from"])
            inner.name = row.get("key", "")
            found.rows.append(inner)
        found.is_filled = bool(found.rows)
        if found.blank not in self._made:
            self._made.add(found.blank)
            self._add_blank(shape.item, owner, found)

    def _row(self, item: FieldShape, tree: Tree, owner: str, path: Path, list_field: Field) -> Field:
        """Return one row; what it is called and what it can be chosen from is said by its list."""
        if item.kind == "entry":
            return self._entry(tree, path)
        inner = self._field(item, tree, owner, path)
        inner.label, inner.pick, inner.size = list_field.one, list_field.pick, list_field.size
        inner.help = ""
        return inner

    def _entry(self, tree: Tree, path: Path) -> Field:
        word = tree["entry"]
        shape = entry_shapes()[word]
        inner = self._field(shape, tree["value"], shape.owner, (*path, word) if word != "step" else path)
        inner.label, inner.entry, inner.pick, inner.size = ENTRY_WORDS[word], word, "steps", "line"
        inner.kind = "text" if word == "step" else "group"
        inner.help = ""
        self.by_path[path] = inner
        return inner

    def _add_blank(self, item: FieldShape, owner: str, list_field: Field) -> None:
        """Keep an empty row to be copied, one for each kind of entry of a sequence."""
        if item.kind != "entry":
            self.blanks[list_field.blank] = self._row(
                item, tree_of(item, None, ()), owner, (_NEW, list_field.key), list_field
            )
            return
        for word, shape in entry_shapes().items():
            tree = {"entry": word, "value": "" if word == "step" else tree_of(shape, None, ())}
            self.blanks[f"entry-{word}"] = self._entry(tree, (_NEW, word))

    def mended_at(self, one: Finding, path: Path) -> Path:
        """Return the path of the field that mends ``one``: the key that its hint names first, which may
        stand inside another (“Until” below “When”), else where it stands."""
        named = KEY_NAMED.search(one.hint)
        if named is None:
            return path
        inside = [held for held in self.by_path if held[0] != _NEW and held[1:] == (named["key"],)]
        places = [(named["key"],)] if (named["key"],) in self.by_path else inside
        return places[0] if len(places) == 1 else path

    def place(self, findings: Iterable[tuple[Path, Finding]]) -> list[Finding]:
        """Put each finding beside its field, or that which holds it; return those that belong to none."""
        rest = []
        for path, one in findings:
            depth = next((depth for depth in range(len(path), 0, -1) if path[:depth] in self.by_path), 0)
            if depth:
                self.by_path[path[:depth]].findings.append(one)
            else:
                rest.append(one)
        return rest


def how_of(action: Field) -> str:
    """Return how an action is done, in a few words: what is filled in of its further parts."""
    told = []
    for part in action.parts[2:]:
        if part.kind == "flag" and part.value:
            told.append(part.label.lower())
        elif part.rows:
            told.append(f"{part.label.lower()} {', '.join(str(row.value) for row in part.rows)}")
        elif part.kind not in ("flag", "rows") and part.value and (part.key, part.value) != ("number", "1"):
            told.append(str(part.value) if part.key in _SELF_SPOKEN else f"{part.label.lower()} {part.value}")
    return ", ".join(told)


def _every_field(sections: list[FormSection]) -> Iterator[Field]:
    """Yield every field of a form, those inside rows and groups too."""
    stack = [one for section in sections for one in section.fields]
    while stack:
        one = stack.pop()
        yield one
        stack += one.parts + one.rows

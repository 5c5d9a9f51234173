"""What the template of a form sees: fields with their words, values, findings, and empty rows to be added."""

from __future__ import annotations

import json
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from typing import Any

from builder.edit.values import Path, Value
from builder.findings.finding import Finding
from builder.preview.forms_shapes import FieldShape, entry_shapes, shape_of
from builder.preview.forms_trees import Misfit, Tree, tree_of
from builder.preview.forms_words import ENTRY_WORDS, ONE, PROSE, SECTIONS, words_of

_SELF_SPOKEN = ("side", "what", "number")
"""Parts of an action whose value says enough without its name."""
_ALWAYS_OPEN = 5
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


class Maker:
    """Makes the fields of one form."""

    def __init__(self) -> None:
        self.by_path: dict[Path, Field] = {}
        self.blanks: dict[str, Field] = {}
        self._made: set[str] = set()

    def sections(self, kind: str, data: Mapping[str, Value], prose: str) -> list[FormSection]:
        """Return the form of a file of ``kind``."""
        parts = {part.key: part for part in shape_of(kind).parts}
        found = []
        for number, (heading, keys) in enumerate(SECTIONS[kind]):
            fields = []
            for key in keys:
                if key == "prose":
                    fields.append(self._prose(kind, prose))
                elif key in parts:
                    part = parts[key]
                    one = self.field(part.shape, data.get(key), kind, (key,))
                    one.is_required = part.is_required
                    fields.append(one)
            found.append(FormSection(heading, fields, number < _ALWAYS_OPEN, _filled(fields)))
        return found

    def _prose(self, kind: str, prose: str) -> Field:
        words = PROSE[kind]
        found = Field("prose", "text", words.label, ("prose",), words.help, size="long", value=prose)
        found.is_filled = bool(prose.strip())
        self.by_path[found.path] = found
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
            self.blanks[list_field.blank] = self._row(item, empty_tree(item), owner, (_NEW, list_field.key), list_field)
            return
        for word, shape in entry_shapes().items():
            tree = {"entry": word, "value": "" if word == "step" else empty_tree(shape)}
            self.blanks[f"entry-{word}"] = self._entry(tree, (_NEW, word))

    def place(self, findings: list[tuple[Path, Finding]]) -> list[Finding]:
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


def empty_tree(shape: FieldShape) -> Tree:
    """Return the tree of nothing."""
    return tree_of(shape, None, ())


def every_field(sections: list[FormSection]) -> Iterator[Field]:
    """Yield every field of a form, those inside rows and groups too."""
    stack = [one for section in sections for one in section.fields]
    while stack:
        one = stack.pop()
        yield one
        stack += one.parts + one.rows

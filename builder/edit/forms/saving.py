"""What is to be written of a form that was filled in: all that belongs together, or nothing.

And what becomes of a file that was changed by somebody else while its form was open.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

from builder.edit.file_change import CannotEdit, Drop, Edit, FileChange, Path, ProseEdit, Put, Value, settled
from builder.edit.file_text import FileText, plain_ends
from builder.edit.forms.field_words import words_of
from builder.edit.forms.form_files import (
    FOLDERS,
    FormEdit,
    FormFile,
    FormFolder,
    place_in_sequence,
    refuse_misfits,
    target_of,
)
from builder.edit.forms.form_shapes import shape_of
from builder.edit.forms.form_trees import Misfit, Tree, tree_of, wanted_of
from builder.edit.ids import id_for
from builder.edit.operations import confirmed, edited, new_text, put_in
from builder.load.files import OpenedFile


@dataclass(frozen=True, slots=True)
class Difference:
    """A field that two people left different: what it is called, both versions, and which is meant ("" = to choose)."""

    key: str
    label: str
    theirs: str
    mine: str
    choice: str


def trees_of(kind: str, text: str) -> dict[str, Tree]:
    """Return what the form of a file of ``kind`` with this ``text`` shows, by key; what it cannot show is left out."""
    sheet = FileText.cut(text)
    data = sheet.data if isinstance(sheet.data, dict) else {}
    found: dict[str, Tree] = {"prose": shown_prose(sheet)}
    for part in shape_of(kind).parts:
        try:
            found[part.key] = tree_of(part.shape, data.get(part.key), (part.key,))
        except Misfit:
            continue
    return found


def shown_prose(sheet: FileText) -> str:
    """Return the prose as a form shows it."""
    return plain_ends(sheet.body).strip("\n")


def differences(kind: str, theirs: str, mine: Mapping[str, Tree], base: str | None) -> list[Difference]:
    """Return the fields in which the file as it is now (``theirs``) and the form (``mine``) differ.

    ``base`` is the text both started from; without it every difference is to be chosen.
    """
    now = trees_of(kind, theirs)
    try:
        before = trees_of(kind, base) if base is not None else {}
    except CannotEdit:
        before = {}
    found = []
    for key, ours in mine.items():
        if key not in now or bare(ours) == bare(now[key]):
            continue
        choice = ""
        if key in before:
            choice = "mine" if bare(before[key]) == bare(now[key]) else ""
            choice = "theirs" if bare(before[key]) == bare(ours) else choice
        found.append(Difference(key, words_of(kind, key).label, told(now[key]), told(ours), choice))
    return found


def bare(tree: Tree) -> Any:
    """Return ``tree`` without where its rows came from."""
    if isinstance(tree, list):
        return [{key: bare(value) for key, value in row.items() if key != "from"} for row in tree]
    if isinstance(tree, dict):
        return {key: bare(value) for key, value in tree.items()}
    return tree.replace("\r\n", "\n").strip() if isinstance(tree, str) else tree


def told(tree: Tree, indent: str = "") -> str:
    """Return a tree as lines of plain words."""
    if isinstance(tree, list):
        return "\n".join(f"{indent}– {_row(row, indent)}" for row in tree) or "(nothing)"
    if isinstance(tree, dict):
        parts = [told(value, indent) for value in tree.values() if value not in ("", False, [])]
        return ", ".join(part.strip("– ") if "\n" not in part else part for part in parts) or "(nothing)"
    if isinstance(tree, bool):
        return "yes" if tree else "no"
    return str(tree) or "(nothing)"


def _row(row: Mapping[str, Tree], indent: str) -> str:
    inner = told(row.get("value"), f"{indent}   ").strip()
    name = row.get("key")
    return f"{name}: {inner}" if name else inner


@dataclass(frozen=True)
class FilledForm:
    """What the browser sent. ``opened`` is the digest of the file when the form was opened, "" for a new file.

    ``take`` says for each field that two people changed whose version is meant; ``beside`` is the digest of the file
    that was shown beside it. ``after`` is the step behind which a new one comes.
    """

    target: FormFile
    opened: str
    values: Mapping[str, Any]
    take: Mapping[str, str] = field(default_factory=dict)
    beside: str = ""
    after: str = ""
    confirms: bool = False

    @classmethod
    def read(cls, body: Mapping[str, Any]) -> FilledForm | None:
        """Return what was sent; None where it was not understood."""
        file, kind, procedure, opened, beside, after = (
            str(body.get(name) or "") for name in ("file", "kind", "procedure", "opened", "now", "after")
        )
        target = target_of(file)
        if not file and kind in FOLDERS and target_of(f"content/procedures/{procedure}/procedure.md"):
            target = FormFile("", kind, procedure, "")
        values, take = body.get("values"), body.get("take")
        if target is None or not isinstance(values, dict):
            return None
        chosen = {key: str(value) for key, value in take.items()} if isinstance(take, dict) else {}
        return cls(target, opened, values, chosen, beside, after, body.get("confirm") is True)

    @property
    def title(self) -> str:
        """What the page is called."""
        return str(self.values.get("title") or self.values.get("hazard") or "").strip()


@dataclass(frozen=True, slots=True)
class TwoVersions:
    """The fields that two people left different, and the file as it is now."""

    differences: list[Difference]
    opened: OpenedFile


def saved(folder: FormFolder, form: FilledForm, base: str | None) -> FormEdit | TwoVersions:
    """Return what is to be written of ``form``; where somebody else changed the file meanwhile, both versions.

    ``base`` is the text that the form was opened with, None where nobody remembers. Raises Unfit, CannotEdit, Refused.
    """
    return _changed(folder, form, base) if form.target.file else _new(folder, form)


def _changed(folder: FormFolder, form: FilledForm, base: str | None) -> FormEdit | TwoVersions:
    target = form.target
    opened = folder.open(target.file)
    is_clash = opened.digest != form.opened
    if is_clash and form.beside != opened.digest:
        found = differences(target.kind, opened.text, form.values, base)
        # Where there is none, somebody else wrote the same.
        return TwoVersions(found, opened) if found else FormEdit({}, "", target.file)
    edits = _merging(form, opened.text, base) if is_clash else _edits(target.kind, opened.text, form.values)
    text = edited(opened.text, target.kind, edits)
    if form.confirms:
        text = confirmed(text, target.kind)[0]
    refuse_misfits(text, target)
    changes = {} if text == opened.text else {target.file: FileChange(text, opened.digest)}
    return FormEdit(changes, f"{form.title or target.id}: {'confirmed' if form.confirms else 'edited'}", target.file)


def _edits(kind: str, text: str, values: Mapping[str, Any]) -> list[Edit]:
    sheet = FileText.cut(text)
    held = sheet.data if isinstance(sheet.data, dict) else {}
    found: list[Edit] = []
    for part in shape_of(kind).parts:
        path: Path = (part.key,)
        if part.key not in values:
            continue
        old = held.get(part.key)
        wanted = wanted_of(part.shape, values[part.key], held, path, path)
        if wanted is None:
            found += [Drop(path)] if old else []
        elif wanted is not old:
            found.append(Put(path, wanted))
    return found + _prose_edit(sheet, values.get("prose"))


def _prose_edit(sheet: FileText, prose: Any) -> list[Edit]:
    if not isinstance(prose, str) or plain_ends(prose).strip() == shown_prose(sheet).strip():
        return []
    lead = sheet.body[: len(sheet.body) - len(sheet.body.lstrip("\r\n"))]
    prose = plain_ends(prose).strip("\n")
    return [ProseEdit(plain_ends(lead) + prose + ("\n" if prose else ""))]


def _merging(form: FilledForm, text: str, base: str | None) -> list[Edit]:
    """Return the edits of the fields for which the form's version was chosen."""
    kind = form.target.kind
    mine = {key: value for key, value in form.values.items() if form.take.get(key) == "mine"}
    now, before = trees_of(kind, text), trees_of(kind, base) if base is not None else {}
    same = {key: value for key, value in mine.items() if key in before and bare(before[key]) == bare(now.get(key))}
    others = _edits(kind, text, {key: value for key, value in mine.items() if key not in same})
    # Where rows came from means nothing in a list that somebody else has changed.
    rest: list[Edit] = [Put(one.path, settled(one.wanted)) if isinstance(one, Put) else one for one in others]
    return _edits(kind, text, same) + rest


def _new(folder: FormFolder, form: FilledForm) -> FormEdit:
    kind, procedure = form.target.kind, form.target.procedure
    values = new_values(kind, form.values)
    place = f"content/procedures/{procedure}/{FOLDERS[kind]}/"
    taken = {name[len(place) :].removesuffix(".md") for name in folder.names if name.startswith(place)}
    id = id_for(form.title, taken, kind)
    target = FormFile(f"{place}{id}.md", kind, procedure, id)
    text = new_text(kind, values, str(form.values.get("prose") or ""))
    refuse_misfits(text, target)
    changes = {target.file: FileChange(text, None), **_links(folder, target, values, form.after)}
    return FormEdit(changes, f"{form.title or id}: added", target.file)


def new_values(kind: str, trees: Mapping[str, Any]) -> dict[str, Value]:
    """Return what ``trees``, filled in for something new, ask for."""
    wanted = {
        part.key: wanted_of(part.shape, trees.get(part.key), {}, (part.key,), None) for part in shape_of(kind).parts
    }
    return {key: settled(value) for key, value in wanted.items() if value is not None}


def _links(folder: FormFolder, target: FormFile, values: Mapping[str, Value], after: str) -> dict[str, FileChange]:
    """Return the changes that link a new file in: a step into the sequence, a caution into the steps it guards."""
    place = f"content/procedures/{target.procedure}"
    if target.kind == "step":
        head = f"{place}/procedure.md"
        return {head: _in_sequence(folder, head, target.id, after)}
    found: dict[str, FileChange] = {}
    guards = values.get("guards")
    for step in guards if target.kind == "caution" and isinstance(guards, list) else ():
        file = f"{place}/steps/{step}.md"
        if file in folder.names:
            opened = folder.open(file)
            found[file] = FileChange(put_in(opened.text, "step", ("cautions",), target.id), opened.digest)
    return found


def _in_sequence(folder: FormFolder, file: str, step: str, after: str) -> FileChange:
    opened = folder.open(file)
    held = FileText.cut(opened.text).data
    place = place_in_sequence(held.get("sequence"), after) if isinstance(held, dict) else None
    path, number = (place[0], place[1] + 1) if place else (("sequence",), None)
    return FileChange(put_in(opened.text, "procedure", path, step, number), opened.digest)

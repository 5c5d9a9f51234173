"""What becomes of a file that was changed by somebody else while its form was open."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from builder.edit.changes import CannotEdit
from builder.edit.file_text import FileText, plain_ends
from builder.edit.forms.field_words import words_of
from builder.edit.forms.form_shapes import shape_of
from builder.edit.forms.form_trees import Misfit, Tree, tree_of


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

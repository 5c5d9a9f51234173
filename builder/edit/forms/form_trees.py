"""Between what a file holds and what a form shows: both ways, so that nothing changes that nobody changed.

A tree is what the form shows, as JSON: text, true or false, an object of parts, and for a list its rows, each with the
place it came from in the file as opened: ``{"from": ["actions", 0], "value": ...}``; named rows have a ``key`` too, and
entries of a sequence the word of their ``entry``.
"""

import re
from typing import Any

from builder.edit.file_change import ListEntry, Ordered, Path, Unfit, Value, Wanted, at, settled
from builder.edit.forms.form_shapes import HIDDEN, FieldShape, entry_shapes
from builder.findings.message_words import quoted
from builder.model.action import VERBS

Tree = Any
_TRUE = frozenset({"true", "yes", "on", "1", "y", "t"})
_BETWEEN = re.compile(r"[,;\s]+")


class Misfit(Exception):
    """Raised where a file holds what no form of ours can show; it is left as it is."""


def tree_of(shape: FieldShape, value: Value, path: Path) -> Tree:
    """Return what the form shows of ``value``, which stands at ``path``. Raises Misfit where it cannot."""
    if shape.kind in ("rows", "named"):
        return _rows_of(shape, value, path)
    if shape.kind == "numbers":
        return ", ".join(map(_text, _list(value)))
    if shape.kind == "flag":
        return _text(value).strip().casefold() in _TRUE
    if shape.kind == "entry":
        return _entry_of(value, path)
    if shape.kind in ("group", "citation", "action"):
        return _group_of(shape, value, path)
    return _text(value)


def _text(value: Value) -> str:
    if value is None:
        return ""
    if not isinstance(value, str):
        raise Misfit
    return value.rstrip()


def _list(value: Value) -> list[Value]:
    if value is None:
        return []
    if not isinstance(value, list):
        raise Misfit
    return value


def _rows_of(shape: FieldShape, value: Value, path: Path) -> Tree:
    assert shape.item is not None
    if shape.kind == "named":
        if not isinstance(value, dict | None):
            raise Misfit
        held = (value or {}).items()
        return [
            {"from": [*path, key], "key": key, "value": tree_of(shape.item, inner, (*path, key))} for key, inner in held
        ]
    if shape.is_many and not isinstance(value, list | None):
        value = [value]
    rows = [(number, tree_of(shape.item, inner, (*path, number))) for number, inner in enumerate(_list(value))]
    return [{"from": [*path, number], "value": inner} for number, inner in rows]


def _group_of(shape: FieldShape, value: Value, path: Path) -> Tree:
    if shape.kind == "citation" and isinstance(value, str):
        value = {"source": value}
    if not isinstance(value, dict | None):
        raise Misfit
    held = dict(value or {})
    if shape.kind == "action" and held:
        verbs = [key for key in held if key in VERBS]
        if len(verbs) != 1:
            raise Misfit
        held = {"verb": verbs[0], "objects": held.pop(verbs[0]), **held}
    if path and set(held) - {part.key for part in shape.parts} - HIDDEN:
        raise Misfit
    return {part.key: tree_of(part.shape, held.get(part.key), (*path, part.key)) for part in shape.parts}


def _entry_of(value: Value, path: Path) -> Tree:
    shapes = entry_shapes()
    if isinstance(value, str):
        return {"entry": "step", "value": value}
    if isinstance(value, dict) and len(value) == 1 and next(iter(value)) in shapes:
        word, inner = next(iter(value.items()))
        return {"entry": word, "value": _group_of(shapes[word], inner, (*path, word))}
    raise Misfit


def wanted_of(shape: FieldShape, tree: Tree, data: Value, path: Path, origin: Path | None) -> Wanted:
    """Return what ``tree`` asks for; None where nothing is filled in.

    ``data`` is the whole file as opened, ``origin`` where this value stood in it. Raises Unfit.
    """
    if tree is None:
        return None
    old = _old(data, origin)
    try:
        if origin is not None and old is not None and tree == tree_of(shape, old, origin):
            return old
    except Misfit:
        pass
    if shape.kind in ("rows", "named"):
        rows = _rows(tree, path)
        return _named(shape, rows, data, path) if shape.kind == "named" else _listed(shape, rows, data, path)
    if shape.kind in ("group", "citation", "action"):
        return _grouped(shape, tree, data, path, origin)
    if shape.kind == "entry":
        return _entered(tree, data, path, origin)
    return _simple(shape, tree, old)


def _old(data: Value, origin: Path | None) -> Value:
    try:
        return None if origin is None else at(data, origin)
    except LookupError:
        return None


def _simple(shape: FieldShape, tree: Tree, old: Value) -> Wanted:
    if shape.kind == "flag":
        return "true" if tree is True else None if old is None else "false"
    words = tree.replace("\r\n", "\n").strip() if isinstance(tree, str) else ""
    if not words:
        return None
    if shape.kind == "numbers":
        return [part for part in _BETWEEN.split(words) if part]
    return f"{words}\n" if isinstance(old, str) and old.endswith("\n") else words


def _rows(tree: Tree, path: Path) -> list[dict[str, Any]]:
    if not isinstance(tree, list) or not all(isinstance(row, dict) for row in tree):
        raise Unfit((path, "This list was not understood."))
    return tree


def _origin(row: dict[str, Any]) -> Path | None:
    found = row.get("from")
    fits = isinstance(found, list) and all(isinstance(part, str | int) for part in found)
    return tuple(found) if fits and found else None


def _listed(shape: FieldShape, rows: list[dict[str, Any]], data: Value, path: Path) -> Wanted:
    assert shape.item is not None
    found: list[Wanted] = []
    for row in rows:
        origin = _origin(row)
        inner = wanted_of(shape.item, row.get("value"), data, (*path, len(found)), _single(data, origin))
        if inner is not None:
            found.append(ListEntry(inner, origin))
    if shape.is_many and len(found) == 1 and not isinstance(_old(data, path), list):
        only = found[0]
        return only.value if isinstance(only, ListEntry) else only
    return found or None


def _single(data: Value, origin: Path | None) -> Path | None:
    """A single value that stands for a list has no number in the file."""
    if origin and origin[-1] == 0 and not isinstance(_old(data, origin[:-1]), list):
        return origin[:-1]
    return origin


def _named(shape: FieldShape, rows: list[dict[str, Any]], data: Value, path: Path) -> Wanted:
    assert shape.item is not None
    found = Ordered()
    for row in rows:
        key = str(row.get("key") or "").strip()
        inner = wanted_of(shape.item, row.get("value"), data, (*path, key), _origin(row))
        if not key and inner is None:
            continue
        if not key:
            raise Unfit((path, "One of the names is empty."))
        if key in found:
            raise Unfit((path, f"{quoted(key)} appears twice."))
        found[key] = [] if inner is None and shape.item.kind == "rows" else inner
    return found or None


def _grouped(shape: FieldShape, tree: Tree, data: Value, path: Path, origin: Path | None) -> Wanted:
    if not isinstance(tree, dict):
        raise Unfit((path, "This was not understood."))
    old = _old(data, origin)
    found: dict[str, Wanted] = {}
    for part in shape.parts:
        its = _part_origin(shape, part.key, old, origin)
        inner = wanted_of(part.shape, tree.get(part.key), data, (*path, part.key), its)
        if inner is not None:
            found[part.key] = inner
    if shape.kind == "action":
        return _folded(found, path)
    if shape.kind == "citation" and set(found) == {"source"} and not isinstance(old, dict):
        return found["source"]
    if path[-1:] == ("option",) and "steps" not in found:
        found["steps"] = []
    return found or None


def _part_origin(shape: FieldShape, key: str, old: Value, origin: Path | None) -> Path | None:
    if origin is None:
        return None
    if shape.kind == "citation" and isinstance(old, str):
        return origin if key == "source" else None
    if shape.kind == "action" and key == "objects" and isinstance(old, dict):
        key = next((name for name in old if name in VERBS), key)
    return (*origin, key)


def _folded(found: dict[str, Wanted], path: Path) -> Wanted:
    verb, objects = found.pop("verb", None), found.pop("objects", None)
    if verb is None and objects is None and not found:
        return None
    if not isinstance(verb, str):
        raise Unfit((path, "Say what is done in this action."))
    if objects is None:
        raise Unfit((path, f"Say what to {verb}."))
    plain = settled(objects)
    return {verb: plain[0] if isinstance(plain, list) and len(plain) == 1 else objects, **found}


def _entered(tree: Tree, data: Value, path: Path, origin: Path | None) -> Wanted:
    word = tree.get("entry") if isinstance(tree, dict) else None
    shape = entry_shapes().get(str(word))
    if shape is None or word is None:
        raise Unfit((path, "This entry was not understood."))
    if word == "step":
        return _simple(shape, tree.get("value"), _old(data, origin))
    inner = _grouped(shape, tree.get("value"), data, (*path, word), None if origin is None else (*origin, word))
    return None if inner is None else {word: inner}

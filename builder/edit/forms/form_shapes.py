"""What a form has to ask for, worked out from the model's own schema."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cache
from typing import Any

from builder.model.action import VERBS
from builder.model.json_schema import keys_at, resolved, schema_of

HIDDEN = frozenset({"proposed", "heard_at", "said_by"})
"""Keys that have no field of their own: a draft writes them, and confirming takes them away."""


@dataclass(frozen=True, slots=True)
class FieldShape:
    """One thing that is asked for.

    ``kind``: ``text``, ``number``, ``numbers`` (with commas), ``date``, ``flag``, ``choice`` (of ``options``),
    ``group`` (of ``parts``), ``rows`` (each of them an ``item``), ``named`` (rows with a name), ``citation``,
    ``action``, or ``entry`` (of a sequence). ``owner`` is whose words explain the parts. ``is_many``: one value
    may stand for a list.
    """

    kind: str
    owner: str = ""
    options: tuple[str, ...] = ()
    parts: tuple[FormKey, ...] = ()
    item: FieldShape | None = None
    is_many: bool = False


@dataclass(frozen=True, slots=True)
class FormKey:
    """A key of a group, and what it holds."""

    key: str
    shape: FieldShape
    is_required: bool = False


_Schema = dict[str, Any]
_SIMPLE = {"boolean": "flag", "number": "number", "integer": "number"}


@cache
def shape_of(kind: str) -> FieldShape:
    """Return what the form of a file of ``kind`` asks for; of a catalogue, what one entry asks for."""
    root = schema_of(kind)
    if root.get("type") == "array":
        return _shape(root["items"], root, "")
    shape = _group(root, root, kind)
    order = keys_at(kind, ())
    parts = sorted((part for part in shape.parts if part.key not in HIDDEN), key=lambda part: order.index(part.key))
    return replace(shape, parts=tuple(parts))


def _shape(part: _Schema, root: _Schema, owner: str) -> FieldShape:
    name = part["$ref"].rsplit("/", 1)[1] if "$ref" in part else owner
    choices = [one for one in part.get("anyOf", ()) if one.get("type") != "null"]
    if len(choices) == 1:
        return _shape(choices[0], root, owner)
    if len(choices) == 2 and choices[1].get("type") == "array":
        return FieldShape("rows", owner, item=_item(choices[0], root, owner), is_many=True)
    if "$ref" in part:
        part = next(iter(resolved(part, root)))
        if name == "Action":
            return _action(part, root)
    return _plain(part, root, name)


def _plain(part: _Schema, root: _Schema, name: str) -> FieldShape:
    if "enum" in part:
        return FieldShape("choice", name, options=tuple(part["enum"]))
    kind = part.get("type")
    if kind == "object":
        if "additionalProperties" in part and isinstance(part["additionalProperties"], dict):
            return FieldShape("named", name, item=_shape(part["additionalProperties"], root, name))
        return _group(part, root, name)
    if kind == "array":
        item = part.get("items", {})
        numbers = "prefixItems" in part or item.get("type") == "number"
        return FieldShape("numbers", name) if numbers else FieldShape("rows", name, item=_item(item, root, name))
    if part.get("format") == "date":
        return FieldShape("date", name)
    return FieldShape(_SIMPLE.get(str(kind), "text"), name)


def _item(part: _Schema, root: _Schema, owner: str) -> FieldShape:
    choices = part.get("anyOf", ())
    if any("StepEntry" in one.get("$ref", "") for one in choices):
        return FieldShape("entry")
    if any("source" in one.get("properties", {}) for one in choices):
        inner = next(one for one in choices if "properties" in one)
        return replace(_group(inner, root, "Citation"), kind="citation")
    return _shape(part, root, owner)


@cache
def entry_shapes() -> dict[str, FieldShape]:
    """Return what each kind of entry of a sequence asks for, by its word."""
    root = schema_of("procedure")
    found = {"step": FieldShape("text", "Entry")}
    for name in ("Choose", "Option", "Follow"):
        word, inner = next(iter(root["$defs"][name]["properties"].items()))
        found[word] = _group(inner, root, name)
    return found


def _group(part: _Schema, root: _Schema, owner: str) -> FieldShape:
    required = part.get("required", ())
    parts = tuple(
        FormKey(key, _shape(inner, root, owner), key in required)
        for key, inner in part["properties"].items()
        if key not in HIDDEN
    )
    return FieldShape("group", owner, parts=parts)


def _action(part: _Schema, root: _Schema) -> FieldShape:
    verbs = tuple(verb for verb in VERBS if verb in part["properties"])
    names = FieldShape("rows", "Action", item=FieldShape("text", "Action"), is_many=True)
    further = [
        FormKey(key, _shape(inner, root, "Action"))
        for key, inner in part["properties"].items()
        if key not in VERBS and key not in HIDDEN
    ]
    parts = (
        FormKey("verb", FieldShape("choice", "Action", options=verbs), True),
        FormKey("objects", names, True),
        *further,
    )
    return FieldShape("action", "Action", parts=parts)

"""The usual order of keys: that of the model, so that a new key comes where the manual has it."""

from __future__ import annotations

from collections.abc import Iterable
from functools import cache
from typing import Any

from builder.edit.values import Path
from builder.model.json_schema import schema_of

_LAST = ("accept", "proposed", "heard_at")


def order_at(kind: str, path: Path) -> list[str]:
    """Return the keys that a mapping at ``path`` of a file of ``kind`` may have, in their usual order."""
    return list(_order(kind, path))


@cache
def _order(kind: str, path: Path) -> tuple[str, ...]:
    names = [name for part in parts_at(kind, path) for name in part.get("properties", {})]
    names = list(dict.fromkeys(names))
    return tuple(sorted(names, key=lambda name: name in _LAST))


def parts_at(kind: str, path: Path) -> list[dict[str, Any]]:
    """Return the schemas that a value at ``path`` of a file of ``kind`` may fit, references followed."""
    root = schema_of(kind)
    parts = list(resolved(root, root))
    for step in path:
        parts = [one for part in parts for inner in _inside(part, step) for one in resolved(inner, root)]
    return parts


def resolved(part: dict[str, Any], root: dict[str, Any]) -> Iterable[dict[str, Any]]:
    """Follow references and alternatives of ``part`` to plain schemas."""
    if "$ref" in part:
        yield from resolved(root["$defs"][part["$ref"].rsplit("/", 1)[1]], root)
    elif "properties" not in part and ("anyOf" in part or "oneOf" in part):
        for choice in part.get("anyOf") or part["oneOf"]:
            yield from resolved(choice, root)
    else:
        yield part


def _inside(part: dict[str, Any], step: str | int) -> Iterable[dict[str, Any]]:
    if isinstance(step, int):
        # A single value may stand where a list may: then the number was never written.
        yield part["items"] if isinstance(part.get("items"), dict) else part
    else:
        inner = part.get("properties", {}).get(step, part.get("additionalProperties"))
        if isinstance(inner, dict):
            yield inner

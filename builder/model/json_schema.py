"""JSON Schema of each kind of file, generated from the model, for editors and for near misses."""

from collections.abc import Iterator
from functools import cache
from typing import Any

from pydantic import BaseModel, TypeAdapter

from builder.model.local_page import LocalPage
from builder.model.pages import Aftercare, Caution, Consent, Department, Item, Procedure, Step, Structure, Term
from builder.model.region_file import Region
from builder.model.sequence import Choose, Follow, Option
from builder.model.translation import Translation

KINDS: dict[str, TypeAdapter[Any]] = {
    "department": TypeAdapter(Department),
    "structures": TypeAdapter(tuple[Structure, ...]),
    "items": TypeAdapter(tuple[Item, ...]),
    "terms": TypeAdapter(tuple[Term, ...]),
    "consents": TypeAdapter(tuple[Consent, ...]),
    "procedure": TypeAdapter(Procedure),
    "step": TypeAdapter(Step),
    "caution": TypeAdapter(Caution),
    "aftercare": TypeAdapter(Aftercare),
    "translation": TypeAdapter(Translation),
    "local": TypeAdapter(LocalPage),
    "region": TypeAdapter(Region),
}
"""The validator of each kind of file."""

_DIALECT = "https://json-schema.org/draft/2020-12/schema"
_LAST = ("accept", "proposed", "heard_at", "said_by")
_Schema = dict[str, Any]


@cache
def schema_of(kind: str) -> _Schema:
    """Return the JSON Schema (draft 2020-12) of the front matter of ``kind``, a key of ``KINDS``."""
    schema = KINDS[kind].json_schema(by_alias=True)
    schema["$schema"] = _DIALECT
    schema["title"] = f"prescrub {kind}"
    _write_entries(schema)
    for name in ("Structure", "Item"):
        if name in schema.get("$defs", {}):  # what is not written may come from the common catalogue
            schema["$defs"][name]["required"] = ["id"]
    return schema


def _write_entries(schema: _Schema) -> None:
    """Show sequence entries as the educator writes them: a bare id, or one block named by its kind."""
    definitions = schema.get("$defs", {})
    for name, model in (("Choose", Choose), ("Option", Option), ("Follow", Follow)):
        if name in definitions:
            inner = definitions[name]
            inner["properties"].pop("kind", None)
            definitions[name] = {
                "type": "object",
                "properties": {_kind(model): inner},
                "required": [_kind(model)],
                "additionalProperties": False,
            }
    if "StepEntry" in definitions:
        definitions["StepEntry"] = {"type": "string", "minLength": 1}
        _drop_discriminators(schema)


def _kind(model: type[BaseModel]) -> str:
    return str(model.model_fields["kind"].default)


def _drop_discriminators(part: Any) -> None:
    if isinstance(part, dict):
        part.pop("discriminator", None)
        if "oneOf" in part and all("$ref" in one for one in part["oneOf"]):
            part["anyOf"] = part.pop("oneOf")
        for inner in part.values():
            _drop_discriminators(inner)
    elif isinstance(part, list):
        for inner in part:
            _drop_discriminators(inner)


@cache
def keys_at(kind: str, path: tuple[str | int, ...]) -> tuple[str, ...]:
    """Return the keys that a mapping at ``path`` of a file of ``kind`` may have, in the order of the model."""
    root = schema_of(kind)
    parts = list(resolved(root, root))
    for step in path:
        parts = [one for part in parts for inner in _inside(part, step) for one in resolved(inner, root)]
    keys = dict.fromkeys(key for part in parts for key in part.get("properties", {}))
    return tuple(sorted(keys, key=lambda key: key in _LAST))


def resolved(part: _Schema, root: _Schema) -> Iterator[_Schema]:
    """Follow references and alternatives of ``part`` to plain schemas."""
    if "$ref" in part:
        yield from resolved(root["$defs"][part["$ref"].rsplit("/", 1)[1]], root)
    elif "properties" not in part and ("anyOf" in part or "oneOf" in part):
        for choice in part.get("anyOf") or part["oneOf"]:
            yield from resolved(choice, root)
    else:
        yield part


def _inside(part: _Schema, step: str | int) -> Iterator[_Schema]:
    if isinstance(step, int):
        # A single value may stand where a list may: then the number was never written.
        yield part["items"] if isinstance(part.get("items"), dict) else part
    else:
        inner = part.get("properties", {}).get(step, part.get("additionalProperties"))
        if isinstance(inner, dict):
            yield inner

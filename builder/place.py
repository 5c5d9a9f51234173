"""Where a value stands in what the educator wrote.

Every stage speaks of places, so this module lies to the left of all of them.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any, NamedTuple

from pydantic import GetCoreSchemaHandler, GetJsonSchemaHandler
from pydantic.json_schema import JsonSchemaValue
from pydantic_core import CoreSchema, PydanticCustomError, core_schema


class Place(NamedTuple):
    """A position: ``file`` relative to the department's folder, ``line`` and ``column`` counted from 1."""

    file: str
    line: int = 1
    column: int = 1

    def __str__(self) -> str:
        return f"{self.file}:{self.line}:{self.column}"


NOWHERE = Place("", 0, 0)


class Text(str):
    """A piece of text that knows its place; otherwise a plain ``str``.

    In a model field it must not be blank.
    """

    __slots__ = ("at",)
    at: Place

    def __new__(cls, value: str, at: Place = NOWHERE) -> Text:
        text = super().__new__(cls, value)
        text.at = at
        return text

    def __getnewargs__(self) -> tuple[str, Place]:
        return (str(self), self.at)

    @classmethod
    def __get_pydantic_core_schema__(cls, source: Any, handler: GetCoreSchemaHandler) -> CoreSchema:
        return core_schema.no_info_after_validator_function(_not_blank, core_schema.is_instance_schema(cls))

    @classmethod
    def __get_pydantic_json_schema__(cls, schema: CoreSchema, handler: GetJsonSchemaHandler) -> JsonSchemaValue:
        return {"type": "string", "minLength": 1}


def _not_blank(value: Text) -> Text:
    if not value or value.isspace():
        raise PydanticCustomError("blank", "this is empty")
    return value


@dataclass(frozen=True, slots=True)
class Where:
    """The places inside one mapping: its start, each key, each value, and each item of a list of plain values."""

    start: Place = NOWHERE
    keys: Mapping[str, Place] = field(default_factory=dict)
    values: Mapping[str, Place] = field(default_factory=dict)
    items: Mapping[str, tuple[Place, ...]] = field(default_factory=dict)

    def key(self, name: str) -> Place:
        """Return the place of the key ``name``; the start of the mapping where it is not written."""
        return self.keys.get(name, self.start)

    def value(self, name: str, item: int | None = None) -> Place:
        """Return the place of the value of ``name``, or of its ``item``-th list item."""
        if item is not None:
            places = self.items.get(name, ())
            if item < len(places):
                return places[item]
        return self.values.get(name, self.start)


# Keys the loader adds to a mapping beside what was written. YAML text cannot hold a NUL, so none can collide.
WHERE_KEY = "\0where"
ID_KEY = "\0id"
BODY_KEY = "\0body"
PARTS_KEY = "\0parts"

"""The kinds of value that front matter is made of, and the base of every part of the model."""

from collections.abc import Mapping
from datetime import date
from decimal import Decimal
from typing import Annotated, Any, TypeVar

from pydantic import BaseModel, BeforeValidator, ConfigDict, Field, WithJsonSchema
from pydantic.json_schema import SkipJsonSchema
from pydantic_core import core_schema

from builder.load.prose import EMPTY, Prose
from builder.place import BODY_KEY, ID_KEY, WHERE_KEY, Place, Text, Where

T = TypeVar("T")


def _as_list(value: Any) -> Any:
    return value if isinstance(value, list | tuple) or value is None else [value]


def _without_places(value: Any) -> Any:
    if isinstance(value, dict):
        return {key: item for key, item in value.items() if key != WHERE_KEY}
    return value


class _OneOrMany:
    """Marks a field that takes one value or a list; the schema for editors says both."""

    def __get_pydantic_core_schema__(self, source: Any, handler: Any) -> Any:
        return core_schema.no_info_before_validator_function(_as_list, handler(source))

    def __get_pydantic_json_schema__(self, schema: Any, handler: Any) -> dict[str, Any]:
        listed = handler(schema)
        return {"anyOf": [listed.get("items", {}), listed]}


Many = Annotated[tuple[T, ...], _OneOrMany()]
"""One ``T`` or a list of them; always a tuple in the model."""

Named = Annotated[Mapping[Text, T], BeforeValidator(_without_places)]
"""A mapping whose keys the educator chooses; the keys are Text and know their places."""

Number = Annotated[Decimal, WithJsonSchema({"type": "number"})]
"""An exact decimal number, read from the digits that were written."""

Count = Annotated[int, Field(ge=1, le=10_000)]
Day = Annotated[date, WithJsonSchema({"type": "string", "format": "date"})]
Label = Annotated[Text, WithJsonSchema({"type": ["string", "number"]})]
"""Text that an editor may take for a number, such as an edition."""


class Node(BaseModel):
    """A frozen mapping of the front matter. ``where`` holds the places of its keys and values."""

    model_config = ConfigDict(
        frozen=True, extra="forbid", arbitrary_types_allowed=True, validate_by_name=False, validate_by_alias=True
    )

    where: SkipJsonSchema[Where] = Field(default=Where(), alias=WHERE_KEY, repr=False)

    @property
    def at(self) -> Place:
        """The place where this mapping begins."""
        return self.where.start


class Acceptance(Node):
    """A finding that the department accepts in this file: its ``check`` (the name) and the ``reason``."""

    check: Text
    reason: Text


class Page(Node):
    """The front matter of one file, with the file's ``id`` and its prose (``body``)."""

    id: SkipJsonSchema[Text] = Field(default=Text(""), alias=ID_KEY)
    body: SkipJsonSchema[Prose] = Field(default=EMPTY, alias=BODY_KEY, repr=False)
    accept: tuple[Acceptance, ...] = ()

    @property
    def file(self) -> str:
        """The path of the file, relative to the department's folder."""
        return self.id.file


class Proposable(Page):
    """A page that can come out of a draft: ``proposed`` until the educator has confirmed it."""

    proposed: bool = False


class Heard(Proposable):
    """A page that can come out of a recorded talk: ``heard_at`` is where, minutes and seconds from its beginning.

    ``said_by``: which of several experts said it, where their texts were laid together.
    """

    heard_at: Label | None = None
    said_by: Many[Text] = ()


NOT_SAID = "Not said yet."
"""Written where a value is required and the source of a draft did not say it."""


def is_not_said(words: str) -> bool:
    """Tell whether ``words`` only mark the place of something that nobody has said."""
    return words.strip().rstrip(".").casefold() == NOT_SAID.rstrip(".").casefold()

"""Where a value stands in what the educator wrote.

Every stage speaks of places, so this module lies to the left of all of them.
"""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType
from typing import TYPE_CHECKING, Any, NamedTuple, Protocol

# Findings have places, and showing them must not wait for the validator: it is imported where a model is made.
if TYPE_CHECKING:
    from pydantic import GetCoreSchemaHandler, GetJsonSchemaHandler
    from pydantic.json_schema import JsonSchemaValue
    from pydantic_core import CoreSchema


class Place(NamedTuple):
    """A position: ``file`` relative to the department's folder, ``line`` and ``column`` counted from 1."""

    file: str
    line: int = 1
    column: int = 1

    def __str__(self) -> str:
        return f"{self.file}:{self.line}:{self.column}"

    @classmethod
    def after(cls, file: str, before: str) -> Place:
        """Return the place right after ``before``, the beginning of ``file``."""
        return cls(file, before.count("\n") + 1, len(before) - before.rfind("\n"))


NOWHERE = Place("", 0, 0)
_NONE: Mapping[str, Any] = MappingProxyType({})


class Mark(Protocol):
    """What the YAML composer knows of a position: ``line`` and ``column`` counted from 0."""

    line: int
    column: int


class Origin(NamedTuple):
    """Where a text with marks comes from: its ``file``, and the number of the line that its line 0 is."""

    file: str
    first_line: int

    def place(self, mark: Mark) -> Place:
        """Return the place that ``mark`` means."""
        return Place(self.file, mark.line + self.first_line, mark.column + 1)


class Text(str):
    """A piece of text that knows its place; otherwise a plain ``str``.

    In a model field it must not be blank. There are hundreds of thousands of them, so the place is worked out only
    when somebody asks for it: ``origin`` is an Origin and ``mark`` a Mark, or ``mark`` is the Place itself.
    """

    __slots__ = ("mark", "origin")
    origin: Origin | None
    mark: Mark | Place

    def __new__(cls, value: str, at: Place = NOWHERE) -> Text:
        """Make a text that stands at ``at``."""
        text = super().__new__(cls, value)
        text.origin = None
        text.mark = at
        return text

    @property
    def at(self) -> Place:
        """The place of the first character as written (its quotation mark, where there is one)."""
        if self.origin is None:
            return self.mark  # type: ignore[return-value]  # without an origin the mark is the place
        return self.origin.place(self.mark)  # type: ignore[arg-type]  # and with one it is a Mark

    @property
    def file(self) -> str:
        """The file in which it stands, without working out where in it."""
        return (self.origin or self.mark).file  # type: ignore[union-attr]  # without an origin the mark is the place

    def __reduce__(self) -> tuple[type[Text], tuple[str, Place]]:
        return (Text, (str(self), self.at))

    @classmethod
    def __get_pydantic_core_schema__(cls, source: Any, handler: GetCoreSchemaHandler) -> CoreSchema:
        from pydantic_core import core_schema  # noqa: PLC0415  # see above

        return core_schema.no_info_after_validator_function(_not_blank, core_schema.is_instance_schema(cls))

    @classmethod
    def __get_pydantic_json_schema__(cls, schema: CoreSchema, handler: GetJsonSchemaHandler) -> JsonSchemaValue:
        return {"type": "string", "minLength": 1}


def _not_blank(value: Text) -> Text:
    if not value or value.isspace():
        from pydantic_core import PydanticCustomError  # noqa: PLC0415  # see above

        raise PydanticCustomError("blank", "this is empty")
    return value


Marks = tuple[Mark, Mark, tuple[Mark, ...]]
"""The marks of one line of a mapping: its key, its value, and the items where the value is a list."""


class Where:
    """The places inside one mapping: its start, each key, each value, and each item of a list."""

    __slots__ = ("_marks", "_origin", "_over", "start")

    def __init__(
        self,
        start: Place = NOWHERE,
        origin: Origin | None = None,
        marks: Mapping[str, Marks] = _NONE,
        over: Mapping[str, tuple[Where, str]] = _NONE,
    ) -> None:
        self.start = start
        self._origin = origin
        self._marks = marks
        self._over = over

    def starting(self, start: Place) -> Where:
        """Return the same places with another start."""
        return Where(start, self._origin, self._marks, self._over)

    def laid(self, name: str, over: Where, written: str) -> Where:
        """Return the same places, those of the key ``name`` being where ``written`` stands in ``over``."""
        return Where(self.start, self._origin, self._marks, {**self._over, name: (over, written)})

    def key(self, name: str) -> Place:
        """Return the place of the key ``name``; the start of the mapping where it is not written."""
        if name in self._over:
            where, written = self._over[name]
            return where.key(written)
        marks = self._marks.get(name)
        return self._origin.place(marks[0]) if marks and self._origin else self.start

    def value(self, name: str, item: int | None = None) -> Place:
        """Return the place of the value of ``name``, or of its ``item``-th list item."""
        if name in self._over:
            where, written = self._over[name]
            return where.value(written, item)
        marks = self._marks.get(name)
        if marks is None or self._origin is None:
            return self.start
        is_item = item is not None and item < len(marks[2])
        return self._origin.place(marks[2][item or 0] if is_item else marks[1])

    def __eq__(self, other: object) -> bool:
        return isinstance(other, Where) and self.start == other.start

    def __hash__(self) -> int:
        return hash(self.start)

    def __reduce__(self) -> tuple[type[Where], tuple[Place]]:
        return (Where, (self.start,))


# Keys the loader adds to a mapping beside what was written. YAML text cannot hold a NUL, so none can collide.
WHERE_KEY = "\0where"
ID_KEY = "\0id"
BODY_KEY = "\0body"
PARTS_KEY = "\0parts"

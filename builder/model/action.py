"""Actions: what is done in a step, in the order it happens. The path analysis reads these."""

from enum import StrEnum
from typing import Annotated, Any

from pydantic import BeforeValidator, GetJsonSchemaHandler
from pydantic_core import PydanticCustomError

from builder.model.fields import Count, Many, Node
from builder.place import WHERE_KEY, Text, Where


class Verb(StrEnum):
    """The verbs an action can have; each is a key before its objects."""

    IDENTIFY = "identify"
    PROTECT = "protect"
    EXPOSE = "expose"
    OPEN = "open"
    CLOSE = "close"
    CLAMP = "clamp"
    RELEASE = "release"
    TIE = "tie"
    SEAL = "seal"
    SUTURE = "suture"
    DIVIDE = "divide"
    EXCISE = "excise"
    PLACE = "place"
    REMOVE = "remove"
    INJECT = "inject"
    IRRIGATE = "irrigate"
    INSPECT = "inspect"
    COUNT = "count"
    TELL = "tell"


class Side(StrEnum):
    """The side of a procedure or an action. ``either`` is chosen for the patient and is allowed only on a procedure."""

    LEFT = "left"
    RIGHT = "right"
    BOTH = "both"
    MIDLINE = "midline"
    EITHER = "either"


VERBS = {verb.value: verb for verb in Verb}
SEES = frozenset({Verb.IDENTIFY, Verb.PROTECT})
CUTS = frozenset({Verb.CLAMP, Verb.TIE, Verb.SEAL, Verb.DIVIDE, Verb.EXCISE})
CONTROLS = frozenset({Verb.TIE, Verb.SEAL, Verb.SUTURE})
ON_STRUCTURES = SEES | CUTS | CONTROLS | {Verb.EXPOSE, Verb.OPEN, Verb.CLOSE, Verb.RELEASE}
ON_ITEMS = frozenset({Verb.PLACE, Verb.REMOVE, Verb.INJECT, Verb.IRRIGATE})


class Action(Node):
    """One verb, its objects and how it is done.

    ``inside``, ``on`` and ``using`` are written ``in``, ``on`` and ``with``; ``through`` is the line or catheter by
    which something is given. ``nick`` goes with ``open`` only: a small
    cut, made to see what lies beneath before anything more is cut. ``proposed``: a draft took it from its
    source, and the educator has not confirmed it yet. ``said_by``: which of several experts said it, where not all did.
    """

    verb: Verb
    objects: Many[Text]
    side: Side | None = None
    number: Count = 1
    inside: Text | None = None
    on: Text | None = None
    using: Many[Text] = ()
    through: Text | None = None
    stays: bool = False
    nick: bool = False
    what: Text | None = None
    proposed: bool = False
    said_by: Many[Text] = ()

    @classmethod
    def __get_pydantic_json_schema__(cls, schema: Any, handler: GetJsonSchemaHandler) -> dict[str, Any]:
        words = {"type": "string", "minLength": 1}
        many = {"anyOf": [words, {"type": "array", "items": words, "minItems": 1}]}
        modifiers: dict[str, Any] = {
            "side": {"enum": [side.value for side in Side if side is not Side.EITHER]},
            "number": {"type": "integer", "minimum": 1},
            "in": words, "on": words, "with": many, "through": words,
            "stays": {"type": "boolean"}, "nick": {"type": "boolean"},
            "what": words, "proposed": {"type": "boolean"}, "said_by": many,
        }  # fmt: skip
        return {
            "type": "object",
            "properties": dict.fromkeys(VERBS, many) | modifiers,
            "oneOf": [{"required": [verb]} for verb in VERBS],
            "additionalProperties": False,
        }


WRITTEN = {"in": "inside", "with": "using"}
"""Modifiers whose written word is a keyword of Python, or would be misread as one."""


def _folded(value: Any) -> Any:
    """Turn ``{identify: X, side: left}`` into ``{verb: identify, objects: X, side: left}``.

    So one schema is selected, and no error speaks of alternatives that the writer never meant.
    """
    if not isinstance(value, dict):
        return value
    verbs = [key for key in value if key in VERBS]
    if len(verbs) != 1:
        raise PydanticCustomError("verb", "{found}", {"found": ", ".join(verbs), "known": tuple(VERBS)})
    if "nick" in value and verbs[0] != Verb.OPEN.value:
        raise PydanticCustomError("nick", "{found}", {"found": verbs[0]})
    hidden = {"verb", "objects", *WRITTEN.values()}
    folded = {(f"{key} " if key in hidden else WRITTEN.get(key, key)): item for key, item in value.items()}
    folded["objects"] = folded.pop(verbs[0])
    folded["verb"] = verbs[0]
    return folded


ActionEntry = Annotated[Action, BeforeValidator(_folded)]


def action(verb: str, *objects: str, **modifiers: Any) -> Action:
    """Make an action in code, for instance ``action("place", "swab", number=2)``; it has no place in a file."""
    return Action.model_validate(
        {"verb": verb, "objects": [Text(name) for name in objects], WHERE_KEY: Where(), **modifiers}
    )

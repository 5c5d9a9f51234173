"""Citations in front matter, and what backs a statement."""

import re
from typing import Annotated, Any

from pydantic import BeforeValidator, WithJsonSchema

from builder.model.fields import Label, Node
from builder.place import WHERE_KEY, Text, Where


class Citation(Node):
    """One use of a source: its key, the locator ``at`` (such as ``p. 12``) and the ``level`` of evidence it gives."""

    source: Text
    locator: Label | None = None
    level: Label | None = None


def _folded(value: Any) -> Any:
    """A bare key stands for a citation without locator; ``at`` is the word the educator writes for the locator."""
    if isinstance(value, Text):
        return {"source": value, WHERE_KEY: Where(value.at)}
    if isinstance(value, dict) and "at" in value:
        return {("locator" if key == "at" else key): item for key, item in value.items()}
    return value


CitationEntry = Annotated[
    Citation,
    BeforeValidator(_folded),
    WithJsonSchema(
        {
            "anyOf": [
                {"type": "string", "minLength": 1},
                {
                    "type": "object",
                    "properties": {
                        "source": {"type": "string", "description": "Key of the source in references/"},
                        "at": {"type": ["string", "number"], "description": "Page or section, such as p. 12"},
                        "level": {"type": ["string", "number"], "description": "Level of evidence of this use"},
                    },
                    "required": ["source"],
                    "additionalProperties": False,
                },
            ]
        }
    ),
]
Evidence = tuple[CitationEntry, ...]

_LOCATOR = re.compile(
    r"(?:pp?|pages?|ch|chap|chapter|sect?|section|para|tab|table|fig|figure|box|app|appendix|rec|recommendation)"
    r"s?\b\.?\s*\d|§|\d",
    re.IGNORECASE,
)


def is_locator(words: str) -> bool:
    """Tell whether the ``words`` of a link name a place in a source, such as ``p. 12``, or are part of the sentence."""
    return _LOCATOR.match(words) is not None

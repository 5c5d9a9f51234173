"""The sequence of a procedure: steps in order, with choices, options and what follows from an earlier choice."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Annotated, Any, Literal

from pydantic import BeforeValidator, Field
from pydantic_core import PydanticCustomError

from builder.model.fields import Named, Node
from builder.place import WHERE_KEY, Text, Where

TAKEN = "taken"
LEFT_OUT = "left-out"
AS_TOLD = "as-told"
"""The way of a choice that a draft leaves empty: the talk named the other one only."""
_KINDS = ("choose", "option", "follow")


class StepEntry(Node):
    """A step at this point of the sequence, named by its id."""

    kind: Literal["step"] = "step"
    step: Text


class Choose(Node):
    """Exactly one branch of ``between`` is walked."""

    kind: Literal["choose"] = "choose"
    id: Text
    title: Text | None = None
    when: Text | None = None
    between: Named[Sequence] = Field(min_length=2)


class Option(Node):
    """``steps`` are walked or left out."""

    kind: Literal["option"] = "option"
    id: Text
    title: Text | None = None
    when: Text | None = None
    steps: Sequence = Field(min_length=1)


class Follow(Node):
    """The branch walked here is the one taken earlier at ``choice``; an option has ``taken`` and ``left-out``."""

    kind: Literal["follow"] = "follow"
    choice: Text
    branches: Named[Sequence] = Field(alias="with", min_length=1)


def _folded(value: Any) -> Any:
    """Write the kind of an entry into it: a bare id is a step, ``{choose: {...}}`` a choice. It selects one schema."""
    if isinstance(value, Text):
        return {"kind": "step", "step": value, WHERE_KEY: Where(value.at)}
    if isinstance(value, dict) and "kind" not in value:
        kinds = [key for key in value if key in _KINDS]
        others = [key for key in value if key not in _KINDS and key != WHERE_KEY]
        inner = value[kinds[0]] if len(kinds) == 1 else None
        if others or not isinstance(inner, dict) or "kind" in inner:
            raise PydanticCustomError("entry", "{found}", {"found": ", ".join([*kinds, *others])})
        return {**inner, "kind": str(kinds[0])}
    return value


Entry = Annotated[
    Annotated[StepEntry | Choose | Option | Follow, Field(discriminator="kind")], BeforeValidator(_folded)
]
Sequence = tuple[Entry, ...]

for _model in (Choose, Option, Follow):
    _model.model_rebuild()


def branches(entry: Entry) -> Iterator[tuple[str, Sequence]]:
    """Yield ``(branch name, sequence)`` of an entry that has branches; an option has ``taken`` and ``left-out``."""
    if isinstance(entry, Choose):
        yield from entry.between.items()
    elif isinstance(entry, Option):
        yield TAKEN, entry.steps
        yield LEFT_OUT, ()
    elif isinstance(entry, Follow):
        yield from entry.branches.items()


def every_entry(sequence: Sequence) -> Iterator[Entry]:
    """Yield every entry of ``sequence`` in the order it is written, those inside branches too."""
    for entry in sequence:
        yield entry
        if not isinstance(entry, StepEntry):
            for _, inner in branches(entry):
                yield from every_entry(inner)

"""New values as YAML in the manner of the manual: short lists of names on one line, everything else line by line."""

from dataclasses import dataclass

from builder.edit.changes import Value
from builder.edit.scalars import as_key, block, inline

_LINE_BY_LINE = frozenset(
    {"actions", "sequence", "kit", "figure", "dose", "between", "with", "choose", "option", "follow", "accept"}
    | {"before_you_start", "pointers", "bands"}
)
"""Keys whose lists and mappings are easier to read line by line, however short."""
_BLOCK_ENTRIES = frozenset({"actions", "sequence", "figure", "dose", "accept", "steps"})
_ONE_LINE = 90
_NAME = 44


@dataclass(frozen=True, slots=True)
class Manner:
    """How a file is written: its line ending, and by how much a list is indented below its key.

    ``has_blocks``: texts of several lines may be written as such, not in quotation marks with ``\\n``.
    """

    newline: str = "\n"
    dash: int = 2
    has_blocks: bool = True


def pair(key: str, value: Value, column: int, manner: Manner) -> str:
    """Return ``key: value`` whose key stands in ``column`` (from 0); no indent in front, no line end behind."""
    head = f"{as_key(key)}:"
    if value is None:
        return head
    if isinstance(value, str):
        return f"{head} {text(value, column + 2, manner)}"
    if not value or _on_one_line(value, key):
        return f"{head} {flow(value)}"
    inner = column + (manner.dash if isinstance(value, list) else 2)
    return f"{head}{manner.newline}{' ' * inner}{lines(value, inner, key, manner)}"


def entry(value: Value, column: int, name: str, manner: Manner) -> str:
    """Return ``- value`` whose dash stands in ``column``; ``name`` is the key of the list."""
    if value is None:
        return "-"
    if isinstance(value, str):
        return f"- {text(value, column + 2, manner)}"
    if isinstance(value, list) or not value or (name not in _BLOCK_ENTRIES and _on_one_line(value, "")):
        return f"- {flow(value)}"
    return f"- {lines(value, column + 2, name, manner)}"


def lines(value: Value, column: int, name: str, manner: Manner) -> str:
    """Return a list or mapping line by line, each line after the first indented by ``column``."""
    gap = manner.newline + " " * column
    if isinstance(value, dict):
        return gap.join(pair(key, inner, column, manner) for key, inner in value.items())
    assert isinstance(value, list)
    return gap.join(entry(inner, column, name, manner) for inner in value)


def text(words: str, indent: int, manner: Manner) -> str:
    """Return ``words`` as a value in a block: on one line, or as a block of lines where it has several."""
    if manner.has_blocks and "\n" in words:
        written = block(words, "|", indent, manner.newline)
        if written is not None:
            return written
    return inline(words)


def flow(value: Value) -> str:
    """Return ``value`` on one line, in brackets and braces."""
    if value is None:
        return "null"
    if isinstance(value, str):
        return inline(value, in_flow=True)
    if isinstance(value, list):
        return f"[{', '.join(flow(inner) for inner in value)}]"
    return "{" + ", ".join(f"{as_key(key)}: {flow(inner)}" for key, inner in value.items()) + "}"


def _on_one_line(value: Value, key: str) -> bool:
    if key in _LINE_BY_LINE:
        return False
    if isinstance(value, list):
        simple = all(isinstance(inner, str) and len(inner) <= _NAME and "\n" not in inner for inner in value)
        return simple and len(flow(value)) <= _ONE_LINE
    assert isinstance(value, dict)
    inner_simple = all(not isinstance(inner, dict) and not _has_deep(inner) for inner in value.values())
    return inner_simple and len(flow(value)) <= _ONE_LINE


def _has_deep(value: Value) -> bool:
    if isinstance(value, list):
        return any(not isinstance(inner, str) for inner in value)
    return isinstance(value, str) and "\n" in value

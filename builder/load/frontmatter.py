"""YAML front matter as plain values with places.

The C composer gives nodes with marks at full speed; the values are made here, so that every scalar stays the text that
was written (``on`` is a word and ``0.50`` keeps its zero) until the model says what it must be.
"""

from __future__ import annotations

from dataclasses import dataclass

import yaml

from builder.finding import Finding
from builder.load import limits
from builder.load.problems import finding, refuse
from builder.place import WHERE_KEY, Marks, Origin, Place, Text, Where

_Loader = getattr(yaml, "CSafeLoader", yaml.SafeLoader)
_FENCE = "---"
_EMPTY = frozenset({"", "~", "null", "Null", "NULL"})

Value = Text | list["Value"] | dict[str, "Value"] | None

# What YAML says, and what an educator can act on.
_PLAIN_WORDS = (
    ("mapping values are not allowed", "a colon inside the text", "Put the whole text in double quotes."),
    ("found character that cannot start any token", "a tab, @ or ` where a value should start",
     "Use spaces to indent, or put the text in double quotes."),
    ("while scanning an alias", "a * at the start of a value", "Put the whole text in double quotes."),
    ("while scanning an anchor", "a & at the start of a value", "Put the whole text in double quotes."),
    ("undefined alias", "a * at the start of a value", "Put the whole text in double quotes."),
    ("while scanning a quoted scalar", "a quotation mark that is opened and not closed", "Close the quotation mark."),
    ("did not find expected key", "a line that does not fit the lines above it",
     "Start it in the same column as the lines it belongs to, and close every quotation mark and bracket."),
    ("did not find expected ',' or", "a bracket that is opened and not closed, or a missing comma",
     "Close the bracket, and put commas between its items."),
    ("did not find expected node content", "a bracket or comma with nothing behind it", "Write the missing value."),
    ("could not find expected ':'", "a line without a colon", "Write it as `key: value`, or indent it below its key."),
    ("exceeded maximum nesting depth", "too many levels inside one another", "Write it flatter."),
    ("block sequence entries are not allowed", "a dash where none can stand", "Put the list on a line of its own."),
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class Split:
    """A file cut in two: ``front`` (YAML text, from line 2) and ``body`` (Markdown, from line ``body_line``)."""

    front: str
    body: str
    body_line: int


def split(text: str, file: str) -> Split:
    """Cut ``text`` at its ``---`` lines. Raises Refused where they are missing."""
    lines = text.split("\n")
    if lines[0].rstrip() != _FENCE:
        raise refuse(
            "LD07",
            Place(file),
            f"{lines[0][:40]!r} stands where the front matter should start",
            "Start the file with a line `---`, the front matter, and another line `---`.",
        )
    for number, line in enumerate(lines[1:], start=2):
        if line.rstrip() == _FENCE:
            return Split("\n".join(lines[1 : number - 1]), "\n".join(lines[number:]), number + 1)
    raise refuse("LD08", Place(file), "the front matter is not closed", "Add a line `---` where the prose begins.")


def read_values(text: str, file: str, first_line: int = 1) -> tuple[Value, list[Finding]]:
    """Return the values of one YAML text that starts at ``first_line`` of ``file``, and what is wrong with it.

    Mappings are dicts whose keys are Text and which hold their places under ``WHERE_KEY``. Raises Refused where the
    text is no YAML at all or passes a bound.
    """
    try:
        node = yaml.compose(text, Loader=_Loader)
    except yaml.MarkedYAMLError as error:
        raise _unreadable(error, file, first_line) from None
    except (yaml.YAMLError, ValueError) as error:
        message = "the front matter holds a character that cannot be read"
        raise refuse("LD09", Place(file, first_line), message, f"Remove the character ({error}).") from None
    reader = _Reader(file, first_line)
    return (None if node is None else reader.value(node, 1)), reader.findings


def _unreadable(error: yaml.MarkedYAMLError, file: str, first_line: int) -> Exception:
    mark = error.problem_mark or error.context_mark
    at = Place(file, first_line + mark.line, mark.column + 1) if mark else Place(file, first_line)
    said = f"{error.context or ''} {error.problem or ''}"
    for words, meaning, hint in _PLAIN_WORDS:
        if words in said:
            return refuse("LD09", at, f"the front matter cannot be read: {meaning}", hint)
    return refuse(
        "LD09",
        at,
        f"the front matter cannot be read: {said.strip()}",
        "Compare the line with a module that works: `key: value`, lists with dashes, text with colons in quotes.",
    )


class _Reader:
    """Turns nodes into values, counting them: an alias that is expanded again and again counts again.

    Every value of a department passes through here, so the loop does no more than it must.
    """

    def __init__(self, file: str, first_line: int) -> None:
        self.origin = Origin(file, first_line)
        self.count = 0
        self.findings: list[Finding] = []

    def value(self, node: yaml.Node, depth: int) -> Value:
        self.count += 1
        if self.count > limits.MAX_VALUES or depth > limits.MAX_NESTING:
            raise refuse(
                "LD11",
                self.origin.place(node.start_mark),
                f"the front matter has more than {limits.MAX_VALUES} values or {limits.MAX_NESTING} levels",
                "Write it shorter and flatter; repeated parts (aliases) count each time.",
            )
        if isinstance(node, yaml.ScalarNode):
            if node.style is None and node.value in _EMPTY:
                return None
            return self.text(node)
        if isinstance(node, yaml.SequenceNode):
            return [self.value(item, depth + 1) for item in node.value]
        return self.mapping(node, depth)

    def text(self, node: yaml.Node) -> Text:
        text = str.__new__(Text, node.value)
        text.origin = self.origin
        text.mark = node.start_mark
        return text

    def mapping(self, node: yaml.Node, depth: int) -> dict[str, Value]:
        found: dict[str, Value] = {}
        marks: dict[str, Marks] = {}
        for key_node, value_node in node.value:
            if type(key_node) is not yaml.ScalarNode:
                raise self.refuse_key(key_node)
            name = self.text(key_node)
            if name in found:
                self.findings.append(_twice(name, self.origin.place(marks[name][0])))
                continue
            found[name] = self.value(value_node, depth + 1)
            is_list = type(value_node) is yaml.SequenceNode
            items = tuple([item.start_mark for item in value_node.value]) if is_list else ()
            marks[name] = (key_node.start_mark, value_node.start_mark, items)
        where = Where(self.origin.place(node.start_mark), self.origin, marks)
        found[WHERE_KEY] = where  # type: ignore[assignment]  # never seen as a value
        return found

    def refuse_key(self, node: yaml.Node) -> Exception:
        at = self.origin.place(node.start_mark)
        return refuse("LD09", at, "a list or block stands where a key should", "Write the key as one word.")


def _twice(name: Text, first: Place) -> Finding:
    message = f"{str(name)!r} is written twice; first in line {first.line}"
    return finding("LD10", name.at, message, "Keep one of the two, or join them.")

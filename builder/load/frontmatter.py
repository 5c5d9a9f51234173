"""YAML front matter as plain values with places: composed, not loaded.

PyYAML's C composer gives nodes with marks at full speed. The values are made here, so that every scalar stays the text
that was written (``on:`` stays a word, ``0.50`` keeps its zero) until the model says what it must be. Places are worked
out when somebody asks for them: a finding is rare, a value is not.
"""

import re
from dataclasses import dataclass

import yaml

from builder.findings.finding import Finding
from builder.findings.message_words import quoted
from builder.findings.register import finding, refuse
from builder.load import limits
from builder.load.unread import explain, unread
from builder.place import WHERE_KEY, Marks, Origin, Place, Text, Where


class _Loader(getattr(yaml, "CSafeLoader", yaml.SafeLoader)):  # type: ignore[misc]  # the one that is there
    """Composes nodes and asks of none what it would be loaded as: nothing is loaded, and asking takes half the time.

    All that is written is tagged as text. ``str.format`` of a text without braces takes whatever it is given and
    returns the text, without a call into Python for each value of a department.
    """

    descend_resolver = staticmethod("".format)
    ascend_resolver = staticmethod("".format)
    resolve = staticmethod("tag:yaml.org,2002:str".format)


_FENCE = "---"
_CLOSING = re.compile(r"^---[^\S\n]*$", re.MULTILINE)
# YAML refuses the controls, and takes the last four for ends of lines, so that every later line has a wrong number.
_CONTROLS = re.compile("[\x01-\x08\x0b\x0c\x0e-\x1f\x7f-\x9f\u2028\u2029\ufeff\ufffe\uffff]")
_EMPTY = frozenset({"", "~", "null", "Null", "NULL"})

Value = Text | list["Value"] | dict[str, "Value"] | None


@dataclass(frozen=True, slots=True)
class Split:
    """A file cut in two: ``front`` (YAML text, from line 2) and ``body`` (Markdown, from line ``body_line``)."""

    front: str
    body: str
    body_line: int


def without_controls(text: str) -> str:
    """Return ``text`` with a space for each control character, so that the rest is read; a check names it."""
    # What is printable holds none, and asking costs a hundredth of looking.
    return text if text.replace("\n", " ").isprintable() else _CONTROLS.sub(" ", text)


def split(text: str, file: str) -> Split:
    """Cut ``text`` at its ``---`` lines. Raises Refused where they are missing."""
    first, _, rest = text.partition("\n")
    if first.rstrip() != _FENCE:
        message = f"{quoted(first[:40])} is where the front matter should start"
        hint = "Start the file with a line `---`, the front matter, and another line `---`."
        raise refuse("front-matter-missing", Place(file), message, hint)
    closing = _CLOSING.search(rest)
    if closing is not None:
        front = rest[: max(0, closing.start() - 1)]
        return Split(front, rest[closing.end() + 1 :], rest.count("\n", 0, closing.start()) + 3)
    hint = "Add a line `---` where the prose begins."
    raise refuse("front-matter-not-closed", Place(file), "the front matter is not closed", hint)


def read_values(text: str, file: str, first_line: int = 1) -> tuple[Value, list[Finding]]:
    """Return the values of one YAML text that starts at ``first_line`` of ``file``, and what is wrong with it.

    Mappings are dicts whose keys are Text and which hold their places under ``WHERE_KEY``. Raises Refused where the
    text is not YAML at all or passes a bound.
    """
    try:
        node = yaml.compose(text, Loader=_Loader)
    except yaml.MarkedYAMLError as error:
        line, column, meaning, hint = explain(error, text)
        at, message = Place(file, first_line + line, column + 1), f"the front matter cannot be read: {meaning}"
        raise refuse("front-matter-unreadable", at, message, hint) from None
    except (yaml.YAMLError, ValueError) as error:
        at, message = Place(file, first_line), "the front matter contains a character that cannot be read"
        raise refuse("front-matter-unreadable", at, message, f"Remove the character ({error}).") from None
    reader = _NodeReader(file, first_line)
    value = None if node is None else reader.value(node, 1)
    for line, column, words, hint in unread(text, _Loader):
        message = f"{quoted(words)} would be lost: YAML does not read it as text"
        reader.findings.append(finding("text-not-read", Place(file, first_line + line, column + 1), message, hint))
    return value, reader.findings


class _NodeReader:
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
            message = f"the front matter has more than {limits.MAX_VALUES} values or {limits.MAX_NESTING} levels"
            hint = "Shorten it and use fewer levels of indentation; repeated parts (aliases) count each time."
            raise refuse("front-matter-too-large", self.origin.place(node.start_mark), message, hint)
        if isinstance(node, yaml.ScalarNode):
            if not node.style and node.value in _EMPTY:  # the style of a plain value is None, or "" from libyaml
                node.value = ""  # all that YAML calls nothing is an empty value, and named as one
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
        values: dict[str, Value] = {}
        marks: dict[str, Marks] = {}
        for key_node, value_node in node.value:
            if type(key_node) is not yaml.ScalarNode:
                at, message = self.origin.place(key_node.start_mark), "a list or block is where a key should be"
                raise refuse("front-matter-unreadable", at, message, "Write the key as one word.")
            name = self.text(key_node)
            if name in values:
                first = self.origin.place(marks[name][0])
                message = f"{quoted(name)} appears twice; first in line {first.line}"
                self.findings.append(
                    finding("key-written-twice", name.at, message, "Keep one of the two, or join them.")
                )
                continue
            values[name] = self.value(value_node, depth + 1)
            is_list = type(value_node) is yaml.SequenceNode
            items = tuple([item.start_mark for item in value_node.value]) if is_list else ()
            marks[name] = (key_node.start_mark, value_node.start_mark, items)
        where = Where(self.origin.place(node.start_mark), self.origin, marks)
        values[WHERE_KEY] = where  # type: ignore[assignment]  # never seen as a value
        return values

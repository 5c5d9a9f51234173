"""Values as YAML: a text the way it was written where that still fits, and always so that our loader reads it the same.

New values are in the manner of the manual: short lists of names on one line, everything else line by line.
"""

import json
import re
import textwrap
from dataclasses import dataclass

import yaml

from builder.edit.file_change import Value
from builder.load.unread import unread

LOADER = getattr(yaml, "CSafeLoader", yaml.SafeLoader)
BLOCK_STYLES = ("|", ">")
_EMPTY = frozenset({"~", "null", "Null", "NULL"})
_UNPRINTABLE = re.compile("[\x7f-\x9f\u2028\u2029\ufeff\ufffe\uffff]")
_WIDTH = 100


def inline(words: str, style: str | None = None, in_flow: bool = False) -> str:
    """Return ``words`` as YAML on one line: in the quotation marks of ``style``, or plain where it reads back so."""
    if style == "'" and "\n" not in words and reads_back(single(words), words, in_flow):
        return single(words)
    if style == '"' or not _plain(words, in_flow):
        return double(words)
    return words


def as_key(words: str, style: str | None = None) -> str:
    """Return ``words`` as the key of a mapping."""
    if style == "'" and "\n" not in words:
        return single(words)
    same = style != '"' and _plain(words, in_flow=True) and _key_reads_back(words)
    return words if same else double(words)


def block(words: str, style: str, indent: int, newline: str) -> str | None:
    """Return ``words`` as a literal (``|``) or folded (``>``) block whose lines are indented by ``indent``.

    The first line is the header. None where the text cannot be written so.
    """
    ending = "" if words.endswith("\n") else "-"
    lines = words.removesuffix("\n").split("\n")
    if style == ">":
        if any(line[:1] in (" ", "\t") for line in lines):
            style = "|"
        else:
            lines = _folded(lines)
    # Empty lines at the end would count as the text's own (`+`), and whoever tidies the file would lose them.
    if not words.strip() or lines[0][:1] in (" ", "\t", "") or words.endswith("\n\n"):
        return None
    margin = " " * max(indent, 1)
    written = newline.join([f"{style}{ending}", *(margin + line if line else "" for line in lines)])
    return written if _block_reads_back(written, words, newline) else None


def _folded(lines: list[str]) -> list[str]:
    """Return the source lines of a folded text: a line's end inside it is written as an empty line."""
    found: list[str] = []
    for number, line in enumerate(lines):
        wrapped = textwrap.wrap(line, _WIDTH, break_long_words=False, break_on_hyphens=False)
        found += ([""] if number else []) + (wrapped if " ".join(wrapped) == line else [line])
    return found


def double(words: str) -> str:
    """Return ``words`` in double quotation marks."""
    return _UNPRINTABLE.sub(lambda sign: f"\\u{ord(sign[0]):04x}", json.dumps(words, ensure_ascii=False))


def single(words: str) -> str:
    """Return ``words`` in single quotation marks."""
    return "'" + words.replace("'", "''") + "'"


def reads_back(written: str, words: str, in_flow: bool) -> bool:
    """Tell whether ``written`` is read as ``words`` wherever a value can stand, by the quick and the strict reader."""
    forms = ("[{}, x]\n", "{{k: {}}}\n") if in_flow else ("- {}\n", "k: {}\n", "- k: {}\n")
    texts = [form.format(written) for form in forms]
    return all(_value_of(text, reader) == words for text in texts for reader in (LOADER, yaml.SafeLoader))


def _plain(words: str, in_flow: bool) -> bool:
    if not words or words in _EMPTY or words != words.strip() or "\n" in words:
        return False
    return reads_back(words, words, in_flow) and not any(unread(f"k: {words}", LOADER))


def _value_of(text: str, reader: type) -> str | None:
    """Return the text of the first scalar that is no key; None where there is none or it is more than a scalar."""
    node = _composed(text, reader)
    while isinstance(node, yaml.CollectionNode):
        wanted = 2 if isinstance(node, yaml.SequenceNode) and node.flow_style else 1
        if len(node.value) != wanted:
            return None
        node = node.value[0][1] if isinstance(node, yaml.MappingNode) else node.value[0]
    return node.value if isinstance(node, yaml.ScalarNode) and _is_bare(text) else None


def _is_bare(text: str) -> bool:
    """Tell whether nothing is taken for an anchor, an alias or a tag."""
    marks = (yaml.AnchorToken, yaml.AliasToken, yaml.TagToken)
    return not any(isinstance(token, marks) for token in yaml.scan(text, Loader=LOADER))


def _key_reads_back(words: str) -> bool:
    node = _composed(f"{words}: x\n")
    if not isinstance(node, yaml.MappingNode) or len(node.value) != 1:
        return False
    return bool(node.value[0][0].value == words and node.value[0][1].value == "x")


def _block_reads_back(written: str, words: str, newline: str) -> bool:
    node = _composed(f"k: {written}{newline}")
    return isinstance(node, yaml.MappingNode) and len(node.value) == 1 and node.value[0][1].value == words


def _composed(text: str, reader: type = LOADER) -> yaml.Node | None:
    try:
        return yaml.compose(text, Loader=reader)
    except (yaml.YAMLError, ValueError):
        return None


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

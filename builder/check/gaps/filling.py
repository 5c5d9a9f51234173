"""Puts an answer into the front matter of a step and touches nothing else: comments, order and line ends stay."""

from __future__ import annotations

import json
import re

import yaml

from builder.model.pages import Step

_ORDER = tuple(name for name in Step.model_fields if name not in ("where", "id", "body", "accept"))
_LISTS = frozenset({"at_risk", "evidence"})
_COMMON_PRACTICE = re.compile(r"common[ _-]practice\.?", re.IGNORECASE)
_SEPARATOR = re.compile(r"\s*[,;\n]\s*|\s+and\s+")


class AlreadyAnswered(Exception):
    """Raised where the step has a value for the key; nothing that is written is replaced."""


def filled(text: str, key: str, words: str) -> str:
    """Return ``text``, a step's file, with ``words`` as the value of ``key``.

    A key that stands there empty gets the value; a new key goes behind the one it follows in the manual. Raises
    AlreadyAnswered where the key has a value.
    """
    key, value = entry(key, words)
    lines = text.split("\n")
    ending = "\r" if lines[0].endswith("\r") else ""
    closing = next(number for number, line in enumerate(lines) if number and line.rstrip() == "---")
    front = "\n".join(lines[1:closing])
    root = yaml.compose(front, Loader=yaml.SafeLoader)
    keys = {node.value: (node, value_node) for node, value_node in root.value} if root is not None else {}
    if key in keys:
        node, value_node = keys[key]
        if not (isinstance(value_node, yaml.ScalarNode) and value_node.value in ("", "~", "null")):
            raise AlreadyAnswered(key)
        number = _line(front, node.start_mark)
        lines[number] = _with_value(lines[number], key, value, ending)
    else:
        before = set(_ORDER[: _ORDER.index(key)])
        ends = [_end(lines, front, pair, closing) for name, pair in keys.items() if name in before]
        at = max(ends, default=1)
        lines.insert(at, f"{key}: {value}{ending}")
    return "\n".join(lines)


def entry(key: str, words: str) -> tuple[str, str]:
    """Return the key and the value as YAML on one line: text, or a list of names with commas between them."""
    words = " ".join(words.split())
    if key == "evidence" and _COMMON_PRACTICE.fullmatch(words):
        return "common_practice", "true"
    if key in _LISTS:
        return key, f"[{', '.join(_scalar(name) for name in names(words))}]"
    return key, _scalar(words)


def names(words: str) -> list[str]:
    """Return the names in an answer that lists them with commas, semicolons, dashes or ``and``."""
    parts = _SEPARATOR.split(words)
    return [part.strip(" .-*") for part in parts if part.strip(" .-*")]


def _scalar(words: str) -> str:
    """Return ``words`` as YAML: plain where it reads back as the same text, else in double quotes."""
    try:
        root = yaml.compose(f"a: [{words}]\nb: {words}\n", Loader=yaml.SafeLoader)
        assert isinstance(root, yaml.MappingNode)
        (_, inside), (_, alone) = root.value
        same = [one.value for one in inside.value] == [words] and alone.value == words
        plain = same and isinstance(alone, yaml.ScalarNode) and alone.style is None
    except (yaml.YAMLError, ValueError, AttributeError):
        plain = False
    return words if plain else json.dumps(words, ensure_ascii=False)


def _with_value(line: str, key: str, value: str, ending: str) -> str:
    """Return the line of an empty key with its value; a comment behind it stays."""
    comment = re.search(r"\s+#.*", line)
    return f"{key}: {value}{comment.group().rstrip() if comment else ''}{ending}"


def _line(front: str, mark: yaml.Mark) -> int:
    """Return the number of the line of the file in which ``mark`` stands; line 0 is the opening fence."""
    return front.count("\n", 0, mark.index) + 1


def _end(lines: list[str], front: str, pair: tuple[yaml.Node, yaml.Node], closing: int) -> int:
    """Return the number of the line behind a key's block; comments at the margin belong to what follows."""
    key, value = pair
    if isinstance(value, yaml.ScalarNode) and value.style not in ("|", ">"):
        return _line(front, value.end_mark) + 1
    if isinstance(value, yaml.CollectionNode) and value.flow_style:
        return _line(front, value.end_mark) + 1
    number = _line(front, key.start_mark) + 1
    while number < closing and (not lines[number].strip() or lines[number][0] in " \t-"):
        number += 1
    while not lines[number - 1].strip():
        number -= 1
    return number

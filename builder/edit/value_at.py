"""Which value stands at a line and column of a file."""

from __future__ import annotations

import yaml

from builder.edit.file_text import FileText, keep_lines
from builder.edit.values import Path


def path_at(sheet: FileText, line: int, column: int) -> Path:
    """Return the way to the deepest value at ``line`` and ``column`` of the file, both from 1; ``()`` for none."""
    lines = keep_lines(sheet.front)
    number = line - sheet.first_line
    if not 0 <= number < len(lines):
        return ()
    index = sum(map(len, lines[:number])) + column - 1
    path: list[str | int] = []
    node = sheet.root
    while node is not None:
        found = _inside(sheet, node, index)
        if found is None:
            break
        part, node = found
        path.append(part)
    return tuple(path)


def _inside(sheet: FileText, node: yaml.Node, index: int) -> tuple[str | int, yaml.Node] | None:
    if isinstance(node, yaml.MappingNode):
        for key, value in node.value:
            if key.start_mark.index <= index <= sheet.content_end(value):
                return str(key.value), value
    elif isinstance(node, yaml.SequenceNode):
        for number, value in enumerate(node.value):
            if value.start_mark.index <= index <= sheet.content_end(value):
                return number, value
    return None

"""Keys of a mapping: put in at their usual place, taken out, renamed."""

from __future__ import annotations

from collections.abc import Sequence

import yaml

from builder.edit.file_text import FileText, keep_lines
from builder.edit.scalars import BLOCK_STYLES, as_key
from builder.edit.values import Value
from builder.edit.writing import flow, pair


def with_key(sheet: FileText, node: yaml.MappingNode, name: str, value: Value, order: Sequence[str]) -> FileText:
    """Return ``sheet`` with a new key in ``node``, a mapping that is not empty, behind the key it usually follows."""
    pairs = sheet.pairs(node)
    before = set(order[: order.index(name)] if name in order else pairs)
    ahead = [found for found in pairs if found in before]
    if node.flow_style:
        written = f"{as_key(name)}: {flow(value)}"
        if ahead:
            end = sheet.content_end(pairs[ahead[-1]][1])
            return sheet.spliced(end, end, f", {written}")
        start = node.value[0][0].start_mark.index
        return sheet.spliced(start, start, f"{written}, ")
    first = node.value[0][0].start_mark.index
    column = sheet.column(first)
    written = pair(name, value, column, sheet.manner)
    if not ahead:
        return _first(sheet, first, column, written)
    at = sheet.line_end(sheet.content_end(pairs[ahead[-1]][1]))
    return sheet.spliced(at, at, f"{missing_end(sheet, at)}{' ' * column}{written}{sheet.newline}")


def _first(sheet: FileText, first: int, column: int, written: str) -> FileText:
    """Put a key before all others, and before the remarks that belong to the one that was first."""
    start = sheet.line_start(first)
    if sheet.front[start:first].strip(" "):  # behind the dash of a list entry
        return sheet.spliced(first, first, f"{written}{sheet.newline}{' ' * column}")
    at = with_remarks(sheet, start, column, 0)
    return sheet.spliced(at, at, f"{' ' * column}{written}{sheet.newline}")


def with_remarks(sheet: FileText, start: int, column: int, least: int) -> int:
    """Return where the remarks directly above the line at ``start`` begin, not before ``least``."""
    while start > least:
        above = sheet.line_start(start - (2 if sheet.front[start - 2 : start] == "\r\n" else 1))
        line = sheet.front[above:start]
        if above < least or not line[column:].startswith("#") or line[:column].strip(" "):
            break
        start = above
    return start


def missing_end(sheet: FileText, at: int) -> str:
    """Return the line end that the last line of a file lacks, where something is to follow it."""
    return sheet.newline if at and sheet.front[at - 1] not in "\r\n" else ""


def without_key(sheet: FileText, node: yaml.MappingNode, name: str) -> FileText:
    """Return ``sheet`` without the key ``name`` of ``node``, which has others. Remarks above the key are kept."""
    pairs = list(sheet.pairs(node).values())
    number = list(sheet.pairs(node)).index(name)
    key, value = pairs[number]
    start, end = key.start_mark.index, sheet.content_end(value)
    following = pairs[number + 1][0].start_mark.index if number + 1 < len(pairs) else None
    if node.flow_style:
        if following is not None:
            return sheet.spliced(start, following, "")
        return sheet.spliced(sheet.content_end(pairs[number - 1][1]), end, "")
    line = sheet.line_start(start)
    if not sheet.front[line:start].strip(" "):
        last = pairs[number - 1][1] if number else None
        stop, remarks = _remarks_behind(sheet, end, sheet.column(start)) if _ends_in_block(last) else (0, "")
        return sheet.spliced(line, max(stop, sheet.line_end(end)), remarks)
    assert following is not None  # it is the first behind a dash, and not the only one
    between = sheet.front[sheet.line_end(end) : following]
    return sheet.spliced(start, end if between.strip() else following, "")


def _ends_in_block(node: yaml.Node | None) -> bool:
    """Tell whether the last text of ``node`` is written line by line, so that what is set in below is more."""
    while isinstance(node, yaml.CollectionNode) and node.value:
        node = node.value[-1][1] if isinstance(node, yaml.MappingNode) else node.value[-1]
    return isinstance(node, yaml.ScalarNode) and node.style in BLOCK_STYLES


def _remarks_behind(sheet: FileText, end: int, column: int) -> tuple[int, str]:
    """Return where the remarks behind ``end`` that are set in stop, and the remarks no longer set in."""
    stop = sheet.line_end(end)
    found = ""
    for line in keep_lines(sheet.front[stop:]):
        bare = line.lstrip(" ")
        is_set_in = bare.startswith("#") and len(line) - len(bare) > column
        if not is_set_in and bare.strip("\r\n"):
            break
        found += " " * column + bare if is_set_in else line
        stop += len(line)
    return stop, found


def renamed(sheet: FileText, node: yaml.MappingNode, name: str, new: str) -> FileText:
    """Return ``sheet`` with the key ``name`` of ``node`` called ``new``."""
    key = sheet.pairs(node)[name][0]
    style = key.style if as_key(new) != new or key.style != '"' else None
    return sheet.spliced(key.start_mark.index, key.end_mark.index, as_key(new, style))

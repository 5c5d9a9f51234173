"""One value in place of another, where it stands; the remark behind it stays."""

import re

import yaml

from builder.edit.file_change import Path, Value
from builder.edit.file_text import FileText, keep_lines
from builder.edit.writing import BLOCK_STYLES, block, entry, flow, inline, pair

_HEADER = re.compile(r"[|>][0-9+-]*(?P<remark>[ \t]+#[^\r\n]*)?")


def scalar_replaced(sheet: FileText, path: Path, node: yaml.ScalarNode, words: str, in_flow: bool) -> FileText:
    """Return ``sheet`` with ``words`` in place of the text ``node``, in its manner where they fit it."""
    start, end = node.start_mark.index, sheet.content_end(node)
    blocked = node.style in BLOCK_STYLES
    header = _HEADER.match(sheet.front, start) if blocked else None
    remark = (header["remark"] or "") if header else sheet.front[end : _line_stop(sheet, end)]
    space = " " if start == end and sheet.front[start - 1 : start] not in (" ", "") else ""
    if sheet.has_blocks and not in_flow and (blocked or "\n" in words):
        style = node.style if blocked and node.style else "|"
        written = block(words, style, _indent(sheet, path, node, blocked), sheet.newline)
        if written is not None:
            first, rest = written[: written.index(sheet.newline)], written[written.index(sheet.newline) :]
            stop = end if blocked else _line_stop(sheet, end)
            return sheet.spliced(start, stop, space + first + remark.rstrip() + rest)
    written = inline(words, None if blocked else node.style, in_flow)
    return sheet.spliced(start, end, space + written + (remark.rstrip() if blocked else ""))


def _line_stop(sheet: FileText, index: int) -> int:
    """Return where the line of ``index`` ends, before its line end."""
    end = sheet.line_end(index)
    return len(sheet.front[:end].rstrip("\r\n")) if end > index else index


def _indent(sheet: FileText, path: Path, node: yaml.ScalarNode, blocked: bool) -> int:
    """Return how far the lines of a text are indented: as they were, else two more than what holds them."""
    if blocked:
        lines = keep_lines(sheet.front[node.start_mark.index : sheet.content_end(node)])[1:]
        found = [len(line) - len(line.lstrip(" ")) for line in lines if line.strip()]
        if found and found[0]:
            return min(found)
    return _column(sheet, path) + 2


def _column(sheet: FileText, path: Path) -> int:
    """Return the column of the key or dash that holds the value at ``path``."""
    holder = sheet.node(path[:-1])
    if isinstance(holder, yaml.MappingNode):
        return sheet.column(sheet.pairs(holder)[str(path[-1])][0].start_mark.index)
    return sheet.column(holder.start_mark.index)


def replaced(sheet: FileText, path: Path, node: yaml.Node, value: Value, in_flow: bool) -> FileText:
    """Return ``sheet`` with ``value``, of another kind, in place of ``node``."""
    start, end = node.start_mark.index, sheet.content_end(node)
    if not path or in_flow:
        return sheet.spliced(start, end, flow(value))
    holder = sheet.node(path[:-1])
    last = path[-1]
    if isinstance(holder, yaml.MappingNode):
        key = sheet.pairs(holder)[str(last)][0]
        whole = pair(str(last), value, sheet.column(key.start_mark.index), sheet.manner)
        head = pair(str(last), None, 0, sheet.manner)
        return _with_remark(sheet, sheet.front.index(":", key.end_mark.index), end, ":" + whole[len(head) :])
    assert isinstance(holder, yaml.SequenceNode)
    assert isinstance(last, int)
    name = next((part for part in reversed(path) if isinstance(part, str)), "")
    written = entry(value, sheet.column(holder.start_mark.index), name, sheet.manner)
    return _with_remark(sheet, sheet.dash_of(holder, last), end, written)


def _with_remark(sheet: FileText, start: int, end: int, written: str) -> FileText:
    """Put ``written`` there; where it takes several lines, the remark behind the old value stands in the first."""
    if sheet.newline not in written:
        return sheet.spliced(start, end, written)
    stop = _line_stop(sheet, end)
    first, rest = written.split(sheet.newline, 1)
    return sheet.spliced(start, stop, first + sheet.front[end:stop].rstrip() + sheet.newline + rest)

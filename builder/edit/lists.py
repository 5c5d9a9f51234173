"""Keys of a mapping and entries of a list: put in, taken out, renamed, put in another order.

An entry takes the remarks above and behind it along.
"""

from collections.abc import Sequence
from itertools import pairwise

import yaml

from builder.edit.file_change import CannotEdit, Value
from builder.edit.file_text import FileText, keep_lines
from builder.edit.writing import BLOCK_STYLES, as_key, entry, flow, lines, pair


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


def _spans(sheet: FileText, node: yaml.CollectionNode) -> list[tuple[int, int]]:
    """Return where each entry begins and ends in ``front``; what lies between two belongs to neither."""
    pairs = [one if isinstance(one, tuple) else (one, one) for one in node.value]
    if node.flow_style:
        return [(first.start_mark.index, sheet.content_end(last)) for first, last in pairs]
    column = sheet.column(node.start_mark.index)
    spans: list[tuple[int, int]] = []
    for number, (first, last) in enumerate(pairs):
        begin = sheet.dash_of(node, number) if isinstance(node, yaml.SequenceNode) else first.start_mark.index
        start = with_remarks(sheet, sheet.line_start(begin), column, spans[-1][1] if spans else 0)
        spans.append((start, sheet.line_end(sheet.content_end(last))))
    return spans


def arranged(sheet: FileText, node: yaml.CollectionNode, order: Sequence[int]) -> FileText:
    """Return ``sheet`` with the entries of ``node`` in ``order`` (their old numbers, at least one); others are gone.

    The entries of a mapping are its keys with their values.
    """
    spans = _spans(sheet, node)
    front = sheet.front
    parts = [front[start:end] for start, end in spans]
    gaps = [front[end:start] for (_, end), (start, _) in pairwise(spans)]
    first, last = spans[0][0], spans[-1][1]
    lead = ""
    for gone in sorted(set(range(len(parts))) - set(order), reverse=True):
        gap = gaps.pop(_gap_to_drop(gaps, gone)) if gaps else ""
        if not node.flow_style and gap.strip():
            if gone and gaps:
                gaps[min(gone, len(gaps)) - 1] += gap
            else:
                lead = gap + lead
    if node.flow_style:
        return sheet.spliced(first, last, _joined(parts, gaps, order))
    bare = front[:last][-1:] not in ("\n", "\r")
    parts = [part if part[-1:] in ("\n", "\r") else part + sheet.newline for part in parts]
    new = lead + _joined(parts, gaps, order)
    return sheet.spliced(first, last, new.removesuffix(sheet.newline) if bare else new)


def _gap_to_drop(gaps: list[str], gone: int) -> int:
    """Return which of the two gaps beside an entry goes with it: rather one without a remark in it."""
    after = min(gone, len(gaps) - 1)
    return after - 1 if after and gone == after and "#" in gaps[after] and "#" not in gaps[after - 1] else after


def _joined(parts: list[str], gaps: list[str], order: Sequence[int]) -> str:
    pieces = [parts[order[0]]]
    for slot, number in enumerate(order[1:]):
        pieces += [gaps[slot], parts[number]]
    return "".join(pieces)


def with_entry(sheet: FileText, node: yaml.SequenceNode, number: int, value: Value, name: str) -> FileText:
    """Return ``sheet`` with a new entry of ``node``, which is not empty, that stands at ``number``."""
    if node.flow_style:
        if number < len(node.value):
            start = node.value[number].start_mark.index
            return sheet.spliced(start, start, f"{flow(value)}, ")
        end = sheet.content_end(node.value[-1])
        return sheet.spliced(end, end, f", {flow(value)}")
    column = sheet.column(node.start_mark.index)
    return with_lines(sheet, node, number, _like_others(value, node, column, name, sheet))


def _like_others(value: Value, node: yaml.SequenceNode, column: int, name: str, sheet: FileText) -> str:
    """Write a new entry as its neighbours are written: mappings in braces, or line by line."""
    styles = {bool(one.flow_style) for one in node.value if isinstance(one, yaml.MappingNode)}
    if isinstance(value, dict) and value and styles == {True}:
        return f"- {flow(value)}"
    if isinstance(value, dict) and value and styles == {False}:
        return f"- {lines(value, column + 2, name, sheet.manner)}"
    return entry(value, column, name, sheet.manner)


def with_lines(sheet: FileText, node: yaml.SequenceNode, number: int, written: str) -> FileText:
    """Return ``sheet`` with ``written``, the first line of which is not indented, as entry ``number`` of ``node``."""
    spans = _spans(sheet, node)
    at = spans[number][0] if number < len(spans) else spans[-1][1]
    between = sheet.front[spans[0][1] : spans[1][0]] if len(spans) > 1 else ""
    blank = sheet.newline if between and not between.strip() else ""  # entries with an empty line between them
    margin = " " * sheet.column(node.start_mark.index)
    whole = f"{margin}{written}{sheet.newline}"
    if number < len(spans):
        return sheet.spliced(at, at, whole + blank)
    return sheet.spliced(at, at, missing_end(sheet, at) + blank + whole)


def captured(sheet: FileText, node: yaml.SequenceNode, number: int, wanted: int) -> str | None:
    """Return an entry with its remarks, as it is to be put where its dash stands in column ``wanted``.

    Its first line is not indented, and the last has no end. None in brackets.
    """
    if node.flow_style:
        return None
    start, end = _spans(sheet, node)[number]
    column = sheet.column(node.start_mark.index)
    kept = keep_lines(sheet.front[start:end])
    if any(line[:column].strip() for line in kept):
        return None
    first, *rest = (line[column:] if line.strip() else line.lstrip(" ") for line in kept)
    return (first + "".join(" " * wanted + line if line.strip() else line for line in rest)).rstrip("\r\n")


def as_list(sheet: FileText, node: yaml.Node, in_flow: bool) -> FileText:
    """Return ``sheet`` with the single value ``node`` written as a list of one."""
    start, end = node.start_mark.index, sheet.content_end(node)
    block = isinstance(node, yaml.MappingNode) and not node.flow_style
    if isinstance(node, yaml.ScalarNode) and node.style in ("|", ">"):
        raise CannotEdit("a text of several lines would have to become a list", "Write the list in the file.")
    if not block or in_flow:
        return sheet.spliced(start, end, f"[{sheet.front[start:end]}]")
    line = sheet.line_start(start)
    kept = keep_lines(sheet.front[line : sheet.line_end(end)])
    column = start - line
    moved = [f"{' ' * column}- {kept[0][column:]}", *(f"  {one}" if one.strip() else one for one in kept[1:])]
    return sheet.spliced(line, sheet.line_end(end), "".join(moved))

"""Makes one edit, value by value, each where it stands."""

import difflib
import json
from collections.abc import Mapping, Sequence

import yaml

from builder.edit.file_change import Drop, ListEntry, Ordered, Path, Put, Value, Wanted, at, settled
from builder.edit.file_text import FileText
from builder.edit.lists import (
    arranged,
    as_list,
    captured,
    missing_end,
    renamed,
    with_entry,
    with_key,
    with_lines,
    without_key,
)
from builder.edit.scalar_edit import replaced, scalar_replaced
from builder.edit.writing import lines, pair
from builder.model.action import VERBS
from builder.model.json_schema import keys_at


class Editor:
    """Makes one edit. ``opened`` is the file before the first, which the origins of rows speak of."""

    def __init__(self, kind: str, opened: FileText) -> None:
        self.kind = kind
        self.opened = opened

    def made(self, sheet: FileText, edit: Put | Drop) -> FileText:
        """Return ``sheet`` with the edit. Raises LookupError where its path leads nowhere."""
        if isinstance(edit, Drop):
            return self.drop(sheet, edit.path)
        return self.put(sheet, edit.path, edit.path, edit.wanted)

    def put(self, sheet: FileText, path: Path, was: Path | None, wanted: Wanted) -> FileText:
        """``was`` is where the value stood in the file as opened, as far as that is known."""
        if isinstance(wanted, ListEntry):
            return self.put(sheet, path, wanted.origin, wanted.value)
        try:
            old = at(sheet.data, path)
            if not path and old is None:
                raise LookupError
        except LookupError:
            return self.insert(sheet, path, settled(wanted))
        if old == settled(wanted) and not _moved(wanted):
            return sheet
        if isinstance(wanted, Mapping) and isinstance(old, dict) and wanted and old:
            return self.put_mapping(sheet, path, was, wanted)
        if isinstance(wanted, list) and wanted and old:
            return self.put_list(sheet, path, was, wanted)
        return self.replace(sheet, path, settled(wanted))

    def put_mapping(self, sheet: FileText, path: Path, was: Path | None, wanted: Mapping[str, Wanted]) -> FileText:
        """Change the keys that differ, rename what was renamed, drop what is gone."""
        old = at(sheet.data, path)
        assert isinstance(old, dict)
        gone = [key for key in old if key not in wanted]
        new = [key for key in wanted if key not in old]
        if len(gone) == 1 and len(new) == 1:
            # The verb of an action, or the name of a value that stays as it is, was changed.
            key, other = gone[0], new[0]
            if (key in VERBS and other in VERBS) or old[key] == settled(wanted[other]):
                sheet, gone = renamed(sheet, _mapping(sheet, path), key, other), []
        for key, inner in wanted.items():
            sheet = self.put(sheet, (*path, key), None if was is None else (*was, key), inner)
        for key in gone:
            sheet = self.drop(sheet, (*path, key))
        return self.put_keys_in_order(sheet, path, wanted) if isinstance(wanted, Ordered) else sheet

    def put_keys_in_order(self, sheet: FileText, path: Path, wanted: Ordered) -> FileText:
        """Bring the keys of a mapping into the order wanted; where one stands behind a dash, they stay as they are."""
        node = _mapping(sheet, path)
        keys = list(sheet.pairs(node))
        first = node.value[0][0].start_mark.index
        if keys == list(wanted) or (not node.flow_style and sheet.front[sheet.line_start(first) : first].strip(" ")):
            return sheet
        return arranged(sheet, node, [keys.index(key) for key in wanted])

    def put_list(self, sheet: FileText, path: Path, was: Path | None, wanted: Sequence[Wanted]) -> FileText:
        """Bring the entries into the order wanted, put in the new ones, then change each."""
        old = at(sheet.data, path)
        if not isinstance(old, list):
            if not any(settled(inner) == old or _came_from(inner, was) for inner in wanted):
                return self.replace(sheet, path, settled(wanted))
            sheet, old = as_list(sheet, sheet.node(path), self.in_flow(sheet, path)), [old]
        origins = _origins_of(old, wanted, was)
        kept = [origin for origin in origins if origin is not None]
        if not kept and not any(isinstance(one, ListEntry) and one.origin for one in wanted):
            return self.replace(sheet, path, settled(wanted))
        if kept and kept != list(range(len(old))):
            sheet = arranged(sheet, _sequence(sheet, path), kept)
        elif not kept:
            sheet = self.replace(sheet, path, [settled(wanted[0])])
        name = next((part for part in reversed(path) if isinstance(part, str)), "")
        for number, (origin, inner) in enumerate(zip(origins, wanted, strict=True)):
            if origin is None and not (number == 0 and not kept):
                sheet = self.insert_row(sheet, path, number, inner, name)
            here = None if was is None or origin is None else (*was, origin)
            sheet = self.put(sheet, (*path, number), here, inner)
        return sheet

    def insert_row(self, sheet: FileText, path: Path, number: int, wanted: Wanted, name: str) -> FileText:
        """Put in an entry that came from elsewhere as it was written there, or a new one like its neighbours."""
        node = _sequence(sheet, path)
        origin = wanted.origin if isinstance(wanted, ListEntry) else None
        if origin is not None and not node.flow_style:
            holder = self.opened.node(origin[:-1])
            last = origin[-1]
            if isinstance(holder, yaml.SequenceNode) and isinstance(last, int) and last < len(holder.value):
                written = captured(self.opened, holder, last, sheet.column(node.start_mark.index))
                if written is not None:
                    return with_lines(sheet, node, number, written)
        return with_entry(sheet, node, number, settled(wanted), name)

    def insert(self, sheet: FileText, path: Path, value: Value) -> FileText:
        """Put in the key at the end of ``path``."""
        if not path:  # an empty catalogue
            start = len(sheet.front)
            return sheet.spliced(
                start, start, missing_end(sheet, start) + lines(value, 0, "", sheet.manner) + sheet.newline
            )
        *above, name = path
        holder = at(sheet.data, tuple(above))
        if not isinstance(name, str):
            raise LookupError(path)
        if holder is None or holder == {}:
            if above:
                return self.replace(sheet, tuple(above), {name: value})
            return self.first_key(sheet, name, value)
        if not isinstance(holder, dict):
            raise LookupError(path)
        order = keys_at(self.kind, tuple(above))
        return with_key(sheet, _mapping(sheet, tuple(above)), name, value, order)

    def first_key(self, sheet: FileText, name: str, value: Value) -> FileText:
        """Write the first key of a file whose front matter is empty."""
        start = len(sheet.front)
        if sheet.root is not None and sheet.root.end_mark.index > sheet.root.start_mark.index:
            start = sheet.root.start_mark.index
            return sheet.spliced(start, sheet.root.end_mark.index, pair(name, value, 0, sheet.manner))
        return sheet.spliced(start, start, pair(name, value, 0, sheet.manner) + sheet.newline)

    def drop(self, sheet: FileText, path: Path) -> FileText:
        """Take out a key or a list entry."""
        holder, last = at(sheet.data, path[:-1]), path[-1]
        if isinstance(holder, list):
            kept = [one for one in range(len(holder)) if one != last]
            return arranged(sheet, _sequence(sheet, path[:-1]), kept) if kept else self.replace(sheet, path[:-1], [])
        assert isinstance(last, str)
        node = _mapping(sheet, path[:-1])
        if len(node.value) > 1:
            return without_key(sheet, node, last)
        if path[:-1]:
            return self.replace(sheet, path[:-1], {})
        key, value = node.value[0]
        start, end = sheet.line_start(key.start_mark.index), sheet.line_end(sheet.content_end(value))
        return sheet.spliced(start, end, "") if not node.flow_style else sheet.spliced(start, end, "{}" + sheet.newline)

    def replace(self, sheet: FileText, path: Path, value: Value) -> FileText:
        """Write ``value`` in place of what stands at ``path``."""
        node = sheet.node(path)
        in_flow = self.in_flow(sheet, path)
        if isinstance(value, str) and isinstance(node, yaml.ScalarNode):
            return scalar_replaced(sheet, path, node, value, in_flow)
        return replaced(sheet, path, node, value, in_flow)

    def in_flow(self, sheet: FileText, path: Path) -> bool:
        """Tell whether the value at ``path`` stands inside brackets or braces."""
        above = [sheet.node(path[:depth]) for depth in range(len(path))]
        return any(isinstance(node, yaml.CollectionNode) and node.flow_style for node in above)


def _came_from(inner: Wanted, was: Path | None) -> bool:
    """Tell whether the row is the single value that stood at ``was``."""
    return isinstance(inner, ListEntry) and was is not None and inner.origin == (*was, 0)


def _moved(wanted: Wanted) -> bool:
    """Tell whether an entry can stand elsewhere than it did: equal texts can be told apart by their remarks."""
    if isinstance(wanted, Mapping):
        return isinstance(wanted, Ordered) or any(_moved(inner) for inner in wanted.values())
    if not isinstance(wanted, list):
        return isinstance(wanted, ListEntry) and _moved(wanted.value)
    origins = [inner.origin for inner in wanted if isinstance(inner, ListEntry)]
    lasts = [origin[-1] if origin else None for origin in origins]
    return lasts != list(range(len(lasts))) or any(_moved(inner) for inner in wanted)


def _origins_of(old: list[Value], wanted: Sequence[Wanted], was: Path | None) -> list[int | None]:
    """Return which old entry each wanted one is; None for a new one.

    Rows say so themselves. Without rows it is the one that is equal, else, in a list as long as before, the one that
    stood there: it was changed.
    """
    if any(isinstance(one, ListEntry) for one in wanted):
        return _by_row(len(old), wanted, was)
    found: list[int | None] = [None] * len(wanted)
    before, after = [_key(one) for one in old], [_key(settled(one)) for one in wanted]
    for match in difflib.SequenceMatcher(None, before, after, autojunk=False).get_matching_blocks():
        found[match.b : match.b + match.size] = range(match.a, match.a + match.size)
    free = [number for number in range(len(old)) if number not in found]
    for number, key in enumerate(after):
        if found[number] is None:
            found[number] = next((one for one in free if before[one] == key), None)
            free = [one for one in free if one != found[number]]
    for number in free if len(old) == len(wanted) else ():
        if found[number] is None:
            found[number] = number
    return found


def _by_row(count: int, wanted: Sequence[Wanted], was: Path | None) -> list[int | None]:
    found: list[int | None] = []
    for one in wanted:
        origin = one.origin if isinstance(one, ListEntry) else None
        last = origin[-1] if origin and was is not None and origin[:-1] == was else None
        found.append(last if isinstance(last, int) and last < count and last not in found else None)
    return found


def _key(value: Value) -> str:
    return json.dumps(value, sort_keys=True)


def _mapping(sheet: FileText, path: Path) -> yaml.MappingNode:
    node = sheet.node(path)
    if not isinstance(node, yaml.MappingNode):
        raise LookupError(path)
    return node


def _sequence(sheet: FileText, path: Path) -> yaml.SequenceNode:
    node = sheet.node(path)
    if not isinstance(node, yaml.SequenceNode) or not node.value:
        raise LookupError(path)
    return node

"""Edits of one file's text, made one after the other and read back before anybody gets them."""

import difflib
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import replace

from builder.edit.editor import Editor
from builder.edit.file_change import CannotEdit, Drop, Edit, ListEntry, Path, ProseEdit, Put, Value, at, settled
from builder.edit.file_text import FileText, keep_lines, plain_ends
from builder.edit.writing import Manner, pair
from builder.model.json_schema import keys_at

CATALOGUES = ("structures", "items", "terms", "consents")
"""Kinds of file that are one list, without prose."""


def edited(text: str, kind: str, edits: Iterable[Edit]) -> str:
    """Return ``text``, a file of ``kind``, with ``edits`` made one after the other; all else byte for byte as it was.

    Raises CannotEdit where an edit cannot be made so; then nothing was changed.
    """
    sheet = FileText.cut(text, kind in CATALOGUES)
    _ = sheet.root  # refuses what cannot be edited at all
    wanted = list(edits)
    for has_blocks in (True, False):
        after, expected, prose = _made(replace(sheet, has_blocks=has_blocks), kind, wanted)
        if _holds(after, kind, expected, prose):
            return after.text
    raise CannotEdit(
        "this value is written in a way that a form cannot change safely; nothing was changed",
        "Change it in the text of the file.",
    )


def put_in(text: str, kind: str, path: Path, value: Value, number: int | None = None) -> str:
    """Return ``text`` with ``value`` as entry ``number``, else the last, of the list at ``path``, new or not."""
    held = _list_or_nothing(FileText.cut(text, kind in CATALOGUES).data, path)
    rows = [ListEntry(entry, (*path, place)) for place, entry in enumerate(held)]
    rows.insert(len(rows) if number is None else number, ListEntry(value))
    return edited(text, kind, [Put(path, rows)])


def new_text(kind: str, values: Mapping[str, Value], prose: str = "") -> str:
    """Return the text of a new file of ``kind`` with ``values`` in the usual order of their keys."""
    _checked(dict(values))
    _checked(prose)
    order = keys_at(kind, ())
    keys = sorted(values, key=lambda key: order.index(key) if key in order else len(order))
    lines = [pair(key, values[key], 0, Manner()) for key in keys]
    return "\n".join(["---", *lines, "---", *([prose.rstrip("\n")] if prose.strip() else []), ""])


def retyped(before: str, text: str) -> str:
    """Return ``text``, typed anew in place of the text ``before``, with the mark and the line ends of that."""
    text = plain_ends(text)
    _checked(text)
    old = FileText.cut(before, is_list=True)
    return old.head + text.replace("\n", old.newline)


def confirmed(text: str, kind: str) -> tuple[str, int]:
    """Return ``text`` without the marks that say that a draft proposed it, and how many there were."""
    marks = list(proposed_in(FileText.cut(text).data))
    return edited(text, kind, [Drop(mark) for mark in marks]), len(marks)


def proposed_in(data: Value, path: Path = ()) -> Iterator[Path]:
    """Yield the place of each mark ``proposed: true`` in the front matter ``data``."""
    for part, inner in data.items() if isinstance(data, dict) else enumerate(data) if isinstance(data, list) else ():
        if part == "proposed" and inner == "true":
            yield (*path, part)
        yield from proposed_in(inner, (*path, part))


def _made(sheet: FileText, kind: str, edits: Iterable[Edit]) -> tuple[FileText, Value, str]:
    """Return the sheet with the edits, and what its values and its prose must be."""
    editor, expected, prose = Editor(kind, sheet), sheet.data, sheet.body
    for edit in edits:
        if isinstance(edit, ProseEdit):
            prose = _prose(sheet, edit.text)
            is_closed = sheet.tail[-1:] in ("\n", "\r")
            sheet = replace(sheet, tail=sheet.tail + ("" if is_closed else sheet.newline), body=prose)
            continue
        try:
            expected = _expected(expected, edit)
            sheet = editor.made(sheet, edit)
        except LookupError:
            raise CannotEdit("the place to be edited is not in the file", "Open the form again.") from None
    return sheet, expected, prose


def _holds(sheet: FileText, kind: str, expected: Value, prose: str) -> bool:
    """Read the result back: whatever went wrong above, nothing but what was wanted may be written."""
    try:
        again = FileText.cut(sheet.text, kind in CATALOGUES)
        return (again.data or None) == (expected or None) and again.body == prose
    except CannotEdit:
        return False


def _expected(data: Value, edit: Put | Drop) -> Value:
    if isinstance(edit, Drop):
        return _without(data, edit.path)
    _checked(settled(edit.wanted))
    return _with_value(data, edit.path, settled(edit.wanted))


def _prose(sheet: FileText, text: str) -> str:
    """Return the new prose; a line that was there keeps its own line end."""
    _checked(text)
    old = keep_lines(sheet.body)
    new = keep_lines(text)
    bare_old = [line.rstrip("\r\n") for line in old]
    bare_new = [line.rstrip("\r\n") for line in new]
    written = [
        bare + (sheet.newline if line[-1:] in ("\n", "\r") else "") for bare, line in zip(bare_new, new, strict=True)
    ]
    for match in difflib.SequenceMatcher(None, bare_old, bare_new, autojunk=False).get_matching_blocks():
        for offset in range(match.size):
            same, place = old[match.a + offset], match.b + offset
            if same[-1:] in ("\n", "\r") and new[place][-1:] in ("\n", "\r"):
                written[place] = same
    return "".join(written)


def _with_value(value: Value, path: Path, new: Value) -> Value:
    """Return a copy of ``value`` in which ``new`` stands at ``path``. Raises LookupError where the way is not there."""
    if not path:
        return new
    part, rest = path[0], path[1:]
    if isinstance(value, list) and isinstance(part, int) and 0 <= part < len(value):
        return [_with_value(inner, rest, new) if number == part else inner for number, inner in enumerate(value)]
    if isinstance(part, str) and (value is None or isinstance(value, dict)):
        held = dict(value or {})
        if rest and part not in held:
            raise LookupError(path)
        held[part] = _with_value(held.get(part), rest, new)
        return held
    raise LookupError(path)


def _without(value: Value, path: Path) -> Value:
    """Return a copy of ``value`` without the key or entry at ``path``. Raises LookupError where there is none."""
    holder, last = at(value, path[:-1]), path[-1]
    at(value, path)
    if isinstance(holder, dict):
        return _with_value(value, path[:-1], {key: inner for key, inner in holder.items() if key != last})
    assert isinstance(holder, list)  # `at` found something there
    return _with_value(value, path[:-1], [inner for number, inner in enumerate(holder) if number != last])


def _list_or_nothing(data: Value, path: Path) -> list[Value]:
    """Return the list at ``path``, a single value as a list of one; nothing where nothing is."""
    try:
        found = at(data, path)
    except LookupError:
        return []
    return found if isinstance(found, list) else [] if found is None else [found]


def _checked(value: Value) -> None:
    """Raise CannotEdit where ``value`` holds a character that no file of ours may hold, or an empty key."""
    if isinstance(value, dict):
        for key, inner in value.items():
            _checked(key)
            _checked(inner)
        if "" in value:
            raise CannotEdit("one of the names is empty", "Write the name, or remove the line.")
    elif isinstance(value, list):
        for inner in value:
            _checked(inner)
    elif value is not None:
        unfit = (sign for sign in value if (sign < " " and sign not in "\n\t") or "\ud800" <= sign <= "\udfff")
        bad = next(unfit, None)
        if bad is not None:
            reason = f"the text holds a character that cannot be kept (U+{ord(bad):04X})"
            raise CannotEdit(reason, "Remove it; it often comes in when text is pasted from elsewhere.")

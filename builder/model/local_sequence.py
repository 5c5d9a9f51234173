"""Changes of a sequence as it was written: steps put in or taken out, branches, options and choices changed."""

from collections.abc import Callable
from typing import Any

from builder.findings.message_words import mend, quoted
from builder.model.local_page import LocalEntry
from builder.model.sequence import LEFT_OUT
from builder.place import WHERE_KEY, Text

_INNER = {"choose": "between", "follow": "with", "option": "steps"}
Row = Any
Rewrite = Callable[[Row], list[Row]]
"""What stands in place of one entry: itself, another, several, or nothing."""


def changed(sequence: Any, verb: str, kind: str, id: str, entry: LocalEntry) -> tuple[Any, Any]:
    """Return ``sequence`` with the change, and what stood there. Raises LookupError with a message and a hint where
    nothing did."""
    if kind == "step":
        return _without_step(sequence, id) if verb == "switch_off" else _with_step(sequence, id, entry), ""
    if kind == "branch":
        return _with_branch(sequence, verb, id, entry)
    fork = "choose" if kind == "choice" else "option"
    theirs = [row[fork] for row in _rows(sequence) if _is_fork(row, fork, id)]
    if not theirs:
        known = [str(_fork(row, fork).get("id")) for row in _rows(sequence) if fork in _keys(row)]
        raise LookupError(f"{quoted(f'{kind} {id}')} is not in the parent", mend(id, known, "Correct the id."))

    def rewrite(row: Row) -> list[Row]:
        if _is_fork(row, fork, id):
            return []
        if _follows(row, id):
            return list(row["follow"]["with"].get(LEFT_OUT) or []) if fork == "option" else []
        return [row]

    return _rewritten(sequence, rewrite), theirs[0]


def _without_step(sequence: Any, id: str) -> Any:
    """Return ``sequence`` without the step ``id``, wherever it stands. Raises LookupError where an option would be left
    with nothing to do."""
    without = _rewritten(sequence, lambda row: [] if isinstance(row, Text) and row == id else [row])
    options = (_fork(row, "option") for row in _rows(without))
    if empty := next((str(option.get("id")) for option in options if option.get("steps") == []), ""):
        hint = f"Write `switch_off: option {empty}` instead."
        raise LookupError(f"{quoted(f'step {id}')} is all that the option {quoted(empty)} does", hint)
    return without


def _with_step(sequence: Any, id: str, entry: LocalEntry) -> Any:
    beside = entry.after or entry.before
    if beside is None:
        raise LookupError(
            f"nothing says where {quoted(f'step {id}')} stands", "Add `after:` or `before:` with the id of a step."
        )
    if beside not in _rows(sequence):
        known = [str(row) for row in _rows(sequence) if isinstance(row, Text)]
        raise LookupError(f"{quoted(beside)} is not a step of the sequence", mend(beside, known, "Name a step of it."))
    new = Text(id, (entry.add or beside).at)

    def rewrite(row: Row) -> list[Row]:
        if not isinstance(row, Text) or row != beside:
            return [row]
        return [row, new] if entry.after else [new, row]

    return _rewritten(sequence, rewrite)


def _with_branch(sequence: Any, verb: str, words: str, entry: LocalEntry) -> tuple[Any, Any]:
    """Change the branch that ``words`` name (``local of anaesthesia``); with one branch left, it is the only way."""
    name, _, id = (part.strip() for part in words.partition(" of "))
    choices = [_fork(row, "choose") for row in _rows(sequence) if _is_fork(row, "choose", id)]
    if not choices:
        raise LookupError(f"{quoted(id or words)} is not a choice of the parent", "Write `branch NAME of CHOICE`.")
    between = choices[0].get("between")
    theirs = between.get(name) if isinstance(between, dict) else None
    if (theirs is None) != (verb == "add") or not isinstance(between, dict):
        known = [key for key in between if key != WHERE_KEY] if isinstance(between, dict) else []
        there = "is already a branch" if theirs is not None else "is not a branch"
        raise LookupError(f"{quoted(name)} {there} of {quoted(id)}", mend(name, known, "Correct the name."))
    left = [key for key in between if key not in (WHERE_KEY, name)]

    def rewrite(row: Row) -> list[Row]:
        if not (_is_fork(row, "choose", id) or _follows(row, id)):
            return [row]
        fork, inner = ("choose", "between") if "choose" in row else ("follow", "with")
        ways = dict(row[fork][inner])
        if verb == "switch_off":
            ways.pop(name, None)
            if len(left) == 1:
                return list(ways.get(left[0]) or [])
        elif fork == "choose":
            ways[Text(name, entry.at)] = entry.value
        return [{**row, fork: {**row[fork], inner: ways}}]

    return _rewritten(sequence, rewrite), "" if theirs is None else theirs or "nothing to do"


def _rewritten(sequence: Any, rewrite: Rewrite) -> Any:
    """Return ``sequence`` with each entry, those inside branches first, replaced by what ``rewrite`` says."""
    if not isinstance(sequence, list):
        return sequence
    return [made for row in sequence for made in rewrite(_inside(row, rewrite))]


def _inside(row: Row, rewrite: Rewrite) -> Row:
    for fork, inner in _INNER.items():
        held = _fork(row, fork).get(inner)
        if isinstance(held, dict):
            ways = {key: way if key == WHERE_KEY else _rewritten(way, rewrite) for key, way in held.items()}
            row = {**row, fork: {**row[fork], inner: ways}}
        elif isinstance(held, list):
            row = {**row, fork: {**row[fork], inner: _rewritten(held, rewrite)}}
    return row


def _rows(sequence: Any) -> list[Row]:
    """Return every entry of ``sequence``, those inside branches too."""
    rows: list[Row] = []

    def note(row: Row) -> list[Row]:
        rows.append(row)
        return [row]

    _rewritten(sequence, note)
    return rows


def _keys(row: Row) -> tuple[str, ...]:
    return tuple(row) if isinstance(row, dict) else ()


def _fork(row: Row, fork: str) -> dict[str, Any]:
    held = row.get(fork) if isinstance(row, dict) else None
    return held if isinstance(held, dict) else {}


def _is_fork(row: Row, fork: str, id: str) -> bool:
    return _fork(row, fork).get("id") == id and bool(id)


def _follows(row: Row, id: str) -> bool:
    held = _fork(row, "follow")
    return held.get("choice") == id and isinstance(held.get("with"), dict)

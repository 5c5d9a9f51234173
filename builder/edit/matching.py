"""Which entries and keys of before are which of after."""

from __future__ import annotations

import difflib
import json
from collections.abc import Mapping, Sequence

from builder.edit.changes import ListEntry, Ordered, Wanted, settled
from builder.edit.values import Path, Value
from builder.model.action import VERBS


def came_from(inner: Wanted, was: Path | None) -> bool:
    """Tell whether the row is the single value that stood at ``was``."""
    return isinstance(inner, ListEntry) and was is not None and inner.origin == (*was, 0)


def moved(wanted: Wanted) -> bool:
    """Tell whether an entry can stand elsewhere than it did: equal texts can be told apart by their remarks."""
    if isinstance(wanted, Mapping):
        return isinstance(wanted, Ordered) or any(moved(inner) for inner in wanted.values())
    if not isinstance(wanted, list):
        return isinstance(wanted, ListEntry) and moved(wanted.value)
    origins = [inner.origin for inner in wanted if isinstance(inner, ListEntry)]
    lasts = [origin[-1] if origin else None for origin in origins]
    return lasts != list(range(len(lasts))) or any(moved(inner) for inner in wanted)


def renames(
    old: dict[str, Value], wanted: Mapping[str, Wanted], gone: list[str], new: list[str]
) -> list[tuple[str, str]]:
    """Return which keys that went are which that came: the verb of an action, or the name of an unchanged value."""
    if len(gone) == 1 and len(new) == 1:
        are_verbs = gone[0] in VERBS and new[0] in VERBS
        if are_verbs or old[gone[0]] == settled(wanted[new[0]]):
            return [(gone[0], new[0])]
    return []


def origins_of(old: list[Value], wanted: Sequence[Wanted], was: Path | None) -> list[int | None]:
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

"""Two editions compared line by line: what was added, removed, changed, moved, and what is only worded otherwise."""

from collections.abc import Iterable, Iterator, Mapping
from difflib import SequenceMatcher
from enum import StrEnum
from functools import partial
from itertools import zip_longest
from typing import NamedTuple

from builder.compose.changes.edition_lines import EditionLine, EditionText, PartKey
from builder.facts.same_meaning import same_meaning

_ALIKE = 0.5
"""Two texts that share half of their words are one text, changed; others are one taken out and one put in."""


class ChangeSort(StrEnum):
    """What a change is. A change of wording is one that surely changes no meaning; in doubt it is matter."""

    ADDED = "added"
    REMOVED = "removed"
    CHANGED = "changed"
    MOVED = "moved"
    WORDING = "wording"


class EditionChange(NamedTuple):
    """One change: in which part (and of which heading), of which field; ``before`` or ``after`` is "" where there is
    none. Of what was moved, ``place`` is the heading it came from, or "" where it stayed in its part."""

    sort: ChangeSort
    part: PartKey
    heading: str
    field: str
    before: str
    after: str
    place: str = ""


def changes_between(old: EditionText, new: EditionText) -> tuple[EditionChange, ...]:
    """Return every change from ``old`` to ``new``, part by part in the order of ``new``, what is gone after it."""
    headings = {**old.headings, **new.headings}
    parts = [*new.headings, *(part for part in old.headings if part not in new.headings)]
    before, after = _by_part(old.lines), _by_part(new.lines)
    found = [
        change for part in parts for change in _of_part(part, headings[part], before.get(part, {}), after.get(part, {}))
    ]
    return tuple(_moved(found, old.headings))


def _by_part(lines: Iterable[EditionLine]) -> dict[PartKey, dict[str, list[str]]]:
    parts: dict[PartKey, dict[str, list[str]]] = {}
    for line in lines:
        parts.setdefault(line.part, {}).setdefault(line.field, []).append(line.text)
    return parts


def _of_part(
    part: PartKey, heading: str, before: dict[str, list[str]], after: dict[str, list[str]]
) -> Iterator[EditionChange]:
    for field in dict.fromkeys((*after, *before)):
        for one, other in _paired(before.get(field, []), after.get(field, [])):
            yield EditionChange(_sort(one, other), part, heading, field, one, other)


def _sort(before: str, after: str) -> ChangeSort:
    if not before:
        return ChangeSort.ADDED
    if not after:
        return ChangeSort.REMOVED
    return ChangeSort.WORDING if same_meaning(before, after) else ChangeSort.CHANGED


def _paired(before: list[str], after: list[str]) -> Iterator[tuple[str, str]]:
    """Yield what stood in a field and what stands there now, text by text, where the two are not equal."""
    matcher = SequenceMatcher(None, before, after, autojunk=False)
    for tag, start, stop, from_, to in matcher.get_opcodes():
        if tag == "equal":
            continue
        gone, come = before[start:stop], after[from_:to]
        if len(before) == len(after) == 1:
            yield before[0], after[0]
            continue
        for one, other in zip_longest(*_aligned(gone, come), fillvalue=""):
            if one and other and not _alike(one, other):
                yield one, ""
                yield "", other
            else:
                yield one, other


def _aligned(gone: list[str], come: list[str]) -> tuple[list[str], list[str]]:
    """Return both lists with "" wherever a text has no counterpart, each text beside the one it is most like."""
    left: list[str] = []
    right: list[str] = []
    waiting = list(come)
    for text in gone:
        best = max((other for other in waiting if _alike(text, other)), key=partial(_likeness, text), default="")
        if best:
            at = waiting.index(best)
            left += ["" for _ in waiting[:at]]
            right += waiting[:at]
            waiting = waiting[at + 1 :]
            left.append(text)
            right.append(best)
        else:
            left.append(text)
            right.append("")
    return [*left, *("" for _ in waiting)], [*right, *waiting]


def _likeness(one: str, other: str) -> float:
    return SequenceMatcher(None, one.split(), other.split(), autojunk=False).ratio()


def _alike(one: str, other: str) -> bool:
    # A source is the same one whatever is said of it: its key comes first, and a comma after it.
    same_key = one.partition(",")[0] == other.partition(",")[0]
    return same_key or same_meaning(one, other) or _likeness(one, other) >= _ALIKE


def _moved(found: list[EditionChange], old_headings: Mapping[PartKey, str]) -> Iterator[EditionChange]:
    """Yield ``found`` with each text that was taken out in one place and put in at another as one that was moved."""
    gone: dict[tuple[str, str], list[EditionChange]] = {}
    for change in found:
        if change.sort is ChangeSort.REMOVED:
            gone.setdefault((change.field, change.before), []).append(change)
    taken: set[int] = set()
    told: list[EditionChange] = []
    for change in found:
        origins = gone.get((change.field, change.after), []) if change.sort is ChangeSort.ADDED else []
        origin = next((one for one in origins if id(one) not in taken), None)
        if origin is None:
            told.append(change)
            continue
        taken.add(id(origin))
        place = "" if origin.part == change.part else old_headings[origin.part]
        told.append(change._replace(sort=ChangeSort.MOVED, before=origin.before, place=place))
    return (change for change in told if id(change) not in taken)

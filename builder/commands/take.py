"""``prescrub take``: what a committee marked in a word-processor file, shown at its key and taken one by one."""

import argparse
import sys
from collections.abc import Iterator, Sequence
from pathlib import Path

from builder.commands.common import NOTHING_BLOCKS, CalledWrongly, asks_here, department
from builder.commands.formats.terminal import one_line
from builder.compose.changes.returned import ReturnedItem, ReturnedSort
from builder.edit.file_change import CannotEdit, Unfit
from builder.findings.message_words import counted
from builder.load.files import read_bytes
from builder.load.folder import load
from builder.load.limits import MAX_SOURCES_BYTES
from builder.model.build import build
from builder.write.committee_taking import came_back, take_in

_ALL = "all"


def run(arguments: argparse.Namespace) -> int:
    """Show what came back, ask or be told what to take, and write that."""
    path = Path(arguments.file)
    library = build(load(department(arguments.folder)))[0]
    copy, items = came_back(library, path.name, read_bytes(path.parent, path.name, MAX_SOURCES_BYTES))
    sys.stdout.write("".join(f"{line}\n" for line in _shown(copy.title, items)))
    takeable = [item for item in items if item.sort in (ReturnedSort.CHANGE, ReturnedSort.COMMENT)]
    accepted = _accepted(takeable, arguments.accept or [])
    if not accepted:
        sys.stdout.write("Nothing was written.\n" if takeable else "There is nothing to take.\n")
        return NOTHING_BLOCKS
    try:
        files = take_in(library, copy, items, accepted)
    except (CannotEdit, Unfit) as error:
        why = f"{error.reason}. {error.hint}" if isinstance(error, CannotEdit) else str(error)
        raise CalledWrongly(f"Nothing was written: {why}") from None
    sys.stdout.write("".join(f"{file} changed\n" for file in files) or "The notes had all of it already.\n")
    return NOTHING_BLOCKS


def _shown(title: str, items: Sequence[ReturnedItem]) -> Iterator[str]:
    yield f"{one_line(title)}: {counted(len(items), 'thing')} came back."
    for heading, sort in _HEADINGS:
        of_sort = [item for item in items if item.sort is sort]
        if of_sort:
            yield ""
            yield f"{heading} ({len(of_sort)})"
            for item in of_sort:
                yield from lines_of_item(item)
    yield ""


_HEADINGS = (
    ("Changes, each at its key", ReturnedSort.CHANGE),
    ("Comments, to be kept as notes to answer", ReturnedSort.COMMENT),
    ("Not taken: put these in by hand, where they are right", ReturnedSort.TOLD),
    ("Already in the module", ReturnedSort.DONE),
)


def lines_of_item(item: ReturnedItem) -> Iterator[str]:
    """Yield what a terminal shows of one thing that came back."""
    yield f"  {item.number}  {one_line(item.words)} ({one_line(item.by)})"
    if item.before:
        yield f"     {'on' if item.sort is ReturnedSort.COMMENT else '-'} {one_line(item.before)}"
    if item.after:
        yield f"     {':' if item.sort is ReturnedSort.COMMENT else '+'} {one_line(item.after)}"
    if item.why:
        yield f"     {one_line(item.why[:1].upper() + item.why[1:])}."


def _accepted(takeable: Sequence[ReturnedItem], given: Sequence[str]) -> set[int]:
    numbers = {item.number for item in takeable}
    if not given:
        return _asked(takeable) if takeable and asks_here() else set()
    if given == [_ALL]:
        return numbers
    words = [word for one in given for word in one.replace(",", " ").split()]
    wrong = next((word for word in words if not word.isdecimal() or int(word) not in numbers), "")
    if wrong:
        raise CalledWrongly(
            f"{wrong} is not the number of a change or comment that can be taken. Write all, or numbers."
        )
    return {int(word) for word in words}


def _asked(takeable: Sequence[ReturnedItem]) -> set[int]:
    accepted: set[int] = set()
    for place, item in enumerate(takeable):
        sys.stdout.write("".join(f"{line}\n" for line in lines_of_item(item)))
        answer = input("Take it? [y/N, a for all that follow, q for none of them] ").strip().lower()
        if answer in ("a", _ALL):
            return accepted | {other.number for other in takeable[place:]}
        if answer in ("q", "quit"):
            break
        if answer in ("y", "yes"):
            accepted.add(item.number)
    return accepted

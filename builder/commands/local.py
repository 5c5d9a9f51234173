"""``prescrub local``: what is changed in what the parent wrote, and the choice where the parent has changed."""

from __future__ import annotations

import argparse
import sys
from collections.abc import Iterator
from typing import TYPE_CHECKING

from builder.commands.common import ERRORS_FOUND, NOTHING_BLOCKS, CalledWrongly, examined, show
from builder.commands.formats.terminal import one_line
from builder.findings.message_words import counted, quoted
from builder.findings.register import LOCAL_ERRORS

if TYPE_CHECKING:
    from builder.model.library import Library
    from builder.model.local_page import LocalChange


def run(arguments: argparse.Namespace) -> int:
    """Print every change with both texts; or write the choice for one of them."""
    library, findings = examined(arguments.folder)
    if not arguments.page:
        wrong = [made for made in findings if made.name in LOCAL_ERRORS]
        if wrong:
            show(wrong, root=library.root)
        sys.stdout.write("".join(f"{line}\n" for line in _lines(library)))
        return ERRORS_FOUND if wrong else NOTHING_BLOCKS
    if arguments.keep == arguments.take:
        raise CalledWrongly("Say which text is to stand: add --keep for ours, or --take for the parent's.")
    _choose(library, _found(library, arguments.page, arguments.number), keep=arguments.keep)
    return NOTHING_BLOCKS


def _choose(library: Library, change: LocalChange, *, keep: bool) -> None:
    from builder.edit.file_change import CannotEdit  # noqa: PLC0415  # not needed to list changes
    from builder.findings.finding import Refused  # noqa: PLC0415
    from builder.write.local_choice import keep_ours, page_of, take_theirs  # noqa: PLC0415
    from builder.write.lock import NotWritten  # noqa: PLC0415

    try:
        (keep_ours if keep else take_theirs)(library, change)
    except (CannotEdit, Refused, NotWritten) as error:
        raise CalledWrongly(f"{error}. Nothing was written.") from None
    done = "ours is kept, with the parent's text of today in view" if keep else "the parent's text stands again"
    sys.stdout.write(f"{page_of(change)}: {one_line(_about(change))}: {done}\n")


def _found(library: Library, page: str, number: str | None) -> LocalChange:
    from builder.model.local_layers import DEPARTMENT  # noqa: PLC0415  # not needed to be told of a wrong call

    changes = [change for change in library.local if (change.procedure or DEPARTMENT) == page]
    for change in changes:
        if number == str(change.number + 1):
            return change
    known = ", ".join(str(change.number + 1) for change in changes)
    if known:
        raise CalledWrongly(
            f"{quoted(number or 'nothing')} is not the number of a change of {page}. Use one of: {known}."
        )
    raise CalledWrongly(f"Nothing of {quoted(page)} is changed here. `prescrub local` lists all that is.")


def _about(change: LocalChange) -> str:
    return f"{change.target}, {change.key}" if change.key else change.target


def _lines(library: Library) -> Iterator[str]:
    from builder.compose.view.words import day  # noqa: PLC0415  # not needed to choose

    if library.department.parent is None:
        yield "This department is laid over no other: content/department.md names no parent."
        return
    waiting = sum(not change.is_chosen for change in library.local)
    yield f"{counted(len(library.local), 'local change')}, {waiting or 'none'} waiting for a choice."
    for change in library.local:
        yield ""
        where = f"{change.procedure or 'department'} {change.number + 1}"
        does = f"{change.verb.replace('_', ' ')} {one_line(_about(change))}"
        yield f"{' ' if change.is_chosen else '!'} {where}: {does}"
        yield f"    {one_line(change.because)} ({one_line(change.document)}, {day(change.on)})"
        yield f"    ours:         {one_line(change.ours) or 'left out'}"
        yield f"    the parent's: {one_line(change.theirs) or 'nothing'}"

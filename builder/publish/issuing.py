"""Writes the ledger: lines are added, and nothing that stands in it is ever written again."""

import json
from collections.abc import Iterable
from dataclasses import replace
from pathlib import Path

from builder.compose.site.status import line_now, standings
from builder.load.ledger import NAME, Issued, read_ledger
from builder.model.edition import edition_of
from builder.model.library import Library
from builder.model.pages import Status
from builder.publish.build_report import NAME as REPORT
from builder.publish.publish_error import PublishError
from builder.write.ledger_lines import LEDGER_FILES, with_lines_added
from builder.write.writer import ChangedUnderneath, write_files


def edition_with_lines(library: Library, target: Path, *, issue: bool) -> tuple[Library, tuple[Issued, ...]]:
    """Return ``library`` with its editions, and the lines to add to its ledger (none unless to ``issue``), already in
    it. Raises PublishError where a code that ``target`` answers for is lost."""
    refuse_lost(library, target)
    kept = with_editions(library)
    lines = to_issue(kept) if issue else ()
    return with_lines(kept, lines), lines


def with_editions(library: Library) -> Library:
    """Return ``library`` with the edition of each procedure as it is written, before pictures are made anew."""
    return replace(library, editions={str(one.id): edition_of(library, one) for one in library.procedures})


def to_issue(library: Library) -> tuple[Issued, ...]:
    """Return a line for each approved procedure whose code is not in the ledger yet.

    Raises PublishError where an edition would stand for two texts.
    """
    found = []
    for procedure in library.procedures:
        line = line_now(library, procedure)
        if procedure.status is Status.APPROVED and library.ledger.find(line.code) is None:
            twin = next((one for one in library.ledger.of(line.procedure) if one.edition == line.edition), None)
            if twin:
                raise PublishError(
                    f"{procedure.where.value('edition')}: edition {line.edition} was issued on {twin.on} with other "
                    "content. Write a higher edition, then issue it.",
                    is_content=True,
                )
            found.append(line)
    return tuple(found)


def with_lines(library: Library, lines: Iterable[Issued]) -> Library:
    """Return ``library`` as it is once ``lines`` are in its ledger."""
    return replace(library, ledger=replace(library.ledger, issued=(*library.ledger.issued, *lines)))


def refuse_lost(library: Library, target: Path) -> None:
    """Raise PublishError where ``target`` answers for an issued code that ``library`` knows nothing of any more."""
    try:
        told = json.loads((target / REPORT).read_text(encoding="utf-8"))["artefacts"]
        answered = {one["explained"]["code"] for one in told if one["explained"].get("issued")}
    except (OSError, ValueError, KeyError, TypeError, AttributeError):
        return  # nothing of ours stands there
    lost = sorted(answered - {one.code for one in library.ledger.issued})
    if lost:
        raise PublishError(
            f"{NAME} has lost {', '.join(lost[:3])}{' and others' if len(lost) > 3 else ''}: cards with that code are "
            "in pockets. Bring the line back from the history of the repository; lines are only ever added.",
            is_content=True,
        )


def append(root: Path, lines: Iterable[Issued]) -> None:
    """Add ``lines`` to the ledger of the department in ``root``, all or none; a code that stands there stays as it is.

    Raises Refused or NotWritten, and then the ledger is as it was. It can never be undone.
    """
    known = {one.code for one in read_ledger(root).issued}
    added = [one for one in lines if one.code not in known]
    if not added:
        return
    try:
        write_files(root, with_lines_added(root, NAME, added), names=LEDGER_FILES)
    except ChangedUnderneath:  # somebody else has just issued
        append(root, lines)


def pages_of(library: Library) -> int:
    """Return how many status pages ``library`` has."""
    return len(standings(library)) + 1

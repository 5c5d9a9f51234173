"""Writes the ledger: lines are added, and nothing that stands in it is ever written again."""

import json
import os
import re
from collections.abc import Iterable
from dataclasses import replace
from pathlib import Path

from builder.compose.site.status import line_now, standings
from builder.edit.file_change import FileChange
from builder.load.files import digest_of, read_bytes
from builder.load.ledger import NAME, Issued, ledger_of, line_of
from builder.load.limits import MAX_SOURCES_BYTES
from builder.model.edition import edition_of
from builder.model.library import Library
from builder.model.pages import Status
from builder.publish.build_report import NAME as REPORT
from builder.publish.publish_error import PublishError
from builder.write.writer import ChangedUnderneath, write_files

# Two people may issue at the same time: their lines stand side by side, and git keeps both.
_ATTRIBUTES, _UNITED = "ledger/.gitattributes", "*.jsonl text eol=lf merge=union\n"


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
    is_there = os.path.lexists(root / NAME)
    before = read_bytes(root, NAME, MAX_SOURCES_BYTES) if is_there else b""
    known = {one.code for one in ledger_of(before.decode("utf-8", "replace")).issued}
    added = "".join(f"{line_of(one)}\n" for one in lines if one.code not in known)
    if not added:
        return
    joint = b"" if before.endswith(b"\n") or not before else b"\n"
    changes = {NAME: FileChange(before + joint + added.encode(), digest_of(before) if is_there else None)}
    if not (root / _ATTRIBUTES).exists():
        changes[_ATTRIBUTES] = FileChange(_UNITED, None)
    try:
        write_files(root, changes, names=re.compile(r"ledger/(issued\.jsonl|\.gitattributes)"))
    except ChangedUnderneath:  # somebody else has just issued
        append(root, lines)


def pages_of(library: Library) -> int:
    """Return how many status pages ``library`` has."""
    return len(standings(library)) + 1

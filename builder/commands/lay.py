"""``prescrub lay``: several experts' texts of one operation side by side, and one draft out of them."""

import argparse
import sys
from collections.abc import Iterator
from pathlib import Path

from builder.commands.common import NOTHING_BLOCKS, CalledWrongly, department
from builder.commands.formats.terminal import one_line
from builder.draft.experts import Expert, SideBySide, laid
from builder.findings.message_words import counted, listed, quoted
from builder.load.folder import load
from builder.model.build import build
from builder.model.library import Library

_PROCEDURES = "procedures"


def run(arguments: argparse.Namespace) -> int:
    """Show the texts side by side, and write the draft where a title is given."""
    from builder.write.merged_draft import write_merged  # noqa: PLC0415  # takes longer than to be told of a wrong call

    root = department(arguments.folder or ".")
    library = build(load(root))[0]
    words = [arguments.a, arguments.b, arguments.c, arguments.d, arguments.e]
    side = laid(_expert(library, word) for word in words if word)
    if len(set(side.names)) < len(side.names):
        raise CalledWrongly(f"Two of them have the same name: {listed(side.names)}. Rename a folder.")
    sys.stdout.write("".join(f"{line}\n" for line in _shown(side)))
    if arguments.title:
        files = write_merged(library, side, arguments.title)
        sys.stdout.write(f"{counted(len(files), 'file')} written, in {files[0].rpartition('/')[0]}.\n")
    return NOTHING_BLOCKS


def _expert(library: Library, word: str) -> Expert:
    """Return the text that ``word`` names: a procedure of the department, or a folder with one."""
    if word in library.by_id:
        return Expert(word, library, library.by_id[word])
    path = Path(word)
    if not path.is_dir():
        known = ", ".join(sorted(library.by_id)) or "none yet"
        raise CalledWrongly(f"{quoted(word)} is not a folder or a procedure here. Use a folder, or one of: {known}.")
    is_one = path.resolve().parent.name == _PROCEDURES
    other = build(load(path.resolve().parents[2] if is_one else path))[0]
    known_there = [path.resolve().name] if is_one else sorted(other.by_id)
    if len(known_there) != 1 or known_there[0] not in other.by_id:
        one = f"{word.rstrip('/')}/content/procedures/{(known_there or ['ID'])[0]}"
        raise CalledWrongly(f"{word} has {counted(len(known_there), 'procedure')}. Name one, such as {one}.")
    return Expert(path.resolve().name, other, other.by_id[known_there[0]])


def _shown(side: SideBySide) -> Iterator[str]:
    for number, row in enumerate(side.rows, 1):
        yield f"{number}  {one_line(row.title)}"
        for name in side.names:
            titles = " + ".join(one_line(str(step.title)) for step in row.steps.get(name, ()))
            yield f"     {name}: {titles or '(nothing)'}"
        for point in side.said_by_some(number - 1):
            yield f"     only {listed(point.who)}: {one_line(point.words)}"
    for kind in ("caution", "aftercare item"):
        for point in side.points:
            if point.kind == kind and point.who != side.names:
                yield f"only {listed(point.who)}: {kind} {quoted(one_line(point.words))}"
    yield ""
    yield from (f"{line}." for line in side.gap_list())

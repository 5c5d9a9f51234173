"""``prescrub year``: what is due, what is missing and what is in circulation, on the day it is run."""

import argparse
import json
import sys
from collections.abc import Iterator
from functools import partial

from builder.commands.common import NOTHING_BLOCKS, examined
from builder.commands.formats.terminal import one_line
from builder.compose.view.words import day
from builder.compose.year.year_page import TITLE, summary_of
from builder.compose.year.year_view import YearTable, year_tables
from builder.load.signature import signature_state


def run(arguments: argparse.Namespace) -> int:
    """Print the tables of the year. It reports, and blocks nothing."""
    library, _ = examined(arguments.folder)
    tables = year_tables(library, partial(signature_state, library.root))
    if arguments.format == "json":
        told = {table.id: [dict(zip(table.head, row.cells, strict=True)) for row in table.rows] for table in tables}
        sys.stdout.write(json.dumps({"today": library.today.isoformat(), **told}, ensure_ascii=False, indent=2) + "\n")
        return NOTHING_BLOCKS
    sys.stdout.write(f"{TITLE}: {one_line(library.department.name)}, {day(library.today)}\n{summary_of(tables)}\n")
    sys.stdout.write("".join(f"{line}\n" for table in tables for line in _lines(table)))
    return NOTHING_BLOCKS


def _lines(table: YearTable) -> Iterator[str]:
    yield ""
    yield table.title
    if not table.rows:
        yield f"  {table.nothing}"
        return
    rows = [tuple(map(one_line, row.cells)) for row in table.rows]
    widths = [max(len(cell) for cell in column) for column in zip(table.head, *rows, strict=True)]
    widths[-1] = 0  # the last column may be as long as it likes
    for mark, cells in [
        (" ", table.head),
        *(("!" if row.waits else " ", cells) for row, cells in zip(table.rows, rows, strict=True)),
    ]:
        yield f"{mark} {'  '.join(cell.ljust(width) for cell, width in zip(cells, widths, strict=True))}".rstrip()

"""``prescrub check``: does everything hold together? And the interview sheet for what is not written yet."""

from __future__ import annotations

import argparse
import sys
from pathlib import Path
from typing import Any

from builder.check.engine import exit_code
from builder.check.gaps.sheet import ask
from builder.commands.common import (
    ERRORS_FOUND,
    NOTHING_BLOCKS,
    CalledWrongly,
    add_folder,
    add_format,
    examined,
    read_given,
    show,
)
from builder.publish.fill import fill

EXAMPLE = """examples:
  prescrub check my-department
  prescrub check my-department --ask > questions.md
  prescrub check my-department --fill questions.md"""


def add(parsers: Any) -> None:
    """Say how the command is called."""
    parser = parsers.add_parser(
        "check",
        help="check a department and print what was found",
        epilog=EXAMPLE,
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    add_folder(parser)
    add_format(parser)
    other = parser.add_mutually_exclusive_group()
    other.add_argument("--ask", action="store_true", help="print the questions that the steps leave open, to fill in")
    other.add_argument("--fill", metavar="FILE", help="put the answers of a filled-in sheet back into the steps")
    parser.set_defaults(run=run)


def run(arguments: argparse.Namespace) -> int:
    """Check the folder and print the findings; or print the interview sheet; or put its answers back."""
    if arguments.fill:
        return _fill(arguments)
    library, findings = examined(arguments.folder)
    if arguments.ask:
        sys.stdout.write(ask(library))
        return NOTHING_BLOCKS
    show(findings, arguments.format)
    return exit_code(findings)


def _fill(arguments: argparse.Namespace) -> int:
    if not Path(arguments.folder).is_dir():
        raise CalledWrongly(f"{arguments.folder} is no folder.")
    changes, findings = fill(Path(arguments.folder), read_given(arguments.fill), Path(arguments.fill).name)
    for change in changes:
        sys.stdout.write(f"{change.file}: {change.key} written\n")
    if findings:
        show(findings, arguments.format)
    if not changes:
        sys.stdout.write("Nothing was changed.\n")
    return ERRORS_FOUND if exit_code(findings) else NOTHING_BLOCKS

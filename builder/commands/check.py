"""``prescrub check``: does everything hold together?"""

from __future__ import annotations

import argparse
from typing import Any

from builder.check.engine import exit_code
from builder.commands.common import add_folder, add_format, examined, show

EXAMPLE = "example: prescrub check my-department"


def add(parsers: Any) -> None:
    """Say how the command is called."""
    parser = parsers.add_parser("check", help="check a department and print what was found", epilog=EXAMPLE)
    add_folder(parser)
    add_format(parser)
    parser.set_defaults(run=run)


def run(arguments: argparse.Namespace) -> int:
    """Check the folder, print the findings, return the exit code."""
    _, findings = examined(arguments.folder)
    show(findings, arguments.format)
    return exit_code(findings)

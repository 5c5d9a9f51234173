"""``prescrub schema``: the JSON Schema of each kind of file, for editors."""

from __future__ import annotations

import argparse
import json
import sys
from pathlib import Path
from typing import Any

from builder.commands.common import NOTHING_BLOCKS, CalledWrongly
from builder.model.json_schema import KINDS, schema_of
from builder.write.whole_file import write_text

EXAMPLE = """examples:
  prescrub schema step
  prescrub schema --to .schemas"""


def add(parsers: Any) -> None:
    """Say how the command is called."""
    parser = parsers.add_parser(
        "schema",
        help="print or write the JSON Schema of each kind of file",
        epilog=EXAMPLE,
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    parser.add_argument("kind", metavar="KIND", nargs="?", choices=tuple(KINDS), help=f"one of: {', '.join(KINDS)}")
    parser.add_argument("--to", metavar="DIR", help="write one file for each kind into DIR")
    parser.set_defaults(run=run)


def run(arguments: argparse.Namespace) -> int:
    """Print one schema, or all, or write them into a folder."""
    kinds = [arguments.kind] if arguments.kind else list(KINDS)
    if arguments.to:
        try:
            for kind in kinds:
                write_text(Path(arguments.to) / f"{kind}.schema.json", _text(schema_of(kind)))
        except OSError as error:
            raise CalledWrongly(f"Nothing can be written to {arguments.to} ({error.strerror}). Name another.") from None
        sys.stdout.write(f"{len(kinds)} schemas written to {arguments.to}\n")
    else:
        sys.stdout.write(_text(schema_of(kinds[0]) if arguments.kind else {kind: schema_of(kind) for kind in kinds}))
    return NOTHING_BLOCKS


def _text(value: Any) -> str:
    return json.dumps(value, indent=2, ensure_ascii=False) + "\n"

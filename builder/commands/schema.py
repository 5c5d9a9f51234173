"""``prescrub schema``: the JSON Schema of each kind of file, for editors."""

import argparse
import json
import re
import sys
from pathlib import Path
from typing import Any

from builder.commands.common import NOTHING_BLOCKS, CalledWrongly
from builder.edit.file_change import FileChange
from builder.findings.message_words import quoted
from builder.model.json_schema import KINDS, schema_of
from builder.write.writer import digest_now, write_files


def run(arguments: argparse.Namespace) -> int:
    """Print one schema, or all, or write them into a folder."""
    if arguments.kind and arguments.kind not in KINDS:
        raise CalledWrongly(f"There is no kind of file {quoted(arguments.kind)}. Name one of: {', '.join(KINDS)}.")
    kinds = [arguments.kind] if arguments.kind else list(KINDS)
    if arguments.to:
        texts = {f"{kind}.schema.json": _text(schema_of(kind)) for kind in kinds}
        changes = {name: FileChange(text, digest_now(Path(arguments.to), name)) for name, text in texts.items()}
        write_files(Path(arguments.to), changes, names=re.compile(r"\w+\.schema\.json"))
        sys.stdout.write(f"{len(kinds)} schemas written to {arguments.to}\n")
    else:
        sys.stdout.write(_text(schema_of(kinds[0]) if arguments.kind else {kind: schema_of(kind) for kind in kinds}))
    return NOTHING_BLOCKS


def _text(value: Any) -> str:
    return json.dumps(value, indent=2, ensure_ascii=False) + "\n"

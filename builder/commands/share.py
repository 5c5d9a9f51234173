"""``prescrub share``: a procedure as a word-processor file for a committee."""

import argparse
import sys
from pathlib import Path

from builder.commands.common import NOTHING_BLOCKS, CalledWrongly, department, procedure_named
from builder.load.folder import load
from builder.model.build import build


def run(arguments: argparse.Namespace) -> int:
    """Write the committee's copy, once it was read back."""
    from builder.pipeline import shared_copy  # noqa: PLC0415  # takes longer than to be told of a wrong call
    from builder.publish.publishing import told_plainly  # noqa: PLC0415
    from builder.write.swap import in_place_of  # noqa: PLC0415

    target = Path(arguments.to)
    if target.suffix.lower() != ".docx":
        raise CalledWrongly(f"{arguments.to} does not end in .docx. Write: --to committee.docx")
    library = build(load(department(arguments.folder)))[0]
    content = shared_copy(library, procedure_named(library, arguments.procedure))
    with told_plainly(target), in_place_of(target) as made:
        made.write_bytes(content)
    sys.stdout.write(
        f"{arguments.to} written. Ask for tracked changes and comments, each under their own name; when it is back, "
        f"run `prescrub take {arguments.to}`.\n"
    )
    return NOTHING_BLOCKS

"""``prescrub changes``: what changed for a reader between two states of a department."""

import argparse
import json
import sys
from contextlib import ExitStack
from pathlib import Path

from builder.commands.common import CALLED_WRONGLY, ERRORS_FOUND, NOTHING_BLOCKS, CalledWrongly, department
from builder.commands.formats import terminal
from builder.compose.changes.change_notice import ChangeNotice, as_data, as_lines, notices_between
from builder.findings.finding import Refused
from builder.findings.message_words import quoted
from builder.load.past import NotFoundInPast, past
from builder.model.library import Library
from builder.pipeline import library_at
from builder.publish.publish_error import PublishError


def run(arguments: argparse.Namespace) -> int:
    """Print what changed, and write the notice to a file where that is asked for."""
    root = department(arguments.folder or ".")
    with ExitStack() as opened:
        try:
            old = library_at(opened.enter_context(past(root, arguments.old)))
            new = library_at(opened.enter_context(past(root, arguments.new)) if arguments.new else root)
        except NotFoundInPast as error:
            raise CalledWrongly(str(error)) from None
        only = arguments.procedure or ""
        known = sorted({*old.by_id, *new.by_id})
        if only and only not in known:
            raise CalledWrongly(f"There is no procedure {quoted(only)}. Use one of: {', '.join(known)}.")
        notices = notices_between(old, new, only)
        if arguments.format == "json":
            sys.stdout.write(json.dumps(as_data(notices), ensure_ascii=False, indent=2) + "\n")
        else:
            sys.stdout.write("".join(f"{line}\n" for line in as_lines(notices)))
        return _written(old, new, notices, arguments.to) if arguments.to else NOTHING_BLOCKS


def _written(old: Library, new: Library, notices: tuple[ChangeNotice, ...], to: str) -> int:
    from builder.pipeline import write_notice  # noqa: PLC0415  # takes longer than to tell what changed

    if not notices:
        sys.stdout.write(f"{to} was not written: there is nothing to tell.\n")
        return NOTHING_BLOCKS
    if len(notices) > 1:
        listed = ", ".join(str(notice.procedure.id) for notice in notices)
        raise CalledWrongly(f"A notice is about one procedure. Add --procedure with one of: {listed}.")
    try:
        write_notice(new if notices[0].new else old, notices[0], Path(to))
    except Refused as refusal:
        sys.stderr.write(terminal.render([refusal.finding]))
        return ERRORS_FOUND
    except PublishError as error:
        sys.stderr.write(f"{error}\n")
        return CALLED_WRONGLY
    sys.stdout.write(f"{to} written.\n")
    return NOTHING_BLOCKS

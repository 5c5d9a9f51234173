"""``prescrub draft``: a new procedure from a talk, slides or an old outline, or from the answers to a few questions."""

from __future__ import annotations

import argparse
import sys
from pathlib import Path
from typing import TYPE_CHECKING, Any

from builder.commands.common import CALLED_WRONGLY, ERRORS_FOUND, NOTHING_BLOCKS, CalledWrongly, department
from builder.commands.formats import terminal
from builder.findings.finding import Refused

if TYPE_CHECKING:
    from builder.load.told.draft_source import Source

EXAMPLE = """examples:
  prescrub draft "Open appendicectomy"                            asks a few questions
  prescrub draft "Open appendicectomy" --from old-outline.docx
  prescrub draft "Open appendicectomy" my-department --from talk.vtt
  prescrub draft --confirm content/procedures/open-appendicectomy/steps/find-caecum.md

FILE is a numbered outline (.md, .txt), a .docx, a .pptx, or the transcript of a talk (.vtt, .srt, or .md with [m:ss]).
All that is proposed says `proposed: true` until you have read it; nothing of the source is lost. --confirm takes that
line out of a file, or of every file of a procedure's folder."""

QUESTIONS = (
    ("Specialty", "Which specialty is it?", False),
    ("Owner", "Who owns it: whose name stands on it?", False),
    ("Role of the owner", "And their role?", False),
    ("Side", "Which side: left, right, both, midline, or either (chosen for the patient)?", False),
    ("Setting", "Where is it done?", False),
    ("Indications", "Why and when is it done?", True),
    ("Before you start", "What must be settled before you start?", True),
    ("Equipment", "What is used?", True),
    ("Steps", "What are the steps, in order?", True),
    ("Dangers", "What can be hurt, or go wrong?", True),
    ("Aftercare", "What does the patient need afterwards?", True),
)


def add(parsers: Any) -> None:
    """Say how the command is called."""
    parser = parsers.add_parser(
        "draft",
        help="start a procedure from a talk, slides, an old outline, or a few questions",
        epilog=EXAMPLE,
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    parser.add_argument("title", metavar="TITLE", nargs="?", help="the title of the procedure")
    parser.add_argument(
        "folder", metavar="FOLDER", nargs="?", default=".", help="the department's folder (default: this folder)"
    )
    parser.add_argument("--from", dest="source", metavar="FILE", help="what to draft from")
    parser.add_argument(
        "--confirm", metavar="PATH", action="append", help="you have read it: take `proposed: true` out of this file"
    )
    parser.set_defaults(run=run)


def run(arguments: argparse.Namespace) -> int:
    """Draft the procedure and say what was found; or say why not, with nothing written."""
    # Imported here: reading the answers of a wrong call needs none of it.
    from builder.draft import propose  # noqa: PLC0415
    from builder.draft.draft_report import report  # noqa: PLC0415
    from builder.draft.ids import slug  # noqa: PLC0415
    from builder.load.folder import load  # noqa: PLC0415
    from builder.model.build import build  # noqa: PLC0415
    from builder.publish.pictures.images import clean_photograph  # noqa: PLC0415
    from builder.write.draft_files import refuse_existing, write  # noqa: PLC0415
    from builder.write.whole_file import NotWritten  # noqa: PLC0415

    if arguments.confirm:
        return _confirm(arguments)
    root = department(arguments.folder)
    title = " ".join((arguments.title or "").split())
    if not slug(title):
        given = f"{title!r} gives no name for a folder" if title else "There is no title"
        raise CalledWrongly(f'{given}. Write one in letters, for instance: prescrub draft "Open appendicectomy"')
    try:
        refuse_existing(root, slug(title))
        source = _source(arguments.source)
        proposal = propose(title, source, build(load(root))[0])
        write(root, proposal, clean_photograph)
    except NotWritten as error:
        sys.stderr.write(f"prescrub: {error}\nNothing was written.\n")
        return CALLED_WRONGLY
    except Refused as refusal:
        sys.stderr.write(terminal.render([refusal.finding]))
        sys.stderr.write("Nothing was written.\n")
        return ERRORS_FOUND
    sys.stdout.write(report(proposal, arguments.folder))
    return NOTHING_BLOCKS


def _confirm(arguments: argparse.Namespace) -> int:
    from builder.write.confirm import NotConfirmed, confirm  # noqa: PLC0415
    from builder.write.edit_files import ChangedUnderneath  # noqa: PLC0415

    if arguments.source or (arguments.title and arguments.folder != "."):
        raise CalledWrongly("--confirm goes with the folder alone: prescrub draft my-department --confirm PATH")
    root = department(arguments.title or arguments.folder)
    try:
        found = confirm(root, arguments.confirm)
    except NotConfirmed as error:
        raise CalledWrongly(str(error)) from None
    except ChangedUnderneath as error:
        raise CalledWrongly(f"{error} was saved by somebody else in this moment. Try again.") from None
    except Refused as refusal:
        sys.stderr.write(terminal.render([refusal.finding]))
        return ERRORS_FOUND
    sys.stdout.writelines(f"{one.file}: {one.marks} confirmed\n" for one in found)
    if not found:
        sys.stdout.write("Nothing there is proposed.\n")
    return NOTHING_BLOCKS


def _source(file: str | None) -> Source:
    from builder.load.told.source_file import read_source, source_of_answers  # noqa: PLC0415

    if file:
        return read_source(Path(file))
    if not (sys.stdin.isatty() and sys.stdout.isatty()):
        raise CalledWrongly(
            "There is no terminal to ask you questions on. Name what to draft from: prescrub draft TITLE --from FILE"
        )
    return source_of_answers(_asked())


def _asked() -> dict[str, list[str]]:
    """Ask the questions; every one can be skipped with an empty line, and the end of input skips the rest."""
    sys.stdout.write("An empty line skips a question, or ends a list. Nothing is written before the last one.\n")
    answers: dict[str, list[str]] = {}
    for heading, question, many in QUESTIONS:
        sys.stdout.write(f"\n{question}{' One a line.' if many else ''}\n")
        answers[heading], has_ended = _lines(many)
        if has_ended:
            sys.stdout.write("\n")
            break
    return answers


def _lines(many: bool) -> tuple[list[str], bool]:
    """Return the lines of one answer, and whether the input ended with it."""
    lines: list[str] = []
    try:
        while line := input("> ").strip():
            lines.append(line)
            if not many:
                break
    except EOFError:
        return lines, True
    return lines, False

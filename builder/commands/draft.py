"""``prescrub draft``: a new procedure from a talk, slides or an old outline, or from the answers to a few questions."""

from __future__ import annotations

import argparse
import sys
from collections.abc import Mapping
from difflib import get_close_matches
from pathlib import Path
from typing import TYPE_CHECKING, Any

from builder.commands.common import (
    HOW_TO_ANSWER,
    NOTHING_BLOCKS,
    CalledWrongly,
    asks_here,
    department,
    empty,
    is_department,
    lines_asked,
)
from builder.findings.message_words import quoted

if TYPE_CHECKING:
    from builder.load.told.draft_source import Source

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

_NEEDS = {"new": "TITLE", "confirm": "FILE", "translation": "PROCEDURE LANGUAGE"}
"""What ``prescrub draft`` can be followed by, and what that needs."""


def meant(words: list[str], given: Mapping[str, Any]) -> tuple[str, list[str]]:
    """Return ``new``, ``confirm`` or ``translation``, and the words left for it. Raises CalledWrongly where it could be
    any of them."""
    if "file" in given:
        return "confirm", words
    if len(words) == 1 and words[0] in _NEEDS:
        (word,) = words
        what = _NEEDS[word]
        raise CalledWrongly(
            f"{what} is missing: prescrub draft {word} {what}. "
            f"For a procedure with the title {quoted(word)}, write: prescrub draft new {word}"
        )
    chosen, rest = (words[0], words[1:]) if words and words[0] in _NEEDS else ("new", words)
    if chosen == "new" and len(rest) == 1 and is_department(rest[0]):
        raise CalledWrongly(
            f"{quoted(rest[0])} is a department's folder. To start a procedure in it: prescrub draft new TITLE "
            f"{rest[0]}. To start one with that title here: prescrub draft new {rest[0]} ."
        )
    return chosen, rest


def run_new(arguments: argparse.Namespace) -> int:
    """Draft the procedure and say what was found."""
    if not Path(arguments.folder).is_dir():
        near = get_close_matches(arguments.title, list(_NEEDS), n=1)
        asked = f"Did you mean prescrub draft {near[0]}?" if near else "A title of several words needs quotation marks."
        raise CalledWrongly(f"{arguments.folder} is not a folder. {asked}")
    if not arguments.source and asks_here():
        sys.stdout.write(HOW_TO_ANSWER.format("At least one step is"))
    sys.stdout.write(begun(department(arguments.folder), arguments.title, arguments.source, arguments.folder))
    return NOTHING_BLOCKS


def begun(root: Path, title: str, source: str | Source | None, folder: str) -> str:
    """Write the draft of a procedure to the department in ``root`` and return the report of it.

    ``source`` is what it is drafted from, or the name of its file; without one, it is asked for. ``folder`` is what the
    report calls the department.
    """
    # Imported here: reading the answers of a wrong call needs none of it.
    from builder.draft import propose  # noqa: PLC0415
    from builder.draft.draft_report import report  # noqa: PLC0415
    from builder.edit.ids import slug  # noqa: PLC0415
    from builder.load.folder import load  # noqa: PLC0415
    from builder.model.build import build  # noqa: PLC0415
    from builder.publish.pictures import clean_photograph  # noqa: PLC0415
    from builder.write.draft_files import refuse_existing, write  # noqa: PLC0415

    title = " ".join(title.split())
    if wrong := nameless(title):
        raise CalledWrongly(wrong)
    refuse_existing(root, slug(title))
    told = source_named(source) if source is None or isinstance(source, str) else source
    proposal = propose(title, told, build(load(root))[0])
    write(root, proposal, clean_photograph)
    return report(proposal, folder)


def nameless(title: str) -> str:
    """Say that ``title`` gives no name for the folder of a procedure; "" where it does."""
    from builder.edit.ids import slug  # noqa: PLC0415

    why = f"{quoted(title)} gives no name for a folder" if title else "An answer is needed here"
    return "" if slug(title) else f"{why}. Write it in letters, for instance: Open appendicectomy"


def run_confirm(arguments: argparse.Namespace) -> int:
    """Take the marks of a draft out of what was read, and say how many."""
    from builder.write.draft_files import confirm  # noqa: PLC0415

    files = [arguments.file] if isinstance(arguments.file, str) else arguments.file
    counts = confirm(department(arguments.folder), files)
    sys.stdout.writelines(f"{file}: {marks} confirmed\n" for file, marks in counts.items())
    if not counts:
        sys.stdout.write("Nothing there is proposed.\n")
    return NOTHING_BLOCKS


def run_translation(arguments: argparse.Namespace) -> int:
    """Write the file that a translator is sent, or renew it."""
    from builder.load.folder import load  # noqa: PLC0415
    from builder.model.build import build  # noqa: PLC0415
    from builder.write.translation_file import write_translation  # noqa: PLC0415

    root = department(arguments.folder)
    name = write_translation(root, build(load(root))[0], arguments.procedure, arguments.language)
    sys.stdout.write(f"{name}: write each translation below the sentence that is quoted with `>`.\n")
    return NOTHING_BLOCKS


def source_named(file: str | None) -> Source:
    """Return what is drafted from: what ``file`` holds, or the answers to questions on the terminal."""
    from builder.load.told.source_file import read_source, source_of_answers  # noqa: PLC0415

    return read_source(Path(file)) if file else source_of_answers(_asked())


def _asked() -> dict[str, list[str]]:
    """Ask the questions; all but that for the steps can be skipped, and the end of input skips the rest."""
    needs = "Name what to draft from: --from FILE"
    answers: dict[str, list[str]] = {}
    for heading, question, many in QUESTIONS:
        answers[heading], has_ended = lines_asked(question, many, needs, empty if heading == "Steps" else None)
        if has_ended:
            break
    return answers

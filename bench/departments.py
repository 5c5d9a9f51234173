"""Synthetic departments: the same for the same number of procedures, on every machine."""

from __future__ import annotations

import random
import re
import shutil
from pathlib import Path

BASE = Path(__file__).parent.parent / "tests" / "base"
STEPS = 10
_SEED = 20_280_531

_WORDS = (
    "Hold the tissue lightly",
    "Look along its whole length before you go on",
    "Keep the field dry and the light on the wound",
    "Ask the assistant to hold the retractor still",
    "Name each layer aloud as you come to it",
    "Take small bites of tissue and place them evenly",
    "Do not pull on what you cannot see",
    "Wait for the swab to come away dry",
    "Stop when the cue is not there",
    "Say what you will do next",
)
_EXTRA = """---
title: Look at the wound from corner to corner ({number})
supervision: part
minutes: {minutes}
actions:
  - inspect: skin
cue: The wound is dry from corner to corner at look {number}.
if_not: Press for two minutes and look again.
common_practice: true
evidence: [synthetic-{procedure:04d}]
---
{prose}

It follows [the opening](step:open-canal) and is [known](source:synthetic-{procedure:04d}).
"""
SOURCE = """
@article{{synthetic-{procedure:04d},
  author = {{Example, Ada and Sample, Ben}},
  title = {{A synthetic source for measuring, number {procedure}}},
  journal = {{Journal of Invented Measurements}},
  year = {{{year}}},
  volume = {{{procedure}}},
  pages = {{1--9}},
}}
"""


_END = re.compile(r"(?<=[a-z)])(?=\.(?: [A-Z]|$))|^(?:title|  caption|    what): .*$", re.MULTILINE)
"""Where a sentence ends, and a title."""
_SEEN_LIST = """
lamp screen table stool shelf basin door window mirror trolley wall corner clock board bench tray rail hook drawer
counter lift ramp floor ceiling
"""
_SEEN = _SEEN_LIST.split()


def make(folder: Path, procedures: int, *, own_words: bool = False) -> Path:
    """Write a department of ``procedures`` procedures with ten steps each into ``folder``, and return it.

    All of it passes the checks; prose, numbers and years differ between procedures (fixed seed). With ``own_words``
    each id, title and sentence differs too, so that next to nothing is gained where the same text is read once.
    """
    shuffled = random.Random(_SEED)  # noqa: S311  # the same text on every machine, nothing secret
    shutil.copytree(BASE, folder)
    example = folder / "content" / "procedures" / "example"
    with (folder / "references" / "synthetic.bib").open("w", encoding="utf-8") as sources:
        for number in range(1, procedures + 1):
            target = folder / "content" / "procedures" / f"synthetic-{number:04d}"
            make_procedure(example, target, number, shuffled)
            if own_words:
                _reworded(target, number, shuffled)
            sources.write(SOURCE.format(procedure=number, year=shuffled.randint(1990, 2025)))
    _name_shared(folder, example, procedures)
    return folder


def _name_shared(folder: Path, example: Path, procedures: int) -> None:
    """The base's own procedure stays only where it is the one asked for."""
    if procedures > 1:
        shutil.rmtree(example)
        name_first(folder)


def name_first(folder: Path) -> None:
    """Let what links to the base's own procedure link to the first that was made."""
    for file in (folder / "content").glob("**/*.md"):
        text = file.read_text(encoding="utf-8")
        if "(procedure:example)" in text:
            file.write_text(text.replace("(procedure:example)", "(procedure:synthetic-0001)"), encoding="utf-8")


def make_procedure(example: Path, target: Path, number: int, shuffled: random.Random) -> None:
    """Write a procedure of ten steps into ``target``, from ``example``."""
    shutil.copytree(example, target)
    extra = STEPS - len(list((target / "steps").glob("*.md")))
    names = [f"look-{one}" for one in range(1, extra + 1)]
    for place, name in enumerate(names, start=1):
        prose = ". ".join(shuffled.choice(_WORDS) for _ in range(10)) + "."
        text = _EXTRA.format(number=place, minutes=shuffled.randint(1, 9), procedure=number, prose=prose)
        (target / "steps" / f"{name}.md").write_text(text, encoding="utf-8")
    head = target / "procedure.md"
    listed = "".join(f"  - {name}\n" for name in names)
    text = head.read_text(encoding="utf-8").replace("  - close-canal\n", f"{listed}  - close-canal\n", 1)
    head.write_text(text.replace("title: Opening", f"title: ({number}) Opening", 1), encoding="utf-8")


def _reworded(target: Path, number: int, shuffled: random.Random) -> None:
    """Give each id in ``target`` the number of the procedure, and end each sentence as no other ends."""
    files = sorted(target.glob("*/*.md"))
    ids = re.compile(rf"\b({'|'.join(file.stem for file in files)})\b")
    for file in (*files, target / "procedure.md"):
        text = ids.sub(rf"\1-{number}", file.read_text(encoding="utf-8"))
        file.unlink()
        named = file if file.name == "procedure.md" else file.with_stem(f"{file.stem}-{number}")
        named.write_text(_END.sub(lambda end: _ended(end, number, shuffled), text), encoding="utf-8")


def _ended(end: re.Match[str], number: int, shuffled: random.Random) -> str:
    named = f"{end[0]} ({number})" if end[0] else ""
    return f"{named} by the {', the '.join(shuffled.sample(_SEEN, 3))}"

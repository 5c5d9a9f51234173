"""Writes down what every check says of the demo and of each planted error, so that two states of it can be compared.

From tests/, ``PYTHONPATH=TREE python record_findings.py PART [N/M] > FILE`` records what the program in TREE finds in
the departments of these tests. N/M takes every M-th change of an unseen set from the N-th on: a long set can be run in
parts. Two records that are the same byte for byte tell that nothing is found otherwise.
"""

from __future__ import annotations

import os
import shutil
import sys
import tempfile
from collections.abc import Callable, Iterator
from functools import partial
from pathlib import Path

os.environ["PRESCRUB_CACHE"] = "off"
HERE = Path(__file__).parent
_Run = Callable[["Check", "Library"], Iterator["Finding"]]
sys.path.append(str(HERE))

import planted.actions  # noqa: E402  # tests/ has to be among the places that are looked through
import planted.results  # noqa: E402
import planted_pages.run  # noqa: E402
import planted_words.run  # noqa: E402
from department import lay, new_base, read  # noqa: E402
from pages import all_pages  # noqa: E402
from unseen.run import LAST, SETS, changes, copied, findings, plant, sound  # noqa: E402

from builder.check.hit import Check  # noqa: E402
from builder.findings.finding import Finding  # noqa: E402
from builder.model.library import Library  # noqa: E402


def _say(finding: Finding) -> None:
    sys.stdout.write(f"{finding!r}\n")


def _recorded(run: _Run, check: Check, library: Library) -> Iterator[Finding]:
    sys.stdout.write(f"# {check.name}\n")
    for finding in run(check, library):
        _say(finding)
        yield finding


def _examined(root: Path) -> None:
    sys.stdout.write("## all\n")
    for finding in read(root)[1]:
        _say(finding)


def _departments(_: int, __: int) -> None:
    for root in (HERE.parent, HERE / "base", HERE / "second", HERE / "slips" / "department"):
        _examined(root)
    with tempfile.TemporaryDirectory() as folder:
        for defect in sorted(one for one in (HERE / "defects").iterdir() if one.is_dir()):
            _over_base(Path(folder), defect)
        for page in all_pages():
            for files in (page.bad, page.good) if not page.command else ():
                _over_base(Path(folder), files)


def _over_base(folder: Path, files: dict[str, str] | Path) -> None:
    root = lay(new_base(folder), files)
    _examined(root)
    shutil.rmtree(root)


def _planted(_: int, __: int) -> None:
    library = planted.results.demo()
    planted.results.run(library, planted.results.found_in(library))
    planted.actions.results()


def _planted_words(_: int, __: int) -> None:
    planted_words.run.results()
    planted_words.run.wrong_edits()
    planted_pages.run.results()


def _unseen(folder: Path, first: int, every: int) -> None:
    with tempfile.TemporaryDirectory() as work:
        root = Path(work) / "department"
        for change in list(changes(folder))[first::every]:
            sys.stdout.write(f"=== {change.id}\n")
            copied(sound(folder), root)
            plant(change.edits, root)
            for finding in findings(root):
                _say(finding)
            shutil.rmtree(root)


PARTS = {"departments": _departments, "planted": _planted, "words": _planted_words} | {
    folder.name: partial(_unseen, folder) for folder in (*SETS, LAST)
}


def main(part: str, share: str = "0/1") -> None:
    """Record ``part``, or the ``share`` of it."""
    run = Check.run
    Check.run = lambda check, library: _recorded(run, check, library)  # type: ignore[method-assign]
    first, every = map(int, share.split("/"))
    PARTS[part](first, every)


if __name__ == "__main__":
    main(*sys.argv[1:])

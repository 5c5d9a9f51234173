"""Errors that somebody planted who had not seen the checks, and innocent changes that look like them.

``first/``, ``second/`` and ``fourth/`` to ``seventh/`` are sets by six writers, each on a sound
``department/`` for this alone; ``fields/`` is planted into the department of ``tests/slips``, and was written by who
wrote the checks, before them.
``errors.yml`` and ``innocent.yml`` say of each change what it is in plain words, what is edited, and in which files a
finding counts as having found it. ``python -m unseen.run`` from tests/ prints what is found.
"""

from __future__ import annotations

import shutil
import tempfile
from collections import Counter
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import date
from pathlib import Path
from typing import Any

import yaml

from builder.check.engine import examine
from builder.findings.finding import Finding, Severity
from builder.load.folder import load

SETS = tuple(
    Path(__file__).parent / name for name in ("first", "second", "fields", "fourth", "fifth", "sixth", "seventh")
)
LAST = Path(__file__).parent / "third"
"""A set in other forms: 136 of 393 (35 %) were found in its first run. Nothing is asked of it yet."""
SHARED = Path(__file__).parents[1] / "slips" / "department"
TODAY = date(2026, 11, 25)


@dataclass(frozen=True)
class Change:
    """One change: its ``kind`` is "error" or "innocent"; ``blocks`` where it would hurt or mislead."""

    id: str
    kind: str
    subject: str
    what: str
    blocks: bool
    edits: tuple[dict[str, Any], ...]
    at: frozenset[str]


@dataclass(frozen=True)
class Outcome:
    """What the checks say of a change and did not say of the sound department: all of it, and what is at its place."""

    change: Change
    said: tuple[Finding, ...]

    @property
    def told(self) -> tuple[Finding, ...]:
        """The findings at the place of the change, or which name it as their second place."""
        return tuple(
            finding
            for finding in self.said
            if self.change.at.intersection((finding.at.file, *(second.at.file for second in finding.also)))
        )

    @property
    def blocking(self) -> bool:
        """Tell whether it is refused."""
        return any(finding.severity is Severity.ERROR for finding in self.said)


def sound(folder: Path) -> Path:
    """Return the department of the set in ``folder`` that changes are planted into: its own, or the shared one."""
    own = folder / "department"
    return own if own.is_dir() else SHARED


def copied(folder: Path, root: Path) -> None:
    """Copy what a department writes from ``folder`` to ``root``."""
    for part in ("content", "references"):
        shutil.copytree(folder / part, root / part)


def changes(folder: Path) -> Iterator[Change]:
    """Yield every change of both lists of the set in ``folder``."""
    for file in ("errors", "innocent"):
        for row in yaml.safe_load((folder / f"{file}.yml").read_text(encoding="utf-8")):
            yield Change(
                row["id"],
                "error" if file == "errors" else "innocent",
                row["class"],
                row["what"],
                row.get("severity") == "blocks",
                tuple(row["edits"]),
                frozenset(row["at"]),
            )


def plant(edits: Iterable[dict[str, Any]], root: Path) -> None:
    """Carry out ``edits`` in the department in ``root``. Every text to be found is there exactly once."""
    for edit in edits:
        path = root / edit["file"]
        if edit.get("delete"):
            path.unlink()
        elif "create" in edit:
            path.parent.mkdir(parents=True, exist_ok=True)
            path.write_text(edit["create"], encoding="utf-8")
        elif "rename" in edit:
            path.rename(path.parent / Path(edit["rename"]).name)
        else:
            text = path.read_text(encoding="utf-8")
            assert text.count(edit["find"]) == 1, (edit["file"], edit["find"])
            path.write_text(text.replace(edit["find"], edit["replace"]), encoding="utf-8")


def findings(root: Path) -> tuple[Finding, ...]:
    """Return all that the checks say of the department in ``root``."""
    return tuple(examine(load(root, TODAY))[1])


def outcomes(folder: Path) -> Iterator[Outcome]:
    """Yield what comes of each change of the set in ``folder``."""
    with tempfile.TemporaryDirectory() as work:
        root = Path(work) / "department"
        copied(sound(folder), root)
        before = Counter((finding.name, finding.message) for finding in findings(root))
        shutil.rmtree(root)
        for change in changes(folder):
            copied(sound(folder), root)
            plant(change.edits, root)
            said = [finding for finding in findings(root) if not before[finding.name, finding.message]]
            shutil.rmtree(root)
            yield Outcome(change, tuple(said))


def table(every: Iterable[Outcome]) -> Iterator[str]:
    """Yield by class how many errors were found, and how many innocent changes raised an alarm or were refused."""
    outcomes_of: dict[str, list[Outcome]] = {}
    for outcome in every:
        outcomes_of.setdefault(outcome.change.subject, []).append(outcome)
    yield f"{'class':12} {'errors':>7} {'found':>6} {'refused':>8} {'innocent':>9} {'asked':>6} {'refused':>8}"
    everything = [outcome for group in outcomes_of.values() for outcome in group]
    for subject, group in [*sorted(outcomes_of.items()), ("all", everything)]:
        errors = [outcome for outcome in group if outcome.change.kind == "error"]
        innocent = [outcome for outcome in group if outcome.change.kind == "innocent"]
        told, alarmed = sum(bool(one.told) for one in errors), sum(bool(one.said) for one in innocent)
        refused = [sum(one.blocking for one in part) for part in (errors, innocent)]
        yield (f"{subject:12} {len(errors):7} {told:6} {refused[0]:8} {len(innocent):9} {alarmed:6} {refused[1]:8}")


if __name__ == "__main__":
    for each in (*SETS, LAST):
        print(f"{each.name} set", *table(outcomes(each)), sep="\n")

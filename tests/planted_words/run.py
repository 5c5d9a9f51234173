"""Plants each line of the lists into the modules of a department and counts what the checks say of it."""

from __future__ import annotations

import re
import shutil
import tempfile
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date
from itertools import cycle
from pathlib import Path

import yaml

from builder.check.engine import examine
from builder.check.table import CHECKS
from builder.findings.finding import Finding
from builder.findings.register import REGISTER
from builder.load.folder import load
from builder.model.build import build

HERE = Path(__file__).parent
ROOT = HERE.parent.parent
TODAY = date(2026, 11, 25)
KINDS = {
    "wording": "notation", "sides": "sides", "doses": "doses", "identity": "identity", "persons": "identity",
    "characters": "characters",
}  # fmt: skip
_CHECKS = tuple(
    check
    for check in CHECKS
    if REGISTER[check.name].family.name in KINDS.values() or check.name == "patient-told-other-dose"
)
BASE = HERE.parent / "base"


@dataclass(frozen=True)
class Plant:
    """One line: its kind, what is planted (``text`` or ``dose``), and the check that must find it ("" = innocent).

    A dose may have ``prose`` for staff and a text for the ``patient`` beside it.

    Where two checks may find it, because the module may state the same dose elsewhere, both are named.
    """

    kind: str
    text: str
    dose: str
    check: str
    prose: str = ""
    patient: str = ""


@dataclass(frozen=True)
class Result:
    """What was found on a plant: the ids of the checks, and the module it was planted into."""

    plant: Plant
    module: str
    found: tuple[str, ...]

    @property
    def is_right(self) -> bool:
        """An error is caught by its own check; an innocent line is found by none."""
        return not set(self.plant.check.split()).isdisjoint(self.found) if self.plant.check else not self.found


def plants() -> list[Plant]:
    """Return every line of the lists."""
    found = []
    for kind in KINDS:
        data = yaml.safe_load((HERE / f"{kind}.yml").read_text(encoding="utf-8"))
        for check, lines in data["errors"].items():
            found.extend(_plant(kind, line, check) for line in lines)
        found.extend(_plant(kind, line, "") for line in data["innocent"])
    return found


def _plant(kind: str, line: str | dict[str, str], check: str) -> Plant:
    parts = line if isinstance(line, dict) else {"text": line}
    return Plant(kind, check=check, **{"text": "", "dose": "", **parts})


def results(root: Path = ROOT) -> list[Result]:
    """Plant everything into the department in ``root`` and return what was found on each line."""
    every = plants()
    with tempfile.TemporaryDirectory() as folder:
        work = Path(folder)
        texts = [one for one in every if one.text and one.kind != "sides"]
        sides = [one for one in every if one.kind == "sides"]
        doses = [one for one in every if one.dose]
        return [
            *_in_prose(_copy(root, work / "texts"), texts),
            *_in_prose(_all_left(_copy(root, work / "sides")), sides),
            *_as_doses(_copy(root, work / "doses"), doses),
        ]


def _copy(root: Path, to: Path) -> Path:
    for name in ("content", "references"):
        shutil.copytree(root / name, to / name)
    return to


def _all_left(root: Path) -> Path:
    """Make every procedure one on the left."""
    for file in root.glob("content/procedures/*/procedure.md"):
        text = file.read_text(encoding="utf-8")
        text = re.sub(r"^side:.*\n", "", text, flags=re.MULTILINE).replace("---\n", "---\nside: left\n", 1)
        file.write_text(text, encoding="utf-8")
    return root


def modules(root: Path) -> list[str]:
    """Return the modules of a department."""
    return sorted(file.parent.name for file in root.glob("content/procedures/*/procedure.md"))


def _in_prose(root: Path, texts: list[Plant]) -> Iterator[Result]:
    """Each line becomes a paragraph behind the prose of a step, caution or item of aftercare, module by module."""
    per_module = {module: cycle(sorted(root.glob(f"content/procedures/{module}/*/*.md"))) for module in modules(root)}
    where: dict[tuple[str, int], tuple[Plant, str]] = {}
    for plant, module in zip(texts, cycle(per_module), strict=False):
        file = next(per_module[module])
        text = file.read_text(encoding="utf-8").rstrip("\n")
        file.write_text(f"{text}\n\n{plant.text}\n", encoding="utf-8")
        where[file.relative_to(root).as_posix(), text.count("\n") + 3] = (plant, module)
    found: dict[tuple[str, int], set[str]] = {}
    for finding in _findings(root):
        found.setdefault((finding.at.file, finding.at.line), set()).add(finding.name)
    for place, (plant, module) in where.items():
        yield Result(plant, module, tuple(sorted(found.get(place, ()))))


def _as_doses(root: Path, doses: list[Plant]) -> Iterator[Result]:
    """Each dose is the only planted one, because doses are compared with one another."""
    for plant, module in zip(doses, cycle(modules(root)), strict=False):
        file = root / "content" / "procedures" / module / "aftercare" / "planted.md"
        patient = f'patient_text: "{plant.patient}"\n' if plant.patient else ""
        file.write_text(
            "---\ntitle: Give it on the ward\nwhen: {from: 0 h, until: 1 day}\n"
            f"dose: {{{plant.dose}, common_practice: true}}\n{patient}common_practice: true\n---\n{plant.prose}\n",
            encoding="utf-8",
        )
        name = file.relative_to(root).as_posix()
        ids = {finding.name for finding in _findings(root) if finding.at.file == name}
        file.unlink()
        yield Result(plant, module, tuple(sorted(ids)))


def _findings(root: Path) -> list[Finding]:
    library, misfits = build(load(root, TODAY))
    assert not misfits, misfits
    return [finding for check in _CHECKS for finding in check.run(library)]


@dataclass(frozen=True)
class Edit:
    """A change of one file of ``tests/base``: its kind, what it is, the finding it must make ("" = innocent).

    ``names`` are the findings that an innocent change of this kind must not make.
    """

    kind: str
    file: str
    find: str
    write: str
    check: str
    names: frozenset[str]

    def apply(self, root: Path) -> None:
        """Make the change in the department in ``root``."""
        path = root / self.file
        text = path.read_text(encoding="utf-8") if path.is_file() else ""
        assert self.find in text, self
        path.parent.mkdir(parents=True, exist_ok=True)
        changed = text.replace(self.find, self.write, 1) if self.find else text + self.write
        path.write_text(changed, encoding="utf-8")


def edits() -> list[Edit]:
    """Return every change of the list."""
    data = yaml.safe_load((HERE / "edits.yml").read_text(encoding="utf-8"))
    found = []
    for kind, section in data.items():
        names = frozenset(section["errors"])
        for check, rows in {**section["errors"], "": section["innocent"]}.items():
            found += [Edit(kind, row["in"], row.get("find", ""), row["write"], check, names) for row in rows]
    return found


def wrong_edits() -> list[str]:
    """Return a line for each change that was missed, and for each innocent one that raised an alarm."""
    return [line for edit in edits() if (line := _wrong(edit))]


def _wrong(edit: Edit) -> str:
    with tempfile.TemporaryDirectory() as folder:
        root = Path(shutil.copytree(BASE, Path(folder) / "base"))
        edit.apply(root)
        found = {finding.name for finding in examine(load(root, TODAY))[1]}
    is_right = edit.check in found if edit.check else not found & edit.names
    what = "missed" if edit.check else "false alarm"
    return "" if is_right else f"{what}: {edit.kind} {edit.check or '-'} {edit.file} {edit.write!r} ({sorted(found)})"


def table(found: list[Result]) -> str:
    """Return what was caught, missed and a false alarm, by kind and by module."""
    lines = [f"{'':<28}{'errors':>8}{'caught':>8}{'missed':>8}{'innocent':>10}{'false alarms':>14}"]
    groups = [(kind, [one for one in found if one.plant.kind == kind]) for kind in KINDS]
    every = sorted({one.module for one in found})
    groups += [(module, [one for one in found if one.module == module]) for module in every]
    for name, group in [*groups, ("all", found)]:
        errors = [one for one in group if one.plant.check]
        innocent = [one for one in group if not one.plant.check]
        missed = sum(not one.is_right for one in errors)
        alarms = sum(not one.is_right for one in innocent)
        caught = len(errors) - missed
        lines.append(f"{name:<28}{len(errors):>8}{caught:>8}{missed:>8}{len(innocent):>10}{alarms:>14}")
    for one in found:
        if not one.is_right:
            what = "missed" if one.plant.check else "false alarm"
            shown = one.plant.text or " / ".join(filter(None, (one.plant.dose, one.plant.prose, one.plant.patient)))
            lines.append(f"{what}: {one.plant.check or '-'} {shown!r} ({', '.join(one.found) or 'nothing found'})")
    return "\n".join(lines)

"""Makes a procedure of each line of the lists, checks all of them as one department and counts what is said of each."""

from __future__ import annotations

import tempfile
from collections import defaultdict
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date
from pathlib import Path
from typing import Any

import yaml

from builder.check.table import CHECKS
from builder.load.folder import load
from builder.model.build import build

HERE = Path(__file__).parent
KINDS = ("prose", "either", "cautions", "aftercare")
TODAY = date(2026, 11, 25)
Front = dict[str, Any]


@dataclass(frozen=True)
class PagePlant:
    """One line of a list: its kind, what it says, and the finding that must be made ("" = none of ours may be)."""

    kind: str
    line: Front
    check: str


@dataclass(frozen=True)
class PageResult:
    """What was found in the procedure of a plant."""

    plant: PagePlant
    found: frozenset[str]
    ours: frozenset[str]

    @property
    def is_right(self) -> bool:
        """An error is found by its own check; an innocent line by none of those that the list of its kind names."""
        return self.plant.check in self.found if self.plant.check else not self.found & self.ours


def plants() -> list[PagePlant]:
    """Return every line of the lists."""
    found = []
    for kind in KINDS:
        data = yaml.safe_load((HERE / f"{kind}.yml").read_text(encoding="utf-8"))
        found += [PagePlant(kind, line, check) for check, lines in data["errors"].items() for line in lines]
        found += [PagePlant(kind, line, "") for line in data["innocent"]]
    return found


def results() -> list[PageResult]:
    """Check all plants and return what was found on each."""
    every = plants()
    ours = {kind: frozenset(plant.check for plant in every if plant.kind == kind and plant.check) for kind in KINDS}
    with tempfile.TemporaryDirectory() as folder:
        root = Path(folder)
        _catalogue(root)
        for number, plant in enumerate(every):
            _PROCEDURES[plant.kind](root / f"content/procedures/p{number}", plant.line)
        library, _ = build(load(root, TODAY))
        assert len(library.procedures) == len(every)
        found: dict[str, set[str]] = defaultdict(set)
        for check in CHECKS:
            for finding in check.run(library):
                found[finding.at.file.removeprefix("content/procedures/").partition("/")[0]].add(check.name)
    return [PageResult(plant, frozenset(found[f"p{number}"]), ours[plant.kind]) for number, plant in enumerate(every)]


def table(found: list[PageResult]) -> str:
    """Return what was caught, missed and a false alarm, by kind and by finding."""
    lines = [f"{'':<32}{'errors':>8}{'caught':>8}{'innocent':>10}{'false alarms':>14}"]
    groups = [(kind, [one for one in found if one.plant.kind == kind]) for kind in KINDS]
    for name, group in [*groups, ("all", found)]:
        errors = [one for one in group if one.plant.check]
        innocent = [one for one in group if not one.plant.check]
        caught, quiet = sum(one.is_right for one in errors), sum(one.is_right for one in innocent)
        lines.append(f"{name:<32}{len(errors):>8}{caught:>8}{len(innocent):>10}{len(innocent) - quiet:>14}")
    for check in dict.fromkeys(one.plant.check for one in found if one.plant.check):
        group = [one for one in found if one.plant.check == check]
        lines.append(f"  {check:<30}{len(group):>8}{sum(one.is_right for one in group):>8}")
    for one in found:
        if not one.is_right:
            said = ", ".join(sorted(one.found & one.ours)) or "nothing of ours"
            what = "missed" if one.plant.check else "false alarm"
            lines.append(f"{what}: {one.plant.check or '-'} {one.plant.line} ({said})")
    return "\n".join(lines)


def _catalogue(root: Path) -> None:
    data = yaml.safe_load((HERE / "department.yml").read_text(encoding="utf-8"))
    for name in ("structures", "items", "terms"):
        _write(root / f"content/catalogue/{name}.yml", yaml.safe_dump(data[name]))
    (root / "references").mkdir(parents=True)
    front = {"name": "Department of planted errors", "call": data["call"], "approvers": ["clinical lead"]}
    _page(root / "content/department.md", front)


def _write(file: Path, text: str) -> None:
    file.parent.mkdir(parents=True, exist_ok=True)
    file.write_text(text, encoding="utf-8")


def _page(file: Path, front: Front, prose: str = "") -> None:
    _write(file, f"---\n{yaml.safe_dump(front, sort_keys=False, allow_unicode=True, width=1000)}---\n{prose}\n")


def _procedure(folder: Path, sequence: list[Any], **more: Any) -> None:
    front = {
        "title": "Planted procedure",
        "specialty": "general surgery",
        "edition": "1.0",
        "status": "draft",
        "owner": {"name": "Ada Example", "role": "consultant surgeon"},
        "review_by": "2028-05-31",
        "sequence": sequence,
        "common_practice": True,
    }
    _page(folder / "procedure.md", front | more)


def _step(folder: Path, id: str, line: Front) -> None:
    front = {key: value for key, value in line.items() if key not in ("do", "say")}
    _page(
        folder / f"steps/{id}.md",
        {"title": "Go on with the operation", "common_practice": True, "actions": line.get("do", [])} | front,
        line.get("say", ""),
    )


def _one_step(folder: Path, line: Front) -> None:
    _procedure(folder, ["s1"], side="either")
    _step(folder, "s1", line)


def _with_cautions(folder: Path, line: Front) -> None:
    steps = line.get("steps", [{"critical": True, "cue": "It is dry.", "if_not": "Stop and call."}])
    _procedure(folder, [f"s{number}" for number in range(1, len(steps) + 1)])
    for number, step in enumerate(steps, 1):
        _step(folder, f"s{number}", step)
    usual = {"signal": "warning", "hazard": "Harm", "consequence": "A wound.", "avoid": "Look first.", "sign": "Blood."}
    for number, caution in enumerate(line.get("cautions", []), 1):
        guards = {"guards": [f"s{len(steps)}"]}
        front = usual | {"if_it_happens": "Stop and call.", "common_practice": True} | guards | caution
        _page(folder / f"cautions/c{number}.md", front)


def _with_aftercare(folder: Path, line: Front) -> None:
    drain: list[Any] = ["put-drain"] if line.get("always") else [{"option": {"id": "drain", "steps": ["put-drain"]}}]
    _procedure(folder, [*drain, "dress"])
    stays = any(item.get("concerns") == "belly drain" for item in line["items"])
    action = {"place": "belly drain", "in": "peritoneal cavity"} | ({"stays": True} if stays else {})
    flank = {"say": f"Lay the belly drain through the {line['side']} flank."} if "side" in line else {}
    _step(folder, "put-drain", {"do": [action]} | flank)
    _step(folder, "dress", {"do": [{"inspect": "skin"}]})
    for number, item in enumerate(line["items"], 1):
        _page(folder / f"aftercare/a{number}.md", dict(_care(item)), item.get("say", ""))


def _care(item: Front) -> Iterator[tuple[str, Any]]:
    yield "title", item["title"]
    yield "when", {"from": "0 h", "until": item.get("until", "6 weeks")}
    for key, written in _AS_WRITTEN:
        if key in item:
            yield written, item[key]
    yield "common_practice", True


_AS_WRITTEN = (
    ("concerns", "concerns"), ("only_if", "only_if"), ("patient", "patient_text"), ("who", "who"), ("dose", "dose"),
)  # fmt: skip
_PROCEDURES = {"prose": _one_step, "either": _one_step, "cautions": _with_cautions, "aftercare": _with_aftercare}

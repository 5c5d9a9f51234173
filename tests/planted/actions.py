"""Plants each case of ``actions.yml`` into an operation of its own and counts what the checks say of it."""

from __future__ import annotations

import shutil
import tempfile
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import yaml
from department import BASE, family, lay, read

HERE = Path(__file__).parent
FAMILIES = ("paths", "names", "format", "order", "critical-steps")
NOT_ASKED = {"kit-unused", "left-in-without-aftercare", "named-and-not-done", "done-and-not-named", "step-not-used"}
"""What these operations leave open on purpose: their kit is everything, and their texts are a line long."""

OPENING = {
    "title": "Open the belly",
    "do": [
        {"open": "belly skin", "with": "knife"},
        {"open": "linea alba", "with": "scissors"},
        {"open": "peritoneal cavity"},
    ],
}
_COUNT = {"count": ["swabs", "packs", "needles", "blades", "instruments"]}
CLOSING = {
    "title": "Count and close the belly",
    "do": [
        _COUNT,
        {"close": ["peritoneal cavity", "linea alba"]},
        _COUNT,
        {"close": "belly skin", "with": "stitch"},
    ],
}
HEAD = """---
title: Work in the belly
specialty: general surgery
edition: "1.0"
status: draft
owner: {name: Ada Example, role: consultant surgeon}
review_by: 2028-05-31
side: left
"""


@dataclass(frozen=True)
class Planted:
    """A case as it is written, the findings that count as right (none: it is innocent), and what was found."""

    case: Any
    wanted: frozenset[str]
    found: frozenset[str]

    @property
    def is_right(self) -> bool:
        return bool(self.wanted & self.found) if self.wanted else not self.found - NOT_ASKED


def results() -> list[Planted]:
    """Plant every case and return what was found."""
    data = yaml.safe_load((HERE / "actions.yml").read_text(encoding="utf-8"))
    cases = [(case, frozenset(names.split())) for names, some in data["errors"].items() for case in some]
    cases += [(case, frozenset()) for case in data["innocent"]]
    with tempfile.TemporaryDirectory() as folder:
        root = Path(shutil.copytree(BASE, Path(folder) / "department"))
        shutil.rmtree(root / "content" / "procedures")
        shutil.rmtree(root / "content" / "shared")
        catalogue = {f"content/catalogue/{name}.yml": yaml.safe_dump(data[name]) for name in ("structures", "items")}
        lay(root, catalogue)
        return [Planted(case, wanted, _found(root, case, data["items"])) for case, wanted in cases]


def _found(root: Path, case: Any, items: list[dict[str, Any]]) -> frozenset[str]:
    whole = case if isinstance(case, dict) else {"steps": [{"do": case}]}
    steps = whole["steps"] if whole.get("bare") else [OPENING, *whole["steps"], CLOSING]
    folder = root / "content" / "procedures" / "planted"
    shutil.rmtree(folder, ignore_errors=True)
    ids = [f"step-{number}" for number in range(1, len(steps) + 1)]
    used: list[Any] = [id for id, step in zip(ids, steps, strict=True) if not step.get("unused")]
    if whole.get("stop_inside"):
        used[1] = {"option": {"id": "stop", "title": "Stop", "steps": [used[1]]}}
    front = {"kit": {str(item["name"]): 20 for item in items}, "sequence": used, "common_practice": True}
    files = {"procedure.md": f"{HEAD}{yaml.safe_dump(front)}---\n"}
    for id, step in zip(ids, steps, strict=True):
        keys = {key: value for key, value in step.items() if key not in ("do", "text", "unused")}
        keys = {"title": f"Do what {id} says", **keys, "actions": step["do"], "common_practice": True}
        files[f"steps/{id}.md"] = f"---\n{yaml.safe_dump(keys, sort_keys=False)}---\n{step.get('text', '')}\n"
    lay(folder, files)
    return frozenset(one.name for one in read(root)[1] if family(one) in FAMILIES)


def table(found: list[Planted]) -> str:
    """Return what was caught, missed and a false alarm, by what was planted."""
    kinds = list(dict.fromkeys(one.wanted for one in found))
    lines = []
    for kind in kinds:
        cases = [one for one in found if one.wanted == kind]
        right = sum(one.is_right for one in cases)
        lines.append(f"{' or '.join(sorted(kind)) or 'innocent':<62}{len(cases):>5}{right:>5}")
        shown = [one for one in cases if not one.is_right]
        lines += [f"    {one.case} {sorted(one.found)}" for one in shown]
    return "\n".join(lines)

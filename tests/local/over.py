"""A ward whose department is laid over that of its region, which is the base with a second procedure."""

from __future__ import annotations

import shutil
from datetime import date
from pathlib import Path
from typing import Any

import yaml
from department import BASE, TODAY, lay

from builder.check.engine import examine
from builder.findings.finding import Finding
from builder.load.folder import load
from builder.model.library import Library

REGION = "../region"
HEAD = """---
name: Ward Nine
site: https://ward.example.org/
parent: {parent}
---
"""
WHY = {"because": "We teach it so.", "document": "Theatre policy 12", "date": "2026-05-01"}


class Ward:
    """``root`` is the ward's department, ``region`` that of its parent."""

    def __init__(self, folder: Path, parent: str = "{folder: ../region}") -> None:
        self.region = Path(shutil.copytree(BASE, folder / "region"))
        self.root = folder / "ward"
        lay(self.root, {"content/department.md": HEAD.replace("{parent}", parent)})

    def local(self, *changes: dict[str, Any], page: str = "example", **head: Any) -> None:
        """Write the page of local changes, each with a reason where it has none."""
        front = {**head, "changes": [{**WHY, **change} for change in changes]}
        text = yaml.safe_dump(front, sort_keys=False, allow_unicode=True)
        lay(self.root, {f"content/local/{page}.md": f"---\n{text}---\n"})

    def read(self, day: date = TODAY) -> tuple[Library, list[Finding]]:
        return examine(load(self.root, day))

    def names(self) -> list[str]:
        return [finding.name for finding in self.read()[1]]

    def of_region(self, file: str, old: str, new: str) -> None:
        """Change a text of the region's procedure."""
        path = self.region / "content/procedures/example" / file
        text = path.read_text()
        assert old in text, f"{old!r} is not in {file}"
        path.write_text(text.replace(old, new))


def confirmed(ward: Ward) -> None:
    """Keep ours at every change that waits for a choice."""
    from builder.write.local_choice import keep_ours  # not every test writes

    while waiting := [change for change in ward.read()[0].local if not change.is_chosen]:
        keep_ours(ward.read()[0], waiting[0])

"""Small regions for tests: departments laid over one common library, which is the base."""

from __future__ import annotations

import shutil
from collections.abc import Iterable
from pathlib import Path

import yaml
from department import BASE, lay

NOON = "1795608000"
"""SOURCE_DATE_EPOCH of the day of every test."""
HEAD = """---
name: {name}
site: https://{id}.example.org/
parent: {{folder: ../../common}}
---
"""
WHY = {"because": "We teach it so.", "document": "Theatre policy 12", "date": "2026-05-01"}


def region(root: Path, ids: Iterable[str]) -> Path:
    """Write a region into ``root``: the common library, and a department for each of ``ids``."""
    shutil.copytree(BASE, root / "common")
    members = []
    for id in ids:
        lay(root / "hospitals" / id, {"content/department.md": HEAD.format(id=id, name=f"{id.title()} Hospital")})
        members.append({"id": id, "folder": f"hospitals/{id}"})
    told = {"name": "Example Region", "parent": {"folder": "common"}, "departments": members}
    (root / "region.yml").write_text(yaml.safe_dump(told, sort_keys=False))
    return root


def local(root: Path, id: str, *changes: dict[str, str]) -> None:
    """Write what a hospital says in place of the common library, chosen already."""
    front = {"changes": [{**WHY, **change} for change in changes]}
    lay(root / "hospitals" / id, {"content/local/example.md": f"---\n{yaml.safe_dump(front, sort_keys=False)}---\n"})

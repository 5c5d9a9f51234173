"""A handout shows the numbers that its operation needs, and no others."""

from __future__ import annotations

from pathlib import Path

from department import Overlay, read

from builder.compose.view.procedure_view import numbers_for

DEPARTMENT = """---
name: Department of General Surgery, Example Hospital
site: https://surgery.example.org/
call:
  - {role: cardiac arrest team, number: "1", always: true}
  - {role: neonatal team, number: "2"}
  - {role: recovery nurse, number: "3"}
---
Local policy decides.
"""


def shown(root: Path) -> list[str]:
    library = read(root)[0]
    return [role for role, _ in numbers_for(library, library.procedures[0])]


def test_those_that_it_names_and_those_that_are_always_shown(overlay: Overlay) -> None:
    assert shown(overlay({"content/department.md": DEPARTMENT})) == ["cardiac arrest team", "recovery nurse"]


def test_all_where_it_names_none(overlay: Overlay) -> None:
    other = DEPARTMENT.replace("recovery nurse", "urologist")
    assert shown(overlay({"content/department.md": other})) == ["cardiac arrest team", "neonatal team", "urologist"]

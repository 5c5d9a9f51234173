"""A region is published department by department: what fails stays on its last good site, and the report says why."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from department import lay
from publishing import fingerprint
from regions import NOON, local, region

from builder.cli import main

CUE = "The nerve and its branch are seen."


@pytest.fixture(autouse=True)
def noon(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("SOURCE_DATE_EPOCH", NOON)


def publish(root: Path, to: Path, *only: str) -> int:
    return main(["region", "publish", str(root), "--to", str(to), *(f"--only={name}" for name in only or ("site",))])


def states(to: Path) -> dict[str, str]:
    return {each["id"]: each["state"] for each in json.loads((to / "night.json").read_text())["hospitals"]}


def test_a_night_and_the_next(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    root, to = region(tmp_path / "region", ["north", "south", "west"]), tmp_path / "public"
    local(root, "north", {"replace": "step open-canal", "key": "cue", "with": CUE})
    local(root, "south", {"replace": "step open-canal", "key": "cue", "with": "The nerve is seen and named."})
    assert publish(root, to) == 0, capsys.readouterr()
    assert states(to) == {"north": "Published", "south": "Published", "west": "Published"}
    first = {id: fingerprint(to / id) for id in ("north", "south", "west")}
    side_by_side = (to / "local/index.html").read_text()
    assert side_by_side.index("Common library") < side_by_side.index(CUE) < side_by_side.index("seen and named")
    assert '["north/example/index.html","' in (to / "search/places.js").read_text()
    capsys.readouterr()

    # The next night one hospital writes what is wrong, another nothing new, and the third something else.
    local(root, "south", {"replace": "step open-canal", "key": "cue", "with": "Opened."})
    lay(root / "hospitals/west", {"content/procedures/example/steps/spare.md": "---\ntitle: Look\n"})
    assert publish(root, to) == 1
    assert states(to) == {"north": "Unchanged", "south": "Published", "west": "On its last good site"}
    assert fingerprint(to / "north") == first["north"]
    assert fingerprint(to / "west") == first["west"]
    assert fingerprint(to / "south") != first["south"]
    said = capsys.readouterr().out
    assert "West Hospital (west): on its last good site, from 25 November 2026" in said
    assert "hospitals/west/content/procedures/example/steps/spare.md:1:1: the front matter is not closed" in said
    assert "3 hospitals: 1 published, 1 unchanged, 1 left on the last good site." in said
    assert "spare.md:1:1: the front matter is not closed" in (to / "night.html").read_text()

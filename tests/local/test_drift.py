"""Nothing that a department replaced is lost when its parent changes, and the whole check stays linear."""

from __future__ import annotations

import random
import re
import shutil
from collections.abc import Iterator
from pathlib import Path
from typing import Any, NamedTuple

import pytest
import yaml
from department import TODAY, lay
from growth import steps
from over import HEAD, WHY, Ward, confirmed

from builder.check.engine import examine
from builder.load.folder import load
from builder.model.local_page import LocalChange

ROOT = Path(__file__).parents[2]
SECOND = ROOT / "tests" / "second"
REPLACEMENTS = 200
_WORDS = (
    "title", "summary", "setting", "specialty", "cue", "if_not", "why", "error", "recovery", "hazard", "consequence",
    "avoid", "sign", "if_it_happens", "patient_text", "no_actions", "order_matters", "who", "call",
)  # fmt: skip
_NEEDED = ("title", "hazard", "consequence", "avoid")
"""Without one of these a page is no page, and an error of its own."""


class Spot(NamedTuple):
    """A text of the parent: the page it is on, as an entry names it, and its key; ``path`` is the file."""

    procedure: str
    target: str
    key: str
    path: Path


def pages(region: Path) -> Iterator[tuple[str, str, Path]]:
    for folder in sorted((region / "content/procedures").iterdir()):
        for path in sorted(folder.rglob("*.md")):
            kind = {"steps": "step", "cautions": "caution"}.get(path.parent.name, path.parent.name)
            if path.name != "notes.md":
                yield folder.name, "procedure" if path.name == "procedure.md" else f"{kind} {path.stem}", path


def front(path: Path) -> dict[str, Any]:
    """Return the values of a page as they were written: `on` is a word."""
    return yaml.load(path.read_text().split("---\n")[1], yaml.BaseLoader) if path.exists() else {}


def spots(region: Path) -> list[Spot]:
    return [
        Spot(procedure, target, key, path)
        for procedure, target, path in pages(region)
        for key, value in front(path).items()
        if key in _WORDS and isinstance(value, str)
    ]


def rewrite(path: Path, key: str, value: str | None) -> None:
    values, body = front(path), path.read_text().split("---\n", 2)[2]
    values[key] = value
    text = yaml.safe_dump({name: held for name, held in values.items() if held is not None}, sort_keys=False)
    path.write_text(f"---\n{text}---\n{body}")


def mutated(dice: random.Random, region: Path, chosen: list[Spot]) -> None:
    """Change the parent: texts that are replaced and others, reworded, removed, or gone with their page."""
    for spot in dice.sample(chosen, len(chosen) // 2):
        if not spot.path.exists():
            continue
        match dice.randrange(6):
            case 0 if spot.target != "procedure" and spot.key not in _NEEDED:
                rewrite(spot.path, spot.key, None)
            case 1 if spot.target != "procedure":
                spot.path.unlink()
            case _:
                rewrite(spot.path, spot.key, f"{front(spot.path).get(spot.key)} Since this year.")
    for spot in dice.sample(spots(region), 20):
        rewrite(spot.path, spot.key, f"{front(spot.path)[spot.key]} As before.")


def region_of(folder: Path) -> Ward:
    ward = Ward(folder)
    shutil.copytree(SECOND / "content/procedures", ward.region / "content/procedures", dirs_exist_ok=True)
    return ward


def test_two_hundred_replacements_over_a_parent_that_changes(tmp_path: Path) -> None:
    """Each is in force, told as changed underneath, or told as not fitting; the oracle reads the files by itself."""
    tally: dict[str, int] = {"in force": 0, "changed": 0, "gone": 0}
    for turn in range(8):
        dice = random.Random(turn)  # the same on every machine
        ward = region_of(tmp_path / str(turn))
        chosen = dice.sample(spots(ward.region), REPLACEMENTS // 8)
        for procedure in {spot.procedure for spot in chosen}:
            ward.local(*(entry(spot) for spot in chosen if spot.procedure == procedure), page=procedure)
        settle(ward)
        before = {spot: front(spot.path)[spot.key] for spot in chosen}
        mutated(dice, ward.region, chosen)
        judged(ward, before, tally)
    assert sum(tally.values()) == REPLACEMENTS
    assert min(tally.values()) >= 10, tally


def entry(spot: Spot) -> dict[str, str]:
    return {"replace": spot.target, "key": spot.key, "with": ours(spot)}


def ours(spot: Spot) -> str:
    return f"Ward words for {spot.target} {spot.key}."


def settle(ward: Ward) -> None:
    """Write into each entry what the parent says now, as the program does on confirming."""
    for change in ward.read()[0].local:
        path = ward.root / f"content/local/{change.procedure}.md"
        values = front(path)
        values["changes"][change.number]["was"] = change.digest
        path.write_text(f"---\n{yaml.safe_dump(values, sort_keys=False)}---\n")


def judged(ward: Ward, before: dict[Spot, str], tally: dict[str, int]) -> None:
    library, findings = ward.read()
    changes = {(one.procedure, one.target, one.key): one for one in library.local}
    drifted = {made.at for made in findings if made.name == "parent-changed"}
    misfits = [made for made in findings if made.name == "local-does-not-fit"]
    gone = 0
    for spot, was in before.items():
        now = front(spot.path).get(spot.key)
        change = changes.get((spot.procedure, spot.target, spot.key))
        if now is None:
            assert change is None
            gone += 1
            continue
        assert isinstance(change, LocalChange), spot
        assert (change.ours, change.theirs) == (ours(spot), " ".join(now.split()))
        assert (change.at in drifted) == (" ".join(now.split()) != " ".join(was.split())), spot
        tally["changed" if change.at in drifted else "in force"] += 1
        assert in_force(library, spot) == ours(spot)
    assert gone == len(misfits)
    tally["gone"] += gone


def in_force(library: Any, spot: Spot) -> str | None:
    """Return what the whole says at ``spot``."""
    procedure = library.by_id[spot.procedure]
    kind, _, id = spot.target.partition(" ")
    held = {"step": procedure.steps, "caution": procedure.parts.cautions, "aftercare": procedure.parts.aftercare}
    page = held[kind].get(id) if id else procedure
    return None if page is None else str(getattr(page, spot.key))


def test_what_nobody_replaced_follows_the_parent(tmp_path: Path) -> None:
    ward = Ward(tmp_path)
    ward.local({"replace": "step open-canal", "key": "cue", "with": "The nerve is free."})
    confirmed(ward)
    ward.of_region("steps/cut-skin.md", "title: ", "title: Mark the skin, then ")
    assert ward.names() == []
    assert str(ward.read()[0].by_id["example"].steps["cut-skin"].title).startswith("Mark the skin")


def over_many(folder: Path, number: int) -> Path:
    """Make a region with ``number`` procedures, each changed here."""
    ward = Ward(folder)
    source = ward.region / "content/procedures/example"
    for place in range(number):
        id = f"example-{place}"
        shutil.copytree(source, ward.region / "content/procedures" / id)
        lay(ward.root, {f"content/local/{id}.md": PAGE})
    shutil.rmtree(source)
    return ward.root


PAGE = "---\nchanges:\n  - replace: step open-canal\n    key: cue\n    with: The nerve is free.\n" + "".join(
    f"    {key}: {value}\n" for key, value in WHY.items()
) + "---\n"  # fmt: skip


@pytest.mark.slow
def test_the_whole_check_of_a_hundred_overlaid_procedures_is_linear(tmp_path: Path) -> None:
    counted = {}
    for number in (25, 100):
        root = over_many(tmp_path / str(number), number)
        library, findings = examine(load(root, TODAY))  # whatever is read once a process is read by now
        assert len(library.local) == number
        assert [made.name for made in findings].count("local-not-confirmed") == number
        counted[number] = steps(lambda root=root: examine(load(root, TODAY)))
    assert counted[100] < 4.4 * counted[25], counted


def test_laying_over_costs_little_beside_the_check(tmp_path: Path) -> None:
    root = over_many(tmp_path, 20)
    region = root.parent / "region"
    examine(load(root, TODAY))
    assert steps(lambda: examine(load(root, TODAY))) < 1.25 * steps(lambda: examine(load(region, TODAY)))


@pytest.mark.slow
def test_a_hundred_departments_over_one_parent_are_linear(tmp_path: Path) -> None:
    """Each ward is checked in the work of one, whichever it is."""
    ward = Ward(tmp_path)
    roots = []
    for number in range(100):
        root = tmp_path / f"ward-{number}"
        lay(root, {
            "content/department.md": HEAD.replace("{parent}", "{folder: ../region}"),
            "content/local/example.md": PAGE.replace("nerve", f"nerve {number}"),
        })  # fmt: skip
        roots.append(root)
    assert ward.names() == []
    examine(load(roots[0], TODAY))
    work = [steps(lambda root=root: examine(load(root, TODAY))) for root in roots]
    assert max(work) < 1.05 * min(work)
    assert re.match(r"ward-\d+", roots[-1].name)

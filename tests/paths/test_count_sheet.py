"""The count sheet says what is in after each step, and where paths differ, by which choices."""

from __future__ import annotations

from collections import Counter
from typing import Any

from department import BASE, Overlay, read
from paths.lister import Path, Theatre, paths
from paths.test_against_every_path import everything, seeds, small

from builder.check.paths.count_sheet import CountSheet, count_sheet
from builder.model.library import Library
from builder.model.pages import Procedure

STEPS = "content/procedures/example/steps"


def sheet(library: Library) -> CountSheet:
    found = count_sheet(library, library.procedures[0])
    assert found is not None
    return found


def in_after(found: CountSheet, step: str) -> dict[str, tuple[int, int]]:
    (row,) = [row for row in found.rows if row.step.id == step]
    return {str(held.item.name): (held.least, held.most) for held in row.held}


def test_sheet_follows_items_in_and_out(base: Any) -> None:
    found = sheet(read(base)[0])
    assert in_after(found, "open-canal") == {"self-retaining retractor": (1, 1), "small swab": (2, 2)}
    assert in_after(found, "close-canal") == {"suction drain": (0, 1)}


def test_difference_between_paths_is_stated_with_its_choice(base: Any) -> None:
    found = sheet(read(base)[0])
    (held,) = next(row.held for row in found.rows if row.step.id == "close-canal")
    assert [(one.number, one.when) for one in held.variants] == [
        (1, "when the drain is taken"),
        (0, "when the drain is left out"),
    ]
    assert found.differences == (
        "when the drain is taken: 1 x suction drain stays in",
        "when the drain is left out: no suction drain stays in",
    )


def test_three_moments_of_counting(base: Any) -> None:
    found = sheet(read(base)[0])
    assert [(moment.kind, moment.words) for moment in found.moments] == [
        ("start", "before the start"),
        ("cavity", "before the inguinal canal is closed"),
        ("skin", "before the skin is closed"),
    ]
    assert found.moments[0].counted == ("swabs", "blades", "instruments")


def test_where_the_skin_is_never_closed_the_last_count_is_at_the_end(overlay: Overlay) -> None:
    library, _ = read(overlay(BASE.parent / "defects" / "skin-left-open-without-a-count"))
    assert [moment.kind for moment in sheet(library).moments] == ["start", "cavity", "end"]


def test_no_sheet_where_a_name_is_unknown(overlay: Overlay) -> None:
    text = "---\ntitle: Place something\nactions:\n  - place: unheard of\ncommon_practice: true\n---\n"
    library, _ = read(overlay({f"{STEPS}/place-drain.md": text}))
    assert count_sheet(library, library.procedures[0]) is None


def numbers_in(library: Library, procedure: Procedure, path: Path) -> list[dict[str, int]]:
    """Return by item how many are in after each step of one path, played through with bare hands."""
    theatre = Theatre(library, procedure, everything(procedure))
    there: dict[str, dict[Any, int]] = {}
    after: list[dict[str, int]] = []
    for step in path.steps:
        for action in step.actions:
            for name in action.objects:
                if action.verb == "place" and name != "lidocaine":
                    for spot in theatre.spot_of(action):
                        lying = there.setdefault(str(name), {})
                        lying[spot] = lying.get(spot, 0) + action.number
                elif action.verb == "remove":
                    take(theatre, there, action, str(name))
                elif action.verb == "excise":
                    for lying in there.values():
                        lying.update({spot: 0 for spot in lying if spot[1] == name and gone(theatre, action, spot)})
        after.append({item: sum(lying.values()) for item, lying in there.items()})
    return after


def gone(theatre: Theatre, action: Any, spot: Any) -> bool:
    structure = theatre.structure(spot[1])
    return not structure.paired or spot[2] in (*theatre.sides(action, True), "-")


def take(theatre: Theatre, there: dict[str, dict[Any, int]], action: Any, item: str) -> None:
    order = list(dict.fromkeys(theatre.spots(item)))
    for group in theatre.meant(action, item):
        left = action.number
        for spot in (spot for spot in order if spot in group):
            taken = min(left, there.get(item, {}).get(spot, 0))
            there.setdefault(item, {})[spot] = there.get(item, {}).get(spot, 0) - taken
            left -= taken


def test_sheet_and_every_path_agree_on_900_procedures() -> None:
    differing = 0
    for seed in seeds(900):
        library = small(seed)
        assert library is not None
        (procedure,) = library.procedures
        walked = [path for path in paths(procedure) if not path.stuck]
        found = sheet(library)
        if not walked or len(walked) < len(paths(procedure)):
            continue  # a sheet of a sequence in which some walk is stuck is no sheet to rely on
        listed: dict[str, dict[str, set[int]]] = {}
        for path in walked:
            for step, numbers in zip(path.steps, numbers_in(library, procedure, path), strict=True):
                for item in (str(item.id) for item in library.items):
                    listed.setdefault(str(step.id), {}).setdefault(item, set()).add(numbers.get(item, 0))
        differing += compare(found, listed, seed)
    assert differing > 15


def compare(found: CountSheet, listed: dict[str, dict[str, set[int]]], seed: int) -> int:
    """Compare the steps that stand once; the list of paths does not keep apart two places of one step."""
    differing = 0
    once = Counter(row.step.id for row in found.rows)
    for row in found.rows:
        for item, numbers in listed.get(row.step.id, {}).items() if once[row.step.id] == 1 else ():
            held = next((one for one in row.held if one.item.id == item), None)
            said = (held.least, held.most) if held else (0, 0)
            assert said == (min(numbers), max(numbers)), f"seed {seed}: {row.step.id} {item}"
            differing += len(numbers) > 1
    return differing

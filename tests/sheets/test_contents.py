"""What is in the patient after each step: beside a plain walk along every path, and cases worked out by hand."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator
from itertools import product
from pathlib import Path

import pytest
from department import BASE, DEMO, DEMO_IDS, Overlay, read
from papers import library

from builder.compose.sheets.contents import Contents, Things, contents
from builder.compose.view.outline import outline
from builder.facts.automata import known
from builder.model.action import Action, Verb
from builder.model.library import Library
from builder.model.pages import Item, ItemKind, Procedure, Step
from builder.model.sequence import Choose, Follow, Option, Sequence, StepEntry, branches, every_entry

FOLDER = "content/procedures/example"
Way = dict[str, str]


def found(library: Library, procedure: Procedure) -> Contents:
    return contents(library, procedure, outline(procedure))


def ways(procedure: Procedure) -> Iterator[Way]:
    """Every way through the choices, whether or not all of them are made on it."""
    choices = {
        str(entry.id): [str(name) for name, _ in branches(entry)]
        for entry in every_entry(procedure.sequence)
        if isinstance(entry, Choose | Option)
    }
    for names in product(*choices.values()):
        yield dict(zip(choices, names, strict=True))


def walked(procedure: Procedure, sequence: Sequence, way: Way) -> Iterator[Step]:
    """The steps of one path, in order."""
    for entry in sequence:
        if isinstance(entry, StepEntry):
            yield procedure.steps[entry.step]
            continue
        id = str(entry.choice if isinstance(entry, Follow) else entry.id)
        for name, inner in branches(entry):
            if name == way[id]:
                yield from walked(procedure, inner, way)


def plain_walk(library: Library, steps: Iterable[Step]) -> Iterator[tuple[str, Counter[str]]]:
    """By one path, how many of each item are in after each step: counted without places, sides or automata."""
    inside: Counter[str] = Counter()
    clamps: dict[str, Counter[str]] = {}
    for step in steps:
        for action in step.actions:
            for name in action.objects:
                if action.verb in (Verb.PLACE, Verb.REMOVE):
                    item = known(library.items.find(name))
                    if item.kind not in (ItemKind.DRUG, ItemKind.FLUID):
                        inside[item.id] += action.number if action.verb is Verb.PLACE else -action.number
                elif action.verb is Verb.RELEASE:
                    inside.subtract(clamps.pop(known(library.structures.find(name)).id, Counter()))
                held = [known(library.items.find(words)) for words in action.using]
                left = plainly_left(action, held)
                inside.update(left)
                if action.verb is Verb.CLAMP and not action.stays:
                    clamps.setdefault(known(library.structures.find(name)).id, Counter()).update(left)
        yield step.id, +inside


def plainly_left(action: Action, held: list[Item]) -> Counter[str]:
    """What an action leaves of the items in hand: clamps, threads and clips."""
    if action.verb is Verb.CLAMP:
        return Counter({one.id: action.number for one in held})
    if action.verb in (Verb.TIE, Verb.SUTURE, Verb.SEAL, Verb.CLOSE):
        return Counter({one.id: 1 for one in held if one.kind in (ItemKind.SUTURE, ItemKind.CLIP)})
    return Counter()


def on_way(things: Things, way: Way) -> Counter[str]:
    total: Counter[str] = Counter()
    for thing, amounts in things:
        fitting = [one.number for one in amounts if all(way[choice] == branch for choice, branch in one.when)]
        assert len(fitting) <= 1, f"two numbers of {thing} on one way"
        total[thing.item] += sum(fitting)
    return +total


@pytest.mark.parametrize(("root", "id"), [(BASE, "example"), *((DEMO, id) for id in DEMO_IDS)])
def test_after_each_step_it_says_what_a_plain_walk_along_each_path_finds(root: Path, id: str) -> None:
    lib = library(root)
    procedure = next(one for one in lib.procedures if one.id == id)
    told = found(lib, procedure)
    after = {one.block.step.id: one for one in told.after}
    threads = {str(item.id) for item in lib.items.everything() if item.kind is ItemKind.SUTURE}
    compared = 0
    for way in ways(procedure):
        last: Counter[str] = Counter()
        for step, inside in plain_walk(lib, walked(procedure, procedure.sequence, way)):
            shown = on_way(after[step].things, way)
            # How many threads are in is not told, only whether there are any.
            assert {one: n for one, n in shown.items() if one not in threads} == {
                one: n for one, n in inside.items() if one not in threads
            }
            assert threads & shown.keys() == threads & inside.keys()
            last = shown
            compared += len(inside)
        assert on_way(told.end, way) == last
    assert compared > 20 or root == BASE


def example(overlay: Overlay, sequence: str, **steps: str) -> Contents:
    """What is in along ``sequence`` of a procedure whose steps have these actions (lines of YAML)."""
    text = (BASE / FOLDER / "procedure.md").read_text(encoding="utf-8")
    start, end = text.index("sequence:\n"), text.index("aftercare:")
    files = {f"{FOLDER}/procedure.md": f"{text[:start]}sequence:\n{sequence}{text[end:]}"}
    for id, actions in steps.items():
        files[f"{FOLDER}/steps/{id}.md"] = (
            f"---\ntitle: Do {id}\nactions:\n{actions}common_practice: true\n---\nDo it.\n"
        )
    lib = read(overlay(files))[0]
    return found(lib, lib.procedures[0])


def said(things: Things) -> list[tuple[str, list[tuple[int, tuple[tuple[str, str], ...]]]]]:
    return [(thing.item, [(one.number, one.when) for one in amounts]) for thing, amounts in things]


SWAB = "  - place: small swab\n    in: inguinal canal\n"
OUT = "  - remove: small swab\n"


def test_what_is_placed_on_every_branch_is_said_without_a_path(overlay: Overlay) -> None:
    told = example(
        overlay, "  - choose: {id: way, between: {one: [a], other: [b]}}\n  - c\n", a=SWAB, b=SWAB, c="  []\n"
    )
    assert said(told.end) == [("small-swab", [(1, ())])]


def test_what_is_placed_on_one_branch_only_names_that_branch(overlay: Overlay) -> None:
    told = example(
        overlay, "  - choose: {id: way, between: {one: [a], other: [b]}}\n  - c\n", a=SWAB, b="  []\n", c="  []\n"
    )
    assert said(told.end) == [("small-swab", [(1, (("way", "one"),))])]
    assert said(told.after[0].things) == [("small-swab", [(1, ())])]
    assert said(told.after[1].things) == []


def test_numbers_that_differ_by_path_are_told_apart(overlay: Overlay) -> None:
    told = example(overlay, "  - a\n  - option: {id: more, steps: [b]}\n  - c\n", a=SWAB, b=SWAB, c="  []\n")
    assert said(told.end) == [("small-swab", [(2, (("more", "taken"),)), (1, (("more", "left-out"),))])]


def test_what_an_earlier_choice_put_in_a_later_follow_takes_out(overlay: Overlay) -> None:
    told = example(
        overlay,
        "  - option: {id: pack, steps: [a]}\n  - b\n  - follow: {choice: pack, with: {taken: [c], left-out: []}}\n",
        a=SWAB, b="  []\n", c=OUT,
    )  # fmt: skip
    assert said(told.after[1].things) == [("small-swab", [(1, (("pack", "taken"),))])]
    assert told.end == ()


def test_a_choice_within_an_option_is_named_only_where_it_is_made(overlay: Overlay) -> None:
    told = example(
        overlay,
        "  - option: {id: outer, steps: [{choose: {id: inner, between: {x: [a], y: [b]}}}]}\n  - c\n",
        a=SWAB, b="  []\n", c="  []\n",
    )  # fmt: skip
    assert said(told.end) == [("small-swab", [(1, (("outer", "taken"), ("inner", "x")))])]


def test_what_lies_on_an_excised_structure_leaves_with_it(overlay: Overlay) -> None:
    on = "  - place: small swab\n    on: skin\n"
    told = example(overlay, "  - a\n  - b\n", a=on, b="  - excise: skin\n")
    assert said(told.after[0].things) == [("small-swab", [(1, ())])]
    assert told.end == ()


def test_both_sides_count_twice(overlay: Overlay) -> None:
    both = "  - place: small swab\n    in: inguinal canal\n    side: both\n"
    told = example(overlay, "  - a\n", a=both)
    assert said(told.end) == [("small-swab", [(2, ())])]


def test_drugs_are_not_in_the_patient_to_come_out(overlay: Overlay) -> None:
    assert example(overlay, "  - a\n", a="  - inject: lidocaine\n").end == ()


def test_where_the_ways_are_too_many_the_number_is_an_upper_bound(overlay: Overlay) -> None:
    many = "".join(f"  - option: {{id: o{n}, steps: [a{n}]}}\n" for n in range(13))
    steps = {f"a{n}": SWAB + (OUT if n % 2 else "") for n in range(13)}
    ((_, amounts),) = example(overlay, many, **steps).end
    assert [(one.number, one.at_most) for one in amounts] == [(13, True)]

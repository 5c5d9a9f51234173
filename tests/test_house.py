"""The folder listing is the architecture: names are used once, and no folder is a room for leftovers."""

from __future__ import annotations

import ast
from collections import defaultdict
from collections.abc import Iterable
from functools import cache
from pathlib import Path

import pytest

BUILDER = Path(__file__).parent.parent / "builder"
FILES = sorted(BUILDER.rglob("*.py"))
MOST_ENTRIES = 15
GROUPED = ("compose", "publish")
"""Stages that have one folder for each group of outputs."""


@cache
def looked_at(path: Path) -> tuple[list[str], list[int]]:
    """Return the names of all classes in ``path``, and the lines that show a value as Python writes it."""
    tree = list(ast.walk(ast.parse(path.read_text(encoding="utf-8"))))
    return [node.name for node in tree if isinstance(node, ast.ClassDef)], shown_as_python(tree)


def places_of(names: Iterable[tuple[str, str]]) -> dict[str, list[str]]:
    """Return, for each name that has more than one place, where it stands."""
    places = defaultdict(list)
    for name, place in names:
        places[name].append(place)
    return {name: where for name, where in places.items() if len(where) > 1}


def are_counterparts(places: list[str]) -> bool:
    """Tell whether modules of one name are one output in several stages, such as ``compose/card/card.py``."""
    parts = [place.split("/") for place in places]
    return all(len(part) == 3 for part in parts) and len({part[1] for part in parts}) == 1


def entries(folder: Path) -> list[str]:
    """Return what a folder lists, beside what makes it a package."""
    return [path.name for path in folder.iterdir() if path.name not in ("__init__.py", "__pycache__")]


def test_a_class_name_is_used_once() -> None:
    assert places_of((name, str(path.relative_to(BUILDER))) for path in FILES for name in looked_at(path)[0]) == {}


def test_modules_share_a_name_only_as_counterparts_of_one_output() -> None:
    shared = places_of((path.stem, str(path.relative_to(BUILDER))) for path in FILES if path.stem != "__init__")
    # A command is called as what it does; a package is a folder, so it is not in this list.
    assert {name: places for name, places in shared.items() if not are_counterparts(places)} == {}


@pytest.mark.parametrize("stage", GROUPED)
def test_no_folder_of_outputs_lists_more_than_can_be_seen_at_once(stage: str) -> None:
    folders = [folder for folder in (BUILDER / stage).rglob("*") if folder.is_dir() and folder.name != "__pycache__"]
    crowded = {folder.name: len(entries(folder)) for folder in [BUILDER / stage, *folders]}
    assert {name: count for name, count in crowded.items() if count > MOST_ENTRIES} == {}


def test_two_uses_of_a_name_are_noticed() -> None:
    assert places_of([("Row", "a.py"), ("Row", "b.py"), ("Line", "a.py")]) == {"Row": ["a.py", "b.py"]}


@pytest.mark.parametrize(
    ("places", "are"),
    [
        (["compose/card/card.py", "readback/card/card.py"], True),
        (["compose/card/words.py", "readback/paper/words.py"], False),
        (["compose/words.py", "readback/words.py"], False),
    ],
)
def test_counterparts_are_of_one_output(places: list[str], are: bool) -> None:
    assert are_counterparts(places) is are


def shown_as_python(tree: Iterable[ast.AST]) -> list[int]:
    """Return the lines of ``tree`` that write a value as a programmer would: ``{value!r}`` or ``repr(value)``."""
    return [
        node.lineno
        for node in tree
        if (isinstance(node, ast.FormattedValue) and node.conversion in (ord("r"), ord("a")))
        or (isinstance(node, ast.Name) and node.id in ("repr", "ascii"))
        or (isinstance(node, ast.Constant) and isinstance(node.value, str) and "%r" in node.value)
    ]


NOT_SHOWN = {"publish/cache.py": 1, "findings/message_words.py": 1}
"""What is hashed, and ``quoted`` itself; and how many lines of each."""


def test_what_is_shown_to_a_user_is_quoted_and_never_as_python_writes_it() -> None:
    written = {path.relative_to(BUILDER).as_posix(): len(looked_at(path)[1]) for path in FILES}
    assert {name: count for name, count in written.items() if count} == NOT_SHOWN


@pytest.mark.parametrize(
    "source", ["f'{name!r} is unknown'", "repr(name)", "map(repr, names)", "'%r is unknown' % name"]
)
def test_a_value_written_as_python_writes_it_is_noticed(source: str) -> None:
    assert shown_as_python(ast.walk(ast.parse(source))) == [1]
    assert shown_as_python(ast.walk(ast.parse("f'{quoted(name)} is unknown'"))) == []

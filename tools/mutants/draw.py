"""Draws mutants with a fixed seed, with the operators of cosmic-ray (``requirements.lock`` beside this file).

First a place is drawn (a file, a token, a kind of operator), all being equally likely, then one of the operators of
that kind: else a single ``|``, which eleven others may replace, would weigh eleven times. Left out is what no program
can show: a change of an annotation, and one that leaves the same syntax tree.
"""

from __future__ import annotations

import ast
import random
from collections import defaultdict
from collections.abc import Iterator, Sequence
from importlib import import_module
from itertools import islice
from pathlib import Path
from typing import Any

from places import Mutant

FOLDERS = ("builder/check", "builder/facts", "builder/readback")
SEED, HOW_MANY = 20261130, 300
NEED_ARGUMENTS = ("VariableReplacer", "VariableInserter")


def draw(root: Path, folders: Sequence[str] = FOLDERS, how_many: int = HOW_MANY, seed: int = SEED) -> list[Mutant]:
    """Return ``how_many`` mutants of the Python files in ``folders`` below ``root``."""
    paths = sorted(path for folder in folders for path in (root / folder).rglob("*.py"))
    places = [(path, *place) for path in paths for place in sorted(_places(path.read_text("utf-8")).items())]
    chance = random.Random(seed)  # noqa: S311 - a draw that anyone can repeat
    chance.shuffle(places)
    return list(islice(_mutants(root, places, chance), how_many))


def _mutants(root: Path, places: list[Any], chance: random.Random) -> Iterator[Mutant]:
    number = 0
    for path, _, ways in places:
        name, node, index = chance.choice(ways)
        source = path.read_text("utf-8")
        mutated = _mutated(source, name, node, index)
        if not _differs(source, mutated):
            continue
        number += 1
        file = path.relative_to(root).as_posix()
        yield Mutant(number, file, *_change(source, mutated, name))


def _operators() -> Any:
    return import_module("cosmic_ray.operators.provider").OperatorProvider()


def _nodes(source: str) -> list[Any]:
    syntax = import_module("cosmic_ray.ast")
    return list(syntax.ast_nodes(syntax.get_ast(source)))


def _places(source: str) -> dict[tuple[Any, str], list[tuple[str, int, int]]]:
    """Return what can be mutated: (where, kind of operator) to (operator, number of the node, which of its ways)."""
    found = defaultdict(list)
    nodes = _nodes(source)
    operators = _operators()
    for name in sorted(set(operators) - set(NEED_ARGUMENTS)):
        operator = operators[name]()
        for number, node in enumerate(nodes):
            for index, (start, _) in enumerate(operator.mutation_positions(node)):
                found[start, name.partition("_")[0]].append((name, number, index))
    return found


def _mutated(source: str, name: str, number: int, index: int) -> str:
    nodes = _nodes(source)
    node = nodes[number]
    parent = node.parent
    at = next(at for at, child in enumerate(parent.children) if child is node)
    mutated = _operators()[name]().mutate(node, index)
    parent.children[at : at + 1] = [] if mutated is None else [mutated]
    return str(nodes[0].get_code())


def _differs(source: str, mutated: str) -> bool:
    try:
        return _without_annotations(source) != _without_annotations(mutated)
    except SyntaxError:
        return False


def _without_annotations(source: str) -> str:
    tree = ast.parse(source)
    for node in ast.walk(tree):
        for field in ("annotation", "returns"):
            if getattr(node, field, None):
                setattr(node, field, ast.Constant(None))
    return ast.dump(tree)


def _change(source: str, mutated: str, name: str) -> tuple[int, str, str, str]:
    """Return the first line that differs, the operator, and the lines that differ before and after."""
    was, now = source.splitlines(keepends=True), mutated.splitlines(keepends=True)
    first = next(at for at, (one, other) in enumerate(zip(was, now, strict=False)) if one != other)
    alike = 0
    while alike < min(len(was), len(now)) - first and was[-1 - alike] == now[-1 - alike]:
        alike += 1
    end = -alike or None
    return first + 1, name, "".join(was[first:end]), "".join(now[first:end])

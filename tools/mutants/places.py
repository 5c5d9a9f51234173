"""Where a mutant was drawn, what it changes, and which lines must run for a test to reach it."""

from __future__ import annotations

import ast
import json
from collections.abc import Iterable, Iterator
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Any

ROOT = Path(__file__).parents[2]
HERE = Path(__file__).parent
DRAWN, RESULTS, EQUIVALENT = HERE / "drawn.jsonl", HERE / "results.jsonl", HERE / "equivalent.jsonl"
KEPT = ROOT / ".mutants"
"""What is worked out on the way (which test reaches what, the copy that is mutated) and not kept in the repository."""


@dataclass(frozen=True)
class Mutant:
    """One small change of one file: from ``line`` on, ``was`` is replaced with ``now``."""

    number: int
    file: str
    line: int
    operator: str
    was: str
    now: str

    def line_in(self, source: str) -> int | None:
        """Return the line of ``source`` that holds the text, nearest to where it was; None where it is rewritten."""
        lines, was = source.splitlines(keepends=True), self.was.splitlines(keepends=True)
        starts = [at + 1 for at in range(len(lines)) if lines[at : at + len(was)] == was]
        return min(starts, key=lambda start: abs(start - self.line), default=None)

    def apply(self, source: str) -> str:
        """Return ``source`` with the change; where its text was rewritten since it was drawn, as it is."""
        line = self.line_in(source)
        if line is None:
            return source
        lines = source.splitlines(keepends=True)
        return "".join((*lines[: line - 1], self.now, *lines[line - 1 + len(self.was.splitlines()) :]))

    def as_diff(self) -> str:
        """Return the change as lines with - and +."""
        signed = ((sign, line) for sign, text in (("-", self.was), ("+", self.now)) for line in text.splitlines())
        head = f"{self.number}  {self.file}:{self.line}  {self.operator}"
        return "\n".join((head, *(f"  {sign} {line.strip()}" for sign, line in signed)))


def read_rows(path: Path) -> list[dict[str, Any]]:
    """Return the rows of a file that holds one JSON object a line; none where there is no file."""
    return [json.loads(line) for line in path.read_text("utf-8").splitlines()] if path.exists() else []


def add_row(path: Path, row: dict[str, Any]) -> None:
    """Add one row to ``path``, whole even if the process ends after it."""
    path.parent.mkdir(parents=True, exist_ok=True)
    with path.open("a", encoding="utf-8") as file:
        file.write(json.dumps(row, ensure_ascii=False) + "\n")


def drawn(path: Path = DRAWN) -> list[Mutant]:
    """Return the mutants that were drawn."""
    return [Mutant(**row) for row in read_rows(path)]


def write_drawn(mutants: Iterable[Mutant], path: Path = DRAWN) -> None:
    """Write ``mutants``, one a line."""
    path.unlink(missing_ok=True)
    for mutant in mutants:
        add_row(path, asdict(mutant))


def lines_to_reach(tree: ast.Module, line: int) -> range | None:
    """Return the lines of the statement at ``line``; nothing where it runs when the module is imported.

    Of a compound statement that is its head. What stands above the body of a function belongs to the function.
    """
    found, in_function = None, False
    for node in _statements_down_to(tree, line):
        body = getattr(node, "body", None)
        if isinstance(node, ast.FunctionDef):
            found, in_function = range(node.lineno, _last(node) + 1), True
        elif in_function:
            found = range(node.lineno, (body[0].lineno if isinstance(body, list) else _last(node) + 1))
            found = found or range(node.lineno, node.lineno + 1)
    return found


def _statements_down_to(tree: ast.AST, line: int) -> Iterator[ast.stmt]:
    for child in ast.iter_child_nodes(tree):
        first = (
            min([child.lineno, *(each.lineno for each in getattr(child, "decorator_list", ()))], default=0)
            if (isinstance(child, ast.stmt))
            else 0
        )
        if isinstance(child, ast.stmt) and first <= line <= _last(child):
            yield child
            yield from _statements_down_to(child, line)
        elif isinstance(child, ast.ExceptHandler | ast.match_case):
            yield from _statements_down_to(child, line)


def _last(node: ast.stmt) -> int:
    return node.end_lineno or node.lineno

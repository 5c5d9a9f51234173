"""The path analysis alone: many independent choices in a row, some of them followed later; many procedures.

python -m bench.paths
"""

from __future__ import annotations

import sys
import time
from datetime import date
from pathlib import Path
from typing import Any

from builder.check.hit import Hit
from builder.check.paths.failure import failures
from builder.check.paths.flow import Result, solve
from builder.check.paths.path_findings import report
from builder.check.paths.program import Program, compile_procedure
from builder.facts.anatomy import Anatomy
from builder.facts.graph import unfold
from builder.model.action import action
from builder.model.catalogue import Catalogue
from builder.model.library import Library
from builder.model.pages import Department, Item, Parts, Procedure, Step, Structure
from builder.place import ID_KEY, PARTS_KEY, Text

RUNS = 25


def choices_in_a_row(number: int, followed: int = 0) -> Library:
    """Return a Library of one procedure: ``number`` choices in a row, the first ``followed`` followed at the end.

    In each choice a swab is laid down or a nerve is seen; what follows takes the swab out. The last step cuts.
    """
    steps = [_step("cut", action("divide", "artery")), _step("nothing")]
    sequence: list[Any] = []
    for index in range(number):
        one, other = f"lay-{index}", f"see-{index}"
        steps += [
            _step(one, action("place", "swab", inside=Text("chest"), number=1)),
            _step(other, action("identify", "nerve"), action("tie", "vein")),
            _step(f"out-{index}", action("remove", "swab", inside=Text("chest"))),
        ]
        sequence.append({"choose": {"id": Text(f"choice-{index}"), "between": {Text("a"): [one], Text("b"): [other]}}})
        if index >= followed:
            sequence.append(Text("nothing"))
    for index in range(followed):
        branches = {Text("a"): [Text(f"out-{index}")], Text("b"): []}
        sequence.append({"follow": {"choice": Text(f"choice-{index}"), "with": branches}})
    return _library(steps, [*sequence, Text("cut")])


def _step(id: str, *actions: Any) -> Step:
    return Step.model_validate({ID_KEY: Text(id), "title": Text(id), "actions": list(actions)})


def _library(steps: list[Step], sequence: list[Any]) -> Library:
    structures = [
        _structure("artery", "vessel", close_to=[Text("nerve")]),
        _structure("nerve", "nerve", see_first=True),
        _structure("vein", "vessel"),
        _structure("chest", "cavity"),
    ]
    items = [Item.model_validate({"id": Text("swab"), "name": Text("swab"), "kind": "swab", "counted": True})]
    procedure = Procedure.model_validate(
        {
            ID_KEY: Text("row"),
            PARTS_KEY: Parts({step.id: step for step in steps}),
            "title": Text("Row"),
            "specialty": Text("x"),
            "edition": Text("1"),
            "status": "draft",
            "owner": {"name": Text("A"), "role": Text("b")},
            "sequence": _texts(sequence),
        }
    )
    department = Department.model_validate({"name": Text("x")})
    return Library(
        root=Path(),
        today=date(2026, 1, 1),
        department=department,
        structures=Catalogue(structures),
        items=Catalogue(items),
        procedures=(procedure,),
    )


def _structure(id: str, kind: str, **more: Any) -> Structure:
    return Structure.model_validate({"id": Text(id), "name": Text(id), "kind": kind, **more})


def _texts(value: Any) -> Any:
    if isinstance(value, str):
        return Text(value)
    if isinstance(value, list):
        return [_texts(one) for one in value]
    if isinstance(value, dict):
        return {key: _texts(one) for key, one in value.items()}
    return value


def analysed(library: Library) -> tuple[Program, Result]:
    """Return the analysis of the one procedure of ``library``, without the search for failing paths."""
    (procedure,) = library.procedures
    program = compile_procedure(procedure, unfold(procedure), Anatomy(library))
    return program, solve(program)


def findings(program: Program, result: Result) -> list[Hit]:
    """Return the finding of every defect, each with its failing path."""
    return [report(one) for one in failures(program, result)]


def seconds(*libraries: Library) -> list[float]:
    """Return the processor time of one analysis of each Library: the least of several runs, taken in turns.

    The least is what the work costs; whatever else the machine does can only add to it.
    """
    times: list[list[float]] = [[] for _ in libraries]
    for _ in range(RUNS):
        for taken, library in zip(times, libraries, strict=True):
            start = time.process_time()
            analysed(library)
            taken.append(time.process_time() - start)
    return [min(taken) for taken in times]


def main() -> int:
    """Print the times."""
    few, many = seconds(choices_in_a_row(30), choices_in_a_row(60))
    out = sys.stdout.write
    out(f"30 choices in a row (2^30 paths): {few * 1000:8.2f} ms\n")
    out(f"60 choices in a row (2^60 paths): {many * 1000:8.2f} ms, {many / few:.2f} times as long\n")
    library = choices_in_a_row(60, followed=8)
    start = time.process_time()
    program, result = analysed(library)
    flow = time.process_time()
    found = findings(program, result)
    done = time.process_time()
    out(f"60 choices, 8 of them followed:   {(flow - start) * 1000:8.2f} ms, {2**8} cases kept apart\n")
    out(f"  with {len(found)} findings and their paths: {(done - start) * 1000:8.2f} ms\n")
    return 0


if __name__ == "__main__":
    sys.exit(main())

"""The whole path analysis of a Library, worked out once and shared by its checks."""

from collections.abc import Iterable, Mapping
from dataclasses import replace

from builder.check.hit import Hit
from builder.check.paths import cuts, kit_lists, shape, ward
from builder.check.paths.circles import circles
from builder.check.paths.failure import failures
from builder.check.paths.flow import Result, solve
from builder.check.paths.path_findings import report
from builder.check.paths.program import Program, compile_procedure
from builder.facts.anatomy import Anatomy, anatomy
from builder.facts.counts import categories
from builder.facts.graph import graph_of, unfold
from builder.facts.remembered import once_per_library
from builder.findings.register import PATHS, REGISTER
from builder.model.action import ON_ITEMS, ON_STRUCTURES, Action, Verb
from builder.model.catalogue import plain_name
from builder.model.library import SHARED, Library
from builder.model.pages import Procedure
from builder.model.sequence import StepEntry
from builder.place import Text

Hits = Mapping[str, list[Hit]]
"""What was found, by the name of the finding."""

STUDIED = tuple(kind.name for kind in REGISTER.values() if kind.family is PATHS)
"""The findings of the analysis. Whether prose and actions speak of the same things is asked of no path."""


@once_per_library
def hits(library: Library) -> Hits:
    """Return everything the analysis finds in ``library``."""
    catalogues = anatomy(library)
    found: dict[str, list[Hit]] = {name: [] for name in STUDIED}
    for procedure in (*library.procedures, *library.salvaged_procedures):
        for rule, hit in study(library, procedure, catalogues):
            found[rule].append(hit)
    return found


def study(library: Library, procedure: Procedure, anatomy: Anatomy) -> Iterable[tuple[str, Hit]]:
    """Return ``(name of the finding, hit)`` for one procedure.

    Nothing is said about what follows a step that cannot be used, or in whose actions a name is unknown: that has its
    own finding, and what would follow from it is not the educator's error. Nothing at all is said where the catalogues
    cannot be used or the sequence is unclear.
    """
    if not is_clear(library, procedure):
        return ()
    stops = set(stops_of(library, procedure))
    program = compiled(library, procedure, anatomy)
    # An aftercare that cannot be read may be the one that takes the item out: it is not called missing.
    aftercare_broken = any(kind == "aftercare" and home in (procedure.id, SHARED) for kind, home, _ in library.broken)
    unsure = IN_PART if stops else frozenset()
    made = [*_of_lists(program), *_of_paths(program, aftercare_broken)]
    return [(name, hit) for name, hit in made if name not in unsure]


def compiled(library: Library, procedure: Procedure, anatomy: Anatomy) -> Program:
    """Return the program of ``procedure``, whose sequence is clear, as far as its steps can be used."""
    stops, readable_part = set(stops_of(library, procedure)), readable(library, procedure)
    graph = unfold(readable_part, stops) if stops or readable_part is not procedure else graph_of(library, procedure)
    return compile_procedure(readable_part, graph, anatomy.in_approach(procedure))


IN_PART = frozenset({"kit-unused", "branch-never-reached", "aftercare-without-item"})
"""What nobody can say of an operation that is known in part: a step that cannot be used may have done it."""


def is_clear(library: Library, procedure: Procedure) -> bool:
    """Tell whether the catalogues could be used and the sequence is one that can be walked."""
    if library.is_broken("structures", "structures") or library.is_broken("items", "items"):
        return False
    return shape.is_clear(procedure)


def readable(library: Library, procedure: Procedure) -> Procedure:
    """Return ``procedure`` with those of its broken steps whose actions could be used."""
    found = {id: step for (home, id), step in library.salvaged.items() if home == procedure.id}
    if not found:
        return procedure
    return procedure.model_copy(update={"parts": replace(procedure.parts, steps={**procedure.steps, **found})})


@once_per_library
def stops_of(library: Library, procedure: Procedure) -> list[str]:
    """Return the steps of the sequence that cannot be used, and those in whose actions a name is unknown."""
    catalogues, procedure = anatomy(library), readable(library, procedure)
    steps = [str(entry.step) for entry in procedure.entries if isinstance(entry, StepEntry)]
    return [id for id in steps if id not in procedure.steps or unknown_name(procedure.steps[id].actions, catalogues)]


def unknown_name(actions: Iterable[Action], anatomy: Anatomy) -> Text | None:
    """Return the first name of ``actions`` that is in no catalogue."""
    for action in actions:
        known = anatomy.structure if action.verb in ON_STRUCTURES else anatomy.item if action.verb in ON_ITEMS else None
        for name in action.objects:
            counted = action.verb is not Verb.COUNT or categories(name, anatomy.item(name))
            if not counted or (known is not None and not known(name)):
                return name
        for name in (*action.using, *filter(None, (action.through,))):
            if not anatomy.item(name):
                return name
    return None


def _of_lists(program: Program) -> Iterable[tuple[str, Hit]]:
    yield from (("kit-unused", hit) for hit in kit_lists.unused_kit(program))
    yield from (("kit-listed-twice", hit) for hit in kit_lists.listed_twice(program))
    yield from (("cut-while-protected", hit) for hit in cuts.cut_while_protected(program))
    yield from (("side-fixed-for-either", hit) for hit in kit_lists.fixed_sides(program))


def _of_paths(program: Program, aftercare_broken: bool) -> Iterable[tuple[str, Hit]]:
    result: Result = solve(program)
    yield from (("follow-incomplete", hit) for hit in shape.stuck(program, result))
    yield from (("branch-never-reached", hit) for hit in shape.unreachable(program, result))
    rounds = circles(program.procedure.steps)
    yield from (("needs-circular", hit) for hit, _ in rounds)
    in_circles = {fact for _, facts in rounds for fact in facts}
    left_in: set[str] = set()
    for failure in failures(program, result):
        if failure.check.rule == "item-left-in" and failure.check.item is not None:
            left_in.add(failure.check.item.id)
        if failure.check.rule != "need-not-met" or plain_name(failure.check.what) not in in_circles:
            yield failure.check.rule, report(failure)
    left = ward.staying(program, result)
    if not aftercare_broken:
        yield from (("left-in-without-aftercare", hit) for hit in ward.without_aftercare(program, left))
        yield from (("aftercare-not-bound", hit) for hit in ward.not_bound(program, left))
    yield from (("aftercare-without-item", hit) for hit in ward.without_item(program, left, left_in))
    yield from (("removal-without-time", hit) for hit in ward.without_end(program, left))

"""The shape of a sequence: choices with one name each, follows that name a choice and its branches, ways that go on."""

from collections.abc import Iterator, Mapping

from builder.check.hit import Hit
from builder.check.paths import path_words
from builder.check.paths.flow import Result
from builder.check.paths.program import Program
from builder.check.paths.reachable import ReachQuery
from builder.check.paths.witness import find
from builder.findings.finding import SecondPlace
from builder.findings.message_words import quoted
from builder.model.pages import Procedure
from builder.model.sequence import Choose, Follow, Option, branches


def is_clear(procedure: Procedure) -> bool:
    """Tell whether each choice has a name of its own and each follow names a choice and only branches it has.

    What is not clear has findings of its own (``choice-unknown``, ``branch-unknown``, ``choice-id-used-twice``);
    nothing can be said about paths until it is.
    """
    entries = procedure.entries
    forks = [entry for entry in entries if isinstance(entry, Choose | Option)]
    choices: dict[str, Choose | Option] = {str(entry.id): entry for entry in forks}
    if len(forks) != len(choices):
        return False
    return all(_known(entry, choices) for entry in entries if isinstance(entry, Follow))


def _known(follow: Follow, choices: Mapping[str, Choose | Option]) -> bool:
    choice = choices.get(follow.choice)
    return choice is not None and set(follow.branches) <= {name for name, _ in branches(choice)}


def stuck(program: Program, result: Result) -> Iterator[Hit]:
    """Yield each follow at which some walk cannot go on."""
    for node, branch in result.dead:
        follow = program.graph.nodes[node].entry
        assert isinstance(follow, Follow)
        choice = program.graph.choices[follow.choice]
        walk = find(program, ReachQuery(node, stuck=branch))
        name = str(choice.title or follow.choice)
        if branch:
            problem = f"{quoted(branch)} of {quoted(name)} leads nowhere from here"
            hint = f"Add `{branch}: [...]` below `with`, or `{branch}: []` if nothing is to be done."
        else:
            problem = f"{quoted(name)} has not been chosen by then"
            hint = "Move the follow to after the choice, or into the branch in which it is made."
        choices = {other: taken for other, taken in walk.choices.items() if other != follow.choice}
        when = path_words.condition(program.graph, choices)
        message = f"{when}: ... {path_words.ARROW} {problem}" if when else problem
        also = (SecondPlace(choice.id.at, "the choice that is followed"),)
        yield Hit(follow.choice.at, message, hint, also, path_words.titles(program, walk))


def unreachable(program: Program, result: Result) -> Iterator[Hit]:
    """Yield each branch of a follow that has something to do and that no walk can take.

    Not of a follow that comes before its choice: that has a finding of its own, and moving it mends both.
    """
    for node in program.graph.nodes:
        not_chosen = (node.index, "") in result.dead
        if not isinstance(node.entry, Follow) or node.index not in result.reached or not_chosen:
            continue
        for branch, inner in node.entry.branches.items():
            if inner and (node.index, str(branch)) not in result.walked:
                message = f"{quoted(branch)} can never be reached here: no path to this point takes it"
                hint = "Write `[]` for it, or move the follow to where that branch has been taken."
                also = (SecondPlace(program.graph.choices[node.entry.choice].id.at, "the choice that is followed"),)
                yield Hit(branch.at, message, hint, also)

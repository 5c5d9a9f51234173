"""The words of the path analysis: actions, sides, conditions and paths as a surgeon would say them."""

from collections.abc import Iterable

from builder.check.paths.program import Program
from builder.check.paths.witness import Walk
from builder.facts.automata import Deed
from builder.facts.graph import Graph
from builder.facts.sides import WORDS
from builder.findings.message_words import counted, listed
from builder.model.action import Verb
from builder.model.sequence import LEFT_OUT, TAKEN, Option

ARROW = "->"
_SINGULAR_ENDS = ("ss", "us", "is", "as", "ens", "eps", "forceps", "scissors")
_MOST_CONDITIONS = 6
_ONE_OF_TWO = frozenset({"L", "R", "X"})


def plural(name: str) -> bool:
    """Tell whether ``name`` is more than one, as its ending tells: vessels, veins of the arm, but not vas deferens."""
    last = name.partition(" of ")[0].rsplit(maxsplit=1)[-1].casefold()
    if last in ("forceps", "scissors"):
        return True
    return last.endswith("s") and not last.endswith(_SINGULAR_ENDS)


def the(name: str) -> str:
    """Return ``name`` with its article."""
    return name if name.casefold().startswith(("the ", "a ", "an ", "both ")) else f"the {name}"


def has(name: str) -> str:
    """Return ``has`` or ``have``, whichever goes with ``name``."""
    return "have" if plural(name) else "has"


def is_(name: str) -> str:
    """Return ``is`` or ``are``, whichever goes with ``name``."""
    return "are" if plural(name) else "is"


def was(name: str) -> str:
    """Return ``was`` or ``were``, whichever goes with ``name``."""
    return "were" if plural(name) else "was"


def on_side(sides: Iterable[str]) -> str:
    """Return the sides in words with a space before, "" where they go without saying."""
    told = [side for side in sides if side in _ONE_OF_TWO]
    if {"L", "R"} <= set(told):
        return " on either side"
    return f" {WORDS[told[0]]}" if told else ""


def deed(done: Deed) -> str:
    """Return an action as an instruction: ``divide the inferior epigastric vessels``."""
    action = done.action
    if done.name not in action.objects:
        return f"use {the(done.name)}"
    number = f"{action.number} x " if action.number > 1 else ""
    verb = "nick" if action.nick else action.verb.value
    words = f"{verb} {number}{done.name if number else the(done.name)}"
    if action.verb in (Verb.PLACE, Verb.REMOVE):
        place = f" in {the(action.inside)}" if action.inside else ""
        place += f" on {the(action.on)}" if action.on else ""
        words += place if action.verb is Verb.PLACE else place.replace(" in ", " from ").replace(" on ", " from ")
    elif action.verb is Verb.OPEN and action.using:
        words += f" with {listed(the(item) for item in action.using)}"
    return words


def condition(graph: Graph, choices: dict[str, str]) -> str:
    """Return ``when ... is ... and ... is left out``, or "" where nothing has to be chosen."""
    made = [_choice_made(graph, choice, branch) for choice, branch in choices.items()]
    if len(made) > _MOST_CONDITIONS:
        more = len(made) - _MOST_CONDITIONS
        made = [*made[:_MOST_CONDITIONS], f"{counted(more, 'more choice')} {is_count(more)} made as on the path"]
    return f"when {listed(made)}" if made else ""


def _choice_made(graph: Graph, choice: str, branch: str) -> str:
    entry = graph.choices[choice]
    name = the(_inside_sentence(str(entry.title or choice.replace("-", " "))))
    if isinstance(entry, Option) and branch in (TAKEN, LEFT_OUT):
        return f"{name} {is_(name)} {'left out' if branch == LEFT_OUT else 'taken'}"
    return f"{name} {is_(name)} {branch.replace('-', ' ')}"


def _inside_sentence(title: str) -> str:
    return title[0].lower() + title[1:] if title[1:2].islower() or len(title) == 1 else title


def failing(program: Program, walk: Walk, doing: str, problem: str) -> str:
    """Return the message of a failing path: when it fails, what is done, what is wrong then."""
    when = condition(program.graph, walk.choices)
    return f"{when}: ... {ARROW} {doing}; {problem}" if when else f"{doing}: {problem}"


def titles(program: Program, walk: Walk) -> tuple[str, ...]:
    """Return the numbers and titles of the steps along the path."""
    nodes = (program.graph.nodes[index] for index in walk.nodes)
    return tuple(f"{node.number} {node.step.title}" for node in nodes if node.step is not None)


def is_count(number: int) -> str:
    """Return ``is`` for one, else ``are``."""
    return "is" if number == 1 else "are"


def stays(name: str) -> str:
    """Return ``stays`` or ``stay``, whichever goes with ``name``."""
    return "stay" if plural(name) else "stays"

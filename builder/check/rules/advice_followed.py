"""What a caution wants seen before the cut is seen before the cut.

``Identify the bile duct before anything is divided`` is no use where the steps that it guards divide, and nothing on
the way up to there looks at the duct. Asked of structures alone, and only where the advice hangs on no condition.
"""

import re
from collections import defaultdict
from collections.abc import Iterator

from builder.check.hit import Hit, finds
from builder.check.rules.caution_words import cautions_of
from builder.check.rules.prose_and_actions import ids_in, in_order
from builder.facts.anatomy import anatomy
from builder.facts.clauses import Mood
from builder.facts.graph import graph_of
from builder.facts.remembered import once_per_library
from builder.facts.texts import words_in, words_said
from builder.facts.told_actions import ToldAction, told_of
from builder.findings.finding import SecondPlace
from builder.findings.message_words import quoted
from builder.model.action import Action, Verb
from builder.model.library import Library
from builder.model.pages import Caution, Procedure, Step, Structure

_IN_TIME = words_in("before until then first")
_THE_CUT = re.compile(r"\bbefore (?:the|any|each|every|a) (?:\w+ )?(?:cut|incision|division)\b", re.IGNORECASE)
_LOOKS = frozenset({"see", "inspect", "protect"})
_CUTS = frozenset({"cut", "excise", "open", "clip", "clamp", "tie"})
_LOOKING = frozenset({Verb.IDENTIFY, Verb.EXPOSE, Verb.PROTECT, Verb.INSPECT})
_CUTTING = frozenset({Verb.DIVIDE, Verb.EXCISE})
_Moment = tuple[int, int]
"""Where an action is on the way: the number of its node, and its own in the step."""


class _LooksAndCuts:
    """The steps of a procedure in order, where each caution guards, and where each thing is first looked at."""

    def __init__(self, library: Library, procedure: Procedure) -> None:
        self.steps: dict[int, Step] = {}
        self.guarded: dict[str, list[int]] = defaultdict(list)
        self.first_look: dict[str, _Moment] = {}
        for node in graph_of(library, procedure).nodes:
            if node.step is not None:
                self.steps[node.index] = node.step
                for caution in cautions_of(procedure, node.step):
                    self.guarded[caution.file].append(node.index)
                for moment, action, ids in _acts(library, node.index, node.step):
                    for id in ids if action.verb in _LOOKING else ():
                        self.first_look.setdefault(id, moment)

    def first_cut(self, library: Library, caution: Caution, cut: ToldAction | None) -> _Moment | None:
        """Return the first cut of the steps that ``caution`` guards: of the things that ``cut`` names, else any."""
        meant = {entry.id for entry in cut.entries} if cut is not None else set()
        for index in self.guarded[caution.file]:
            for moment, action, ids in _acts(library, index, self.steps[index]):
                cuts = action.verb in _CUTTING or (anatomy(library).cut_with(action) is not None and not action.nick)
                if cuts and (not meant or meant & ids):
                    return moment
        return None


_looks_and_cuts = once_per_library(_LooksAndCuts)


def _acts(library: Library, index: int, step: Step) -> Iterator[tuple[_Moment, Action, frozenset[str]]]:
    for number, (action, ids) in enumerate(zip(step.actions, ids_in(library, step), strict=True)):
        yield (index, number), action, ids


@finds("advice-not-followed", piecewise=True)
def advice_not_followed(library: Library) -> Iterator[Hit]:
    """Yield each thing that a caution wants seen before the cut, and that no action up to there looks at."""
    for procedure in library.procedures:
        for caution in procedure.cautions.values():
            if not _IN_TIME.isdisjoint(words_said(library, caution)):
                yield from _unseen(library, _looks_and_cuts(library, procedure), caution)


def _unseen(library: Library, way: _LooksAndCuts, caution: Caution) -> Iterator[Hit]:
    guarded = way.guarded[caution.file]
    for look, cut in _advised(library, way.steps[guarded[0]], caution) if guarded else ():
        first = way.first_cut(library, caution, cut)
        for entry in look.entries if first is not None else ():
            if first is not None and way.first_look.get(str(entry.id), first) >= first:
                wish = f"{quoted(caution.avoid)} wants the {entry.name} seen before the cut"
                message = f"{wish}, and no action up to there looks at it"
                also = (SecondPlace(way.steps[first[0]].actions[first[1]].at, "the cut"),)
                hint = f"Write `identify: {entry.name}` before the cut, or say in the caution when it is seen."
                yield Hit(caution.avoid.at, message, hint, also)


def _advised(library: Library, step: Step, caution: Caution) -> Iterator[tuple[ToldAction, ToldAction | None]]:
    """Yield what is to be seen before a cut, and the cut; None where it is any cut."""
    told = told_of(library, step, caution.avoid)
    looking = [one for one in told if one.doing in _LOOKS and _is_of_structures(one) and not one.clause.is_conditional]
    for look, cut in in_order(caution.avoid, told):
        if look in looking and cut.doing in _CUTS:
            yield look, cut
    for match in _THE_CUT.finditer(caution.avoid):
        before = [
            one for one in looking if one.start < match.start() and "." not in caution.avoid[one.start : match.start()]
        ]
        yield from ((look, None) for look in before[-1:] if look.clause.mood is Mood.ORDER and not look.forbidden)


def _is_of_structures(told: ToldAction) -> bool:
    return bool(told.entries) and all(isinstance(entry, Structure) for entry in told.entries)

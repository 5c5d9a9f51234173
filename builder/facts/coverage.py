"""Coverage: how much the checks of each family had to look at in a procedure, and what says nothing to look at.

The register names for each thing that a family looks at a counter of this module, so that a page, a report and the
command line claim no more than was there. A counter yields the id of the page on which each thing stands.
"""

import re
from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass, replace
from typing import Any, NamedTuple

from builder.facts.anatomy import Anatomy, anatomy
from builder.facts.claims import Claim, ClaimKind, claims
from builder.facts.texts import corpus
from builder.facts.walk import doses
from builder.findings.register import ABBREVIATIONS_AND_POINTERS, DRAFTS, EDITIONS, FAMILIES, NOTATION, TRANSLATIONS
from builder.load.program_words import gettext, ngettext
from builder.model.action import CUTS, Action, Verb
from builder.model.fields import Page
from builder.model.library import Library
from builder.model.pages import Procedure, Step, StructureKind, is_shared
from builder.model.sequence import Choose, Follow, Option, Sequence, StepEntry, branches

_SIDE_WORD = re.compile(r"\b(?:left|right)\b", re.IGNORECASE)
_NUMBER = re.compile(r"\b\d")
_ABBREVIATION = re.compile(r"\b[A-Z]{2,6}\b")
_WORDS_COUNTED = {"side": _SIDE_WORD, "number": _NUMBER, "abbreviation": _ABBREVIATION}


class Things(NamedTuple):
    """So many things of one kind, of which the ``family`` proves what ``proves`` says; ``steps``: in how many."""

    family: str
    proves: str
    name: str
    number: int
    steps: int


@dataclass(frozen=True, slots=True)
class ProcedureCoverage:
    """What there was to look at in one procedure.

    ``steps`` counts those of the sequence; ``unread`` are the ids of those that cannot be read, ``silent`` of those
    that say nothing of what is done and give no reason, ``excused`` of those that give one. ``practice`` of
    ``statements`` rest on common practice alone; ``accepted`` counts the findings that are accepted in its files,
    ``set_aside`` the relations of the catalogue that do not hold in its approach.
    """

    steps: int
    unread: tuple[str, ...]
    silent: tuple[str, ...]
    excused: tuple[str, ...]
    statements: int
    practice: int
    accepted: int
    set_aside: int
    things: tuple[Things, ...]

    @property
    def checked(self) -> tuple[Things, ...]:
        """What was there to be checked."""
        return tuple(things for things in self.things if things.number)

    @property
    def empty(self) -> tuple[Things, ...]:
        """What was not checked, because there is nothing of it; what every procedure may lack is not told."""
        return tuple(things for things in self.things if not things.number and things.family not in _MAY_LACK)


_MAY_LACK = frozenset(family.name for family in (EDITIONS, DRAFTS, ABBREVIATIONS_AND_POINTERS, NOTATION, TRANSLATIONS))


def data_of(found: ProcedureCoverage) -> dict[str, Any]:
    """Return ``found`` as JSON can hold it; ``looked_at`` holds numbers by family and by what was counted."""
    looked_at: dict[str, dict[str, dict[str, Any]]] = {}
    for things in found.things:
        words = words_of(things.name, things.number, things.steps, found.steps)
        told = {"number": things.number, "steps": things.steps, "words": words}
        looked_at.setdefault(things.family, {})[things.name] = told
    return {
        "steps": found.steps,
        "steps_not_read": list(found.unread),
        "steps_without_actions": list(found.silent),
        "steps_with_a_reason": list(found.excused),
        "statements": found.statements,
        "common_practice": found.practice,
        "accepted": found.accepted,
        "relations_set_aside": found.set_aside,
        "looked_at": looked_at,
        "nothing_to_look_at": list(dict.fromkeys(things.name for things in found.empty)),
        "told": [told for told in (silence(found), excuses(found)) if told],
    }


class _Counted(NamedTuple):
    """One procedure with what its counters ask for again and again."""

    library: Library
    procedure: Procedure
    anatomy: Anatomy
    steps: tuple[Step, ...]
    claims: tuple[Claim, ...]
    words: Mapping[str, list[str]]

    def actions(self) -> Iterator[tuple[Step, Action]]:
        """Yield each action with its step."""
        return ((step, action) for step in self.steps for action in step.actions)

    def objects(self) -> Iterator[tuple[Step, Action, str]]:
        """Yield each object of each action with its step."""
        return ((step, action, name) for step, action in self.actions() for name in action.objects)

    def pages(self) -> Iterator[Page]:
        """Yield the pages of the procedure."""
        yield self.procedure
        yield from self.steps
        yield from self.procedure.cautions.values()
        yield from self.procedure.aftercare_items.values()


_Counter = Callable[[_Counted], Iterable[object]]


def words_of(name: str, number: int, within: int, steps: int) -> str:
    """Return words such as ``31 cuts in 12 of 17 steps``: ``number`` of ``name``, ``within`` so many of ``steps``."""
    many = gettext(name if number == 1 else COUNTERS[name][0])
    if name.endswith("step"):
        return gettext("%(number)s %(things)s of %(steps)s", number=number, things=many, steps=steps)
    if not number:
        return gettext("no %(things)s", things=many)
    if not within:
        return f"{number} {many}"
    return ngettext(
        "%(number)s %(things)s in %(within)s of %(num)s step", "%(number)s %(things)s in %(within)s of %(num)s steps",
        steps, number=number, things=many, within=within,
    )  # fmt: skip


def silence(found: ProcedureCoverage) -> str:
    """Return a sentence that tells how many steps say nothing of what is done; "" where all say it."""
    return _silence(len(found.silent), found.steps)


def silence_of(procedure: Procedure) -> str:
    """Return the same sentence of ``procedure`` where nothing else of it is counted."""
    return _silence(len(_silent(steps_of(procedure))), len(_ids(procedure)))


def _silence(number: int, steps: int) -> str:
    if not number:
        return ""
    return ngettext(
        "%(num)s of %(steps)s steps says nothing of what is done: not analysed",
        "%(num)s of %(steps)s steps say nothing of what is done: not analysed",
        number,
        steps=steps,
    )


def _silent(steps: Iterable[Step]) -> tuple[str, ...]:
    return tuple(str(step.id) for step in steps if not step.actions and not step.no_actions)


def excuses(found: ProcedureCoverage) -> str:
    """Return a sentence that tells how much is excused from being checked; "" where nothing is."""
    told = []
    if number := len(found.excused):
        told.append(
            ngettext(
                "%(num)s of %(steps)s steps gives a reason to have no action",
                "%(num)s of %(steps)s steps give a reason to have no action",
                number,
                steps=found.steps,
            )
        )
    if number := found.practice:
        told.append(
            ngettext(
                "%(num)s of %(statements)s statements rests on common practice without a source",
                "%(num)s of %(statements)s statements rest on common practice without a source",
                number,
                statements=found.statements,
            )
        )
    if number := found.accepted:
        told.append(
            ngettext("%(num)s finding is accepted with a reason", "%(num)s findings are accepted with a reason", number)
        )
    if number := found.set_aside:
        told.append(
            ngettext(
                "%(num)s relation of the catalogue is set aside with a reason",
                "%(num)s relations of the catalogue are set aside with a reason",
                number,
            )
        )
    return "; ".join(told)


def steps_of(procedure: Procedure) -> tuple[Step, ...]:
    """Return the steps of the sequence that can be read, each once, in order."""
    steps = procedure.steps
    return tuple(steps[id] for id in _ids(procedure) if id in steps)


def _ids(procedure: Procedure) -> dict[str, None]:
    return dict.fromkeys(str(entry.step) for entry in procedure.entries if isinstance(entry, StepEntry))


def coverage(library: Library, procedure: Procedure) -> ProcedureCoverage:
    """Return what there is to look at in ``procedure``."""
    alone = _alone(library, procedure)
    claimed = tuple(claim for claim in claims(alone) if claim.kind is not ClaimKind.PAGE)
    return _covered(_Counted(alone, procedure, anatomy(library), steps_of(procedure), claimed, _words(alone)))


def _alone(library: Library, procedure: Procedure) -> Library:
    """Return ``library`` with nothing but ``procedure`` and the shared pages that it shows."""
    cautions = {id: page for id, page in procedure.cautions.items() if is_shared(page)}
    aftercare = {id: page for id, page in procedure.aftercare_items.items() if is_shared(page)}
    return replace(library, procedures=(procedure,), shared_cautions=cautions, shared_aftercare=aftercare)


def _covered(counted: _Counted) -> ProcedureCoverage:
    steps = {str(step.id) for step in counted.steps}
    practice = [claim for claim in counted.claims if claim.common_practice and not claim.uses]
    ids = _ids(counted.procedure)
    return ProcedureCoverage(
        len(ids),
        tuple(id for id in ids if id not in counted.procedure.steps),
        _silent(counted.steps),
        tuple(str(step.id) for step in counted.steps if step.no_actions and not step.actions),
        len(counted.claims),
        len(practice),
        sum(len(page.accept) for page in counted.pages() if not is_shared(page)),
        len(counted.procedure.not_close),
        tuple(_things(counted, steps)),
    )


def _things(counted: _Counted, steps: set[str]) -> Iterator[Things]:
    for family in FAMILIES:
        for name, proves in family.looks.items():
            homes = [str(home) for home in COUNTERS[name][1](counted)]
            yield Things(family.name, proves, name, len(homes), len(steps & set(homes)))


def _words(alone: Library) -> Mapping[str, list[str]]:
    """Return by kind of word the page of each word of that kind in the texts, and under ``text`` that of each text."""
    texts = corpus(alone)
    own = [piece for piece in texts.pieces if piece.page is not alone.department]
    found = {"text": [str(piece.page.id) for piece in own]}
    for kind, pattern in _WORDS_COUNTED.items():
        pieces = (texts.piece(match.start()) for match in pattern.finditer(texts.whole))
        found[kind] = [str(piece.page.id) for piece in pieces if piece.page is not alone.department]
    return found


def cuts(action: Action, catalogues: Anatomy) -> bool:
    """Tell whether something is cut, clamped, tied or sealed by ``action``, or opened with what cuts."""
    return action.verb in CUTS or catalogues.cut_with(action) is not None


def _names(counted: _Counted) -> Iterator[object]:
    yield from (entry.step for entry in counted.procedure.entries if isinstance(entry, StepEntry))
    for step in counted.steps:
        for action in step.actions:
            yield from (step.id for _ in (*action.objects, *action.using, *filter(None, (action.inside, action.on))))
        yield from (step.id for _ in (*step.cautions, *step.at_risk))
    for caution in counted.procedure.cautions.values():
        yield from (caution.id for _ in (*caution.guards, *caution.at_risk))


_MOST_WAYS = 10_000
"""Ways that are counted one by one; nobody walks more, and the analysis does not list them either."""


def _ways_through(sequence: Sequence) -> int:
    """Return in how many ways ``sequence`` can be walked; what follows an earlier choice parts nothing anew."""
    number = 1
    for entry in sequence:
        if isinstance(entry, Choose | Option):
            number *= sum(_ways_through(inner) for _, inner in branches(entry))
        elif isinstance(entry, Follow):
            number *= max((_ways_through(inner) for _, inner in branches(entry)), default=1)
    return number


def _divided(counted: _Counted) -> Iterator[object]:
    for step, action, name in counted.objects():
        structure = counted.anatomy.structure(name) if action.verb in (Verb.DIVIDE, Verb.EXCISE) else None
        if structure is not None and structure.kind is StructureKind.VESSEL:
            yield step.id


def _sides(counted: _Counted) -> Iterator[object]:
    yield from counted.words["side"]
    yield from (step.id for step, action in counted.actions() if action.side)
    yield from (figure.file for figure in counted.procedure.figures if figure.side)


def _proposed(counted: _Counted) -> Iterator[object]:
    yield from (page.id for page in counted.pages() if getattr(page, "proposed", False))
    yield from (step.id for step, action in counted.actions() if action.proposed)


def _objects_of(verb: Verb) -> _Counter:
    return lambda counted: (step.id for step, action, _ in counted.objects() if action.verb is verb)


COUNTERS: Mapping[str, tuple[str, _Counter]] = {
    "step": ("steps", lambda counted: (step.id for step in counted.steps if step.actions)),
    "described step": (
        "described steps",
        lambda counted: (step.id for step in counted.steps if step.actions and step.body.source.strip()),
    ),
    "name": ("names", _names),
    "citation": ("citations", lambda counted: (claim.id for claim in counted.claims for _ in claim.uses)),
    "statement": ("statements", lambda counted: (claim.id for claim in counted.claims)),
    "caution": ("cautions", lambda counted: counted.procedure.cautions),
    "way through": (
        "ways through", lambda counted: range(min(_ways_through(counted.procedure.sequence), _MOST_WAYS))
    ),
    "cut": (
        "cuts", lambda counted: (step.id for step, action, _ in counted.objects() if cuts(action, counted.anatomy))
    ),
    "divided vessel": ("divided vessels", _divided),
    "placed item": ("placed items", _objects_of(Verb.PLACE)),
    "opened layer": ("opened layers", _objects_of(Verb.OPEN)),
    "count": ("counts", lambda counted: (step.id for step, action in counted.actions() if action.verb is Verb.COUNT)),
    "item of the kit": ("items of the kit", lambda counted: counted.procedure.kit),
    "named side": ("named sides", _sides),
    "dose": ("doses", lambda counted: (page.id for page in counted.pages() for _ in doses(page))),
    "aftercare item": ("aftercare items", lambda counted: counted.procedure.aftercare_items),
    "translated sentence": ("translated sentences", lambda counted: (
        sentence.item for one in counted.procedure.translations.values() for sentence in one.sentences
    )),
    "critical step": ("critical steps", lambda counted: (step.id for step in counted.steps if step.critical)),
    "figure": ("figures", lambda counted: (figure.file for figure in counted.procedure.figures)),
    "approval": ("approvals", lambda counted: counted.procedure.approval),
    "issued code": ("issued codes", lambda counted: counted.library.ledger.of(str(counted.procedure.id))),
    "named person": (
        "named people", lambda counted: (counted.procedure.owner, *counted.procedure.approval)
    ),
    "part of a draft": ("parts of a draft", _proposed),
    "text": ("texts", lambda counted: counted.words["text"]),
    "title": ("titles", lambda counted: (page.id for page in counted.pages() if hasattr(page, "title"))),
    "abbreviation": ("abbreviations", lambda counted: counted.words["abbreviation"]),
    "number": ("numbers", lambda counted: counted.words["number"]),
}  # fmt: skip
"""By the name of one thing: the name of many, and what yields the page of each."""

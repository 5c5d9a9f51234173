"""What a caution says: a signal as grave as its consequence, one answer to one sign, sight before every act."""

import re
from collections.abc import Iterator, Sequence
from itertools import combinations
from typing import NamedTuple

from builder.check.hit import Hit, finds
from builder.facts.anatomy import Anatomy
from builder.facts.clauses import Clause, Mood, base, clauses
from builder.facts.gravity import RANKS, gravest
from builder.facts.names_in_prose import NamesInProse, names_in_prose
from builder.facts.stems import stem_of, stems
from builder.facts.walk import pages
from builder.findings.finding import SecondPlace
from builder.findings.message_words import quoted
from builder.grouping import word_set
from builder.model.action import Verb
from builder.model.library import Library
from builder.model.pages import Caution, Procedure, Signal, Step, Structure, StructureKind

_CUTTING = frozenset({Verb.DIVIDE, Verb.EXCISE})
_WORKING = _CUTTING | {Verb.OPEN, Verb.CLAMP, Verb.TIE, Verb.SEAL, Verb.SUTURE, Verb.RELEASE}
_MAIMING = frozenset({StructureKind.VESSEL, StructureKind.NERVE, StructureKind.DUCT, StructureKind.VISCUS})
"""What is lost with these does lasting harm: each has its caution where it is at risk."""


@finds("signal-too-mild", piecewise=True)
def signal_too_mild(library: Library) -> Iterator[Hit]:
    """Yield each caution whose signal word is milder than what it says follows."""
    for _, page in pages(library):
        if not isinstance(page, Caution) or page.signal is Signal.DANGER:
            continue
        graded = gravest(page.consequence)
        if graded is not None and RANKS.index(graded[0]) < RANKS.index(page.signal):
            signal, words = graded
            message = f"{quoted(page.signal.value)} is too mild a signal for {quoted(words)}"
            also = (SecondPlace(page.consequence.at, "the consequence"),)
            hint = f"Write `signal: {signal.value}`, or say in the consequence what happens less gravely."
            yield Hit(page.where.value("signal"), message, hint, also)


@finds("risk-without-caution", piecewise=True)
def risk_without_caution(library: Library) -> Iterator[Hit]:
    """Yield each structure that is at risk in a step and that no caution of the step speaks of."""
    anatomy = names_in_prose(library).anatomy
    names = names_in_prose(library)
    for procedure in library.procedures:
        for step in procedure.steps.values():
            if step.at_risk:
                yield from _unguarded(procedure, step, anatomy)
        for caution in procedure.parts.cautions.values():
            if caution.at_risk:
                yield from _names_another(caution, names)


def _names_another(caution: Caution, names: NamesInProse) -> Iterator[Hit]:
    """Yield a hazard that names a structure, where what is at risk is another one of its kind."""
    at_risk = [entry for name in caution.at_risk if isinstance(entry := names.find(name), Structure)]
    for mention in names.mentions(caution.hazard) if _HURT.search(caution.hazard) else ():
        entry = mention.entry
        if isinstance(entry, Structure) and entry.kind in _MAIMING and entry not in at_risk:
            message = f"{quoted(caution.at_risk[0])} is at risk here, but the hazard names {quoted(entry.name)}"
            hint = f"Add `{entry.name}` to `at_risk:`, or name in the hazard what is at risk."
            yield Hit(caution.at_risk[0].at, message, hint, (SecondPlace(caution.hazard.at, "the hazard"),))
            return


_HURT = re.compile(r"\b(?:cut|hurt|injured|caught|divided|stretched|nicked|damaged|tied)\b", re.IGNORECASE)


def _unguarded(procedure: Procedure, step: Step, anatomy: Anatomy) -> Iterator[Hit]:
    """Of what is at risk where a critical step works on tissue, one is spoken of; of what is beside a cut, each."""
    at_risk = [(name, structure) for name in step.at_risk if (structure := anatomy.structure(name)) is not None]
    maiming = [(name, structure) for name, structure in at_risk if structure.kind in _MAIMING]
    cautions = cautions_of(procedure, step)
    silent = [
        (name, structure)
        for name, structure in maiming
        if not any(_speaks_of(caution, structure, anatomy) for caution in cautions)
    ]
    cut = _cut(step, anatomy) if silent else ()
    works = step.critical and any(action.verb in _WORKING for action in step.actions)
    for name, structure in silent:
        is_beside = structure not in cut and any(_are_close(structure, one, anatomy) for one in cut)
        if is_beside or (works and len(silent) == len(maiming)):
            message = f"{quoted(name)} is at risk here, but no caution of this step speaks of it"
            hint = f"Write a caution with `at_risk: [{name}]` that guards this step."
            yield Hit(name.at, message, hint)


def _cut(step: Step, anatomy: Anatomy) -> list[Structure]:
    cutting = (one for one in step.actions if one.verb in _CUTTING or anatomy.cut_with(one) is not None)
    return [found for action in cutting for name in action.objects if (found := anatomy.structure(name)) is not None]


def _are_close(one: Structure, other: Structure, anatomy: Anatomy) -> bool:
    near = {anatomy.structure(name) for name in one.close_to} | {anatomy.structure(name) for name in other.close_to}
    return one in near or other in near


def cautions_of(procedure: Procedure, step: Step) -> tuple[Caution, ...]:
    """Return the cautions of ``step``: those that guard it, those that it names, and those that its prose links to."""
    return procedure.guarding[step.id]


def _speaks_of(caution: Caution, structure: Structure, anatomy: Anatomy) -> bool:
    if any(anatomy.structure(name) is structure for name in caution.at_risk):
        return True
    said = stems(f"{caution.hazard} {caution.consequence} {caution.avoid}")
    return bool(said & {stem_of(name.casefold().split()[-1]) for name in (structure.name, *structure.also)})


class TellsToDo(NamedTuple):
    """What is done at a sign: the plain verb, whether it is forbidden, and the words it is done to."""

    verb: str
    forbidden: bool
    about: frozenset[str]
    said: str
    begin: int


_OPPOSITES_LIST = """
open close, clamp open, clamp release, clamp unclamp, push pull, raise lower, leave remove, leave pull, leave take,
lift lower, give stop, start stop, inflate deflate, warm cool, tighten loosen, cover uncover, clip unclip, leave close,
leave clamp
"""
_OPPOSITES = {frozenset(pair.split()) for pair in _OPPOSITES_LIST.split(",")}
_NO_ANSWER = word_set("call tell stop ask write say record report wait look stay")
_LEFT = re.compile(r"\b(?:(?P<how>open|closed|in place)|un(?P<undone>[a-z]+))\b")
_PARTS = re.compile(r"[,.;]|\bor\b|\band\b")


@finds("one-sign-two-answers", piecewise=True)
def one_sign_two_answers(library: Library) -> Iterator[Hit]:
    """Yield each two cautions of a procedure with the same sign whose orders contradict each other.

    Where they have all signs in common, it is enough that they order different things: nothing tells them apart.
    """
    for procedure in library.procedures:
        told = [
            (caution, _signs(caution))
            for caution in procedure.cautions.values()
            if caution.sign and caution.if_it_happens
        ]
        for (first, signs), (second, others) in combinations(told, 2):
            shared = next((sign for sign in signs for other in others if _is_same_sign(sign, other)), None)
            if shared is not None:
                yield from _two_answers(first, second, all_same=_all_same(signs, others))


def _signs(caution: Caution) -> list[frozenset[str]]:
    return [words for part in _PARTS.split(caution.sign or "") if (words := stems(part))]


def _is_same_sign(one: frozenset[str], other: frozenset[str]) -> bool:
    shared = len(one & other)
    return one == other or (shared >= 2 and shared == min(len(one), len(other)))


def _all_same(signs: list[frozenset[str]], others: list[frozenset[str]]) -> bool:
    return all(any(_is_same_sign(one, other) for other in others) for one in signs) and len(signs) == len(others)


def _two_answers(first: Caution, second: Caution, *, all_same: bool) -> Iterator[Hit]:
    answers, others = answers_in(first.if_it_happens or ""), answers_in(second.if_it_happens or "")
    pair = next(((one, other) for one in answers for other in others if _exclude_each_other(one, other)), None)
    if pair is None and all_same and answers and others:
        acts, other_acts = ({one.verb for one in told} for told in (answers, others))
        pair = (answers[0], others[0]) if not acts & other_acts else None
    if pair is not None and second.if_it_happens is not None and first.sign is not None:
        message = f"{quoted(first.sign)} has two answers: {quoted(pair[0].said)}, and here {quoted(pair[1].said)}"
        also = (SecondPlace((first.if_it_happens or first.sign).at, "the other answer"),)
        hint = "Give one answer, or write signs that tell the two cautions apart."
        yield Hit(second.if_it_happens.at, message, hint, also)


def answers_in(text: str, read: Sequence[Clause] = (), *, limited: bool = True) -> list[TellsToDo]:
    """Return what ``text``, of which ``read`` are the clauses, orders and forbids.

    Without ``limited`` only what it does on no condition.
    """
    return [
        answer
        for clause in read or clauses(text)
        if clause.mood is Mood.ORDER
        and (limited or not (clause.unders - _MERE_TIMES))
        and (answer := _answer(text, clause)).verb not in _NO_ANSWER
    ]


_MERE_TIMES = frozenset({"before", "after", "while", "which", "that", "because"})


def _answer(text: str, clause: Clause) -> TellsToDo:
    words = text[clause.start : clause.stop]
    said = text[clause.begin : clause.stop].strip()
    verb, forbidden = clause.verb, clause.negated
    left = _LEFT.search(words) if verb == "leave" else None
    if left is not None and left["undone"] and base(left["undone"]):
        verb, forbidden = base(left["undone"]), not forbidden
    elif left is not None and left["how"] in ("open", "closed"):
        verb = {"open": "open", "closed": "close"}[left["how"]]
    forbidden = forbidden != words.lstrip().casefold().startswith(("no ", "nothing "))
    return TellsToDo(verb, forbidden, stems(words) - {verb}, said, clause.begin)


def _exclude_each_other(one: TellsToDo, other: TellsToDo) -> bool:
    if one.about and other.about and not one.about & other.about:
        return False
    if one.verb == other.verb:
        return one.forbidden != other.forbidden
    return frozenset((one.verb, other.verb)) in _OPPOSITES and not one.forbidden and not other.forbidden

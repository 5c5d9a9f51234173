"""The texts of a step, with its cautions, and of an aftercare item do not say opposites of the same thing."""

import re
from collections.abc import Iterable, Iterator
from itertools import combinations

from builder.check.hit import Hit, finds
from builder.check.rules.caution_words import cautions_of
from builder.facts.opposites import PAIRS, PoleTold, agree, may_agree, may_oppose, oppose, poles
from builder.facts.stems import senses
from builder.facts.texts import words_said
from builder.facts.walk import every_aftercare
from builder.findings.finding import SecondPlace
from builder.findings.message_words import quoted
from builder.load.prose import Prose
from builder.model.library import Library
from builder.model.pages import Caution, Step
from builder.place import Place, Text

_Told = tuple[PoleTold, Place]


@finds("opposites-told", piecewise=True)
def opposites_told(library: Library) -> Iterator[Hit]:
    """Yield each two texts of a step, or of an aftercare item, that say opposites of the same thing."""
    for procedure in library.procedures:
        for step in procedure.steps.values():
            cautions = cautions_of(procedure, step)
            pairs = may_oppose(words_said(library, step), *(words_said(library, caution) for caution in cautions))
            if pairs:
                done, places = _done_right(step), _told_of_places(step)
                done.extend(caution.avoid for caution in cautions)
                told = [*(_poles(text, pairs) for text in done), _of_prose(step.body, pairs)]
                yield from _opposed([*told, *(_poles(text, pairs & _SIDES) for text in places if pairs & _SIDES)])
            yield from _slips_ordered(step)
            yield from _harms_ordered(step, cautions)
            yield from _further_wrong(step.error, (step.recovery, step.if_not), "the common slip")
        for caution in procedure.parts.cautions.values():
            yield from _further_wrong(caution.hazard, (caution.avoid, caution.if_it_happens), "the hazard")
    for item in every_aftercare(library):
        routes = (dose.route for dose in item.dose)
        texts = [text for text in (item.title, item.patient_text, *routes) if text is not None]
        pairs = may_oppose(words_said(library, item))
        if pairs:
            yield from _opposed([*(_poles(text, pairs) for text in texts), _of_prose(item.body, pairs)])


def _done_right(step: Step) -> list[Text]:
    """Return what ``step`` says beside its prose of how it is done right."""
    said = (step.title, step.cue, step.order_matters, *(action.what for action in step.actions))
    return [text for text in said if text is not None]


def _told_of_places(step: Step) -> list[Text]:
    """Return what ``step`` says of where things are, but not of how they are done: to mend it, and of figures."""
    shown_in = (text for figure in step.figure for text in (figure.alt, figure.caption))
    return [text for text in (step.if_not, step.recovery, *shown_in) if text is not None]


_HARMS = re.compile(
    r"\b(?:narrows?|tears?|starves?|leaks?|bleeds?|burns?|hurts?|harms?|kills?|loses|weakens?|damages?|dies|slips?|gapes?|"
    r"blocks?|breaks?|fails?|stretches|crushes|strangles)\b(?! (?:less|no))",
    re.IGNORECASE,
)
_PLACES = frozenset(
    number for number, pair in enumerate(PAIRS) if pair.is_side or pair.one.startswith(("medial", "ant", "superf"))
)
"""What is in names, and says nothing of how a thing is done."""
_OR = re.compile(r"\bor\b", re.IGNORECASE)


def _harms_ordered(step: Step, cautions: Iterable[Caution]) -> Iterator[Hit]:
    """Yield what ``step`` orders although its own reason, or the hazard of a caution, says that it does harm."""
    wrong = [step.why] if step.why is not None and _HARMS.search(step.why) else []
    for harm in (*wrong, *(caution.hazard for caution in cautions)):
        said = _OR.sub("and", harm)
        pairs = may_agree(said, " ".join((*_done_right(step), step.body.source))) - _PLACES
        harms = poles(said, pairs) if pairs else ()
        told = [one for text in _done_right(step) for one in _poles(text, pairs)] if harms else []
        told += _of_prose(step.body, pairs) if harms else []
        for one, at in told:
            if any(agree(one, other) for other in harms):
                message = f"{quoted(one.words)} is said here, but it does harm: {quoted(harm)}"
                yield Hit(
                    at, message, "Write which way it is done, in both places.", (SecondPlace(harm.at, "the harm"),)
                )
                break


_SIDES = frozenset(number for number, pair in enumerate(PAIRS) if pair.is_side)


def _slips_ordered(step: Step) -> Iterator[Hit]:
    """Yield what the prose orders although the step itself calls it the common slip."""
    slip = step.error
    if slip is None or not step.body.source:
        return
    pairs = may_agree(slip, step.body.source)
    wrong, body = (poles(slip, pairs), poles(step.body.shown, pairs)) if pairs else ((), ())
    told = next(((one.words, one.begin) for one in body for other in wrong if agree(one, other)), None)
    told = told or _in_words_of(slip, step.body.shown)
    if told is not None:
        message = f"{quoted(told[0])} is what the step itself calls the common slip: {quoted(slip)}"
        also = (SecondPlace(slip.at, "the common slip"),)
        yield Hit(step.body.place(told[1]), message, "Write how it is done right, or mend the slip.", also)


_CLAUSE_OF_SLIP = re.compile(r"[^,.;]+")
_FEWEST, _ALIKE = 4, 0.8
"""Words of a slip, and the part of them that an order uses too, where the two are taken for the same."""
_NO_ORDER = re.compile(r"\b(?:not|never|no|nothing|without|avoid|only|unless|if|keep|until)\b|n['’]t\b", re.IGNORECASE)


def _in_words_of(slip: str, text: str) -> tuple[str, int] | None:
    """Return the sentence of ``text``, and where it starts, that orders what ``slip`` says in nearly the same words."""
    first = _CLAUSE_OF_SLIP.search(slip)
    wrong = senses(first.group()) if first else frozenset()
    for sentence in re.finditer(r"[^.;!?]+", text) if len(wrong) >= _FEWEST else ():
        if len(wrong & senses(sentence.group())) >= _ALIKE * len(wrong) and not _NO_ORDER.search(sentence.group()):
            words = sentence.group().strip()
            return " ".join(words.split()), sentence.start() + sentence.group().find(words)
    return None


def _of_prose(body: Prose, pairs: frozenset[int]) -> list[_Told]:
    return [(told, body.place(told.begin)) for told in poles(body.shown, pairs)]


def _poles(text: Text, pairs: frozenset[int]) -> list[_Told]:
    return [(told, text.at) for told in poles(text, pairs)]


def _opposed(groups: list[list[_Told]]) -> Iterator[Hit]:
    for first, second in combinations([group for group in groups if group], 2):
        pair = next(((one, other) for one in first for other in second if oppose(one[0], other[0])), None)
        if pair is not None:
            (one, at), (other, there) = pair
            message = f"{quoted(other.words)} is said here, but {quoted(one.words)} is said as well"
            also = (SecondPlace(at, "the opposite"),)
            yield Hit(there, message, "Write which of the two is right, in both places.", also)


def _further_wrong(wrong: Text | None, remedies: Iterable[Text | None], called: str) -> Iterator[Hit]:
    """Yield a remedy that leads the way of which ``wrong`` says that it goes too far: smaller where it is too small."""
    _, _, direction = (wrong or "").partition("too ")
    told = {(one.pair, one.pole) for one in poles(direction)} if direction else set()
    for remedy in remedies if told else ():
        same = next((one for one in poles(remedy or "") if (one.pair, one.pole) in told and not one.contrasted), None)
        if wrong is not None and remedy is not None and same is not None:
            message = f"{quoted(same.words)} leads to {called} itself: {quoted(wrong)}"
            also = (SecondPlace(wrong.at, called),)
            yield Hit(remedy.at, message, "Write the way that leads away from it.", also)

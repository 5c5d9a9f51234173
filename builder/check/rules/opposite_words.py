"""The texts of a step, with its cautions, and of an aftercare item do not say opposites of the same thing."""

from collections.abc import Iterator
from itertools import combinations

from builder.check.hit import Hit, finds
from builder.check.rules.caution_words import cautions_of
from builder.facts.names_in_prose import shown
from builder.facts.opposites import PoleTold, may_oppose, oppose, poles
from builder.facts.walk import every_aftercare
from builder.findings.finding import SecondPlace
from builder.findings.message_words import quoted
from builder.load.prose import Prose
from builder.model.library import Library
from builder.model.pages import Caution
from builder.place import Place, Text

_Told = tuple[PoleTold, Place]


@finds("opposites-told")
def opposites_told(library: Library) -> Iterator[Hit]:
    """Yield each two texts of a step, or of an aftercare item, that say opposites of the same thing."""
    for procedure in library.procedures:
        for step in procedure.steps.values():
            cautions = list(cautions_of(procedure, step))
            texts = [
                text for text in (step.title, step.cue, *(action.what for action in step.actions)) if text is not None
            ]
            pairs = may_oppose([*texts, step.body.source, *(caution.avoid for caution in cautions)])
            if pairs:
                texts.extend(caution.avoid for caution in cautions)
                yield from _opposed([*(_poles(text, pairs) for text in texts), _of_prose(step.body, pairs)])
        for caution in procedure.parts.cautions.values():
            if "too " in caution.hazard:
                yield from _into_the_hazard(caution)
    for item in every_aftercare(library):
        routes = (dose.route for dose in item.dose)
        texts = [text for text in (item.title, item.patient_text, *routes) if text is not None]
        pairs = may_oppose([*texts, item.body.source])
        if pairs:
            yield from _opposed([*(_poles(text, pairs) for text in texts), _of_prose(item.body, pairs)])


def _of_prose(body: Prose, pairs: frozenset[int]) -> list[_Told]:
    return [(told, body.place(told.begin)) for told in poles(shown(body.source), pairs)]


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


def _into_the_hazard(caution: Caution) -> Iterator[Hit]:
    """Yield advice that leads the way of which the hazard says that it goes too far."""
    _, too, direction = caution.hazard.partition("too ")
    hazard = poles(direction) if too else ()
    for told in poles(caution.avoid):
        if any(one.pair == told.pair and one.pole == told.pole for one in hazard):
            message = f"{quoted(told.words)} leads to the hazard itself: {quoted(caution.hazard)}"
            also = (SecondPlace(caution.hazard.at, "the hazard"),)
            yield Hit(caution.avoid.at, message, "Write the way that leads away from it.", also)

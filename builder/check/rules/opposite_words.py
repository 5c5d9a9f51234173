"""The texts of a step, with its cautions, and of an aftercare item do not say opposites of the same thing."""

from collections.abc import Iterator
from itertools import combinations

from builder.check.hit import Hit, finds
from builder.check.rules.caution_words import cautions_of
from builder.facts.names_in_prose import shown
from builder.facts.opposites import PoleTold, oppose, poles
from builder.facts.walk import every_aftercare
from builder.findings.finding import SecondPlace
from builder.findings.message_words import quoted
from builder.model.library import Library
from builder.model.pages import Aftercare, Caution, Step
from builder.place import Place, Text

_Told = tuple[PoleTold, Place]


@finds("opposites-told")
def opposites_told(library: Library) -> Iterator[Hit]:
    """Yield each two texts of a step, or of an aftercare item, that say opposites of the same thing."""
    for procedure in library.procedures:
        for step in procedure.steps.values():
            own = [*_of_step(step)]
            advised = [list(_poles(caution.avoid)) for caution in cautions_of(procedure, step)]
            yield from _opposed([*own, *(group for group in advised if group)])
        for caution in procedure.parts.cautions.values():
            yield from _into_the_hazard(caution)
    for item in every_aftercare(library):
        yield from _opposed(list(_of_aftercare(item)))


def _of_step(step: Step) -> Iterator[list[_Told]]:
    for text in (step.title, step.cue, *(action.what for action in step.actions)):
        yield list(_poles(text))
    yield [(told, step.body.place(told.begin)) for told in poles(shown(step.body.source))]


def _of_aftercare(item: Aftercare) -> Iterator[list[_Told]]:
    for text in (item.title, item.patient_text, *(dose.route for dose in item.dose)):
        yield list(_poles(text))
    yield [(told, item.body.place(told.begin)) for told in poles(shown(item.body.source))]


def _poles(text: Text | None) -> Iterator[_Told]:
    return ((told, text.at) for told in poles(text)) if text is not None else iter(())


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

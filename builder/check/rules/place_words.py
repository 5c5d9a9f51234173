"""Where a structure lies is said alike in the texts of a step, its figures and its cautions."""

from collections.abc import Iterator

from builder.check.hit import Hit, finds
from builder.check.rules.caution_words import cautions_of
from builder.facts.names_in_prose import NamesInProse, names_in_prose, short_forms
from builder.facts.relative_places import PLACE_WORD, PLACE_WORDS, Lies, lies_in
from builder.facts.texts import words_said
from builder.findings.finding import SecondPlace
from builder.findings.message_words import quoted
from builder.load.prose import Prose
from builder.model.library import Library
from builder.model.pages import Procedure, Step
from builder.place import Place, Text

_Told = tuple[Lies, Place]


@finds("places-differ", piecewise=True)
def places_differ(library: Library) -> Iterator[Hit]:
    """Yield each place of a structure that another text of the step puts on the opposite side, or one of another step.

    Seen from another structure, a place is the same in every step; seen from ``it``, only in the same one.
    """
    names = names_in_prose(library)
    for procedure in library.procedures:
        elsewhere: list[_Told] = []
        for step in procedure.steps.values():
            pages = (step, *cautions_of(procedure, step))
            if any(not PLACE_WORDS.isdisjoint(words_said(library, page)) for page in pages):
                told = list(_told(step, list(_texts(procedure, step)), names))
                yield from _differing(told, elsewhere)
                elsewhere.extend(one for one in told if one[0].reference not in ("", "it"))


def _texts(procedure: Procedure, step: Step) -> Iterator[tuple[Text | Prose, str]]:
    """Yield each text that says where something lies, and the words that say what a text without a name means."""
    said = (step.title, step.cue, step.if_not, step.why, step.recovery)
    shown_in = (text for figure in step.figure for text in (figure.alt, figure.caption))
    yield from ((text, "") for text in (*said, *shown_in) if text is not None)
    yield step.body, ""
    for caution in cautions_of(procedure, step):
        yield caution.avoid, ""
        if caution.sign is not None:
            yield caution.sign, caution.hazard


def _told(step: Step, texts: list[tuple[Text | Prose, str]], names: NamesInProse) -> Iterator[_Told]:
    pointed = (pointer.structure for figure in step.figure for pointer in figure.pointers)
    known = (names.find(name) for name in (*step.at_risk, *pointed))
    entries = {entry.id: entry for entry in (*names.handled(step.actions).values(), *known) if entry is not None}
    short = short_forms(entries.values())
    for text, hazard in texts:
        words = text.shown if isinstance(text, Prose) else str(text)
        if PLACE_WORD.search(words) is None:
            continue
        meant = next(iter(names.mentions(hazard, short)), None) if hazard else None
        default = str(meant.entry.id) if meant else ""
        for lies in lies_in(words, tuple(names.mentions(words, short)), default):
            yield lies, text.place(lies.begin) if isinstance(text, Prose) else text.at


def _differing(told: list[_Told], elsewhere: list[_Told]) -> Iterator[Hit]:
    """Yield the first place that is the other way round in the same step, or in one before."""
    for number, (lies, at) in enumerate(told):
        here = next((place for other, place in told[:number] if lies.contradicts(other)), None)
        against = here or next((place for other, place in elsewhere if lies.contradicts(other)), None)
        if against is not None:
            where = "elsewhere in this step" if here is not None else "in another step"
            message = f"{quoted(lies.said)} is the other way round {where}"
            also = (SecondPlace(against, "said the other way round here"),)
            yield Hit(at, message, "Write which of the two is right, in both places.", also)
            return

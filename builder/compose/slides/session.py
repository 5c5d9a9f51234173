"""A talk cut to a session of 10, 20 or 40 minutes: which slides are shown, and how long each takes.

A slide that is shown is shown with all that is said of it: cutting drops slides, never sentences. It drops what is
worth least as a teaching point: dangers stay first, then figures, signs to go on of critical steps, the map. A slide
takes the time of its words, of looking at its figure, and of the room's answer; what a step takes in theatre is another
time. At least a tenth of the slot is kept for questions, and a talk has no more slides than one in 45 seconds.
"""

from collections.abc import Iterator, Mapping, Sequence
from collections.abc import Set as AbstractSet
from dataclasses import dataclass, replace
from math import ceil

from builder.compose.document import Renderer
from builder.compose.slides import LENGTHS
from builder.compose.slides.knapsack import Bundle, Candidate, best_choice
from builder.compose.slides.slide import Deck, Sketch, SpeakerNote, filled
from builder.compose.slides.slide_deck import TURN_SECONDS, deck_of, seconds_of, too_long
from builder.compose.slides.slide_layout import TooLong, slides_of
from builder.compose.slides.slide_text import stopped, without_pointing
from builder.compose.slides.slides import material_of
from builder.compose.view.words import step_words
from builder.facts.remembered import once_per_library
from builder.findings.finding import Refused
from builder.grouping import grouped
from builder.load.program_words import gettext
from builder.model.library import Library
from builder.model.pages import Procedure

QUESTIONS_SHARE = 0.1
"""Of the slot, kept for questions at the end: a minute in ten at least (common practice)."""
LEAST_SECONDS = 45.0
"""That a slide takes on average: faster, a room reads and does not listen (common practice)."""
WITH_FIGURES = 20
"""From so many minutes on every figure of a critical step is shown."""
_ENDS = 25.0  # seconds kept for the slides of title and sources before it is known how many sources there are
_FLOOR_STEP = 6.0
# What a slide is worth when not all fit. Common practice, ours to set: what protects the patient now comes first.
_SHOWN = {
    "map": 50, "checklist": 20, "list": 14, "step": 20, "step-figure": 26, "figure": 16, "statement": 18,
    "question": 16, "answer": 0, "choice": 18,
}  # fmt: skip
_SIGNAL = {"danger": 150, "warning": 12, "caution": 4, "notice": 2}
_FIRST = 1000  # the map, and figures of critical steps from 20 minutes on, stand wherever they fit
_CRITICAL = 20  # how much more a critical step, or its figure, is worth
_HEADS = ("step", "step-figure", "choice", "question", "answer")
"""Nothing of a bundle stands without these."""
_STEPS_A_SECOND = 2


@dataclass(frozen=True, slots=True)
class SlideCandidate:
    """A slide that may be chosen: the ``seconds`` it takes, what it is ``worth``; nothing of its bundle stands without
    its ``head``."""

    id: str
    bundle: str
    seconds: float
    worth: int
    head: bool = False


@dataclass(frozen=True, slots=True)
class Session:
    """A session of ``minutes``: its deck of ``sketches``, the ``seconds`` that the talk takes and those left for
    ``questions``; ``left_out`` are slides that are not shown."""

    minutes: int
    deck: Deck
    sketches: Mapping[str, Sketch]
    seconds: float
    questions: float
    left_out: tuple[Sketch, ...]

    @property
    def shown(self) -> AbstractSet[str]:
        """The ids of the sketches that are shown."""
        return self.sketches.keys()


@once_per_library  # its slides and its plan are made of it
def session_of(library: Library, procedure: Procedure, renderer: Renderer, minutes: int) -> Session:
    """Return the session of ``minutes``, one of LENGTHS; it is part of those that are longer.

    Raises Refused where words fit on no slide.
    """
    material = material_of(library, procedure, renderer)
    allowed: AbstractSet[str] = {sketch.id for sketch in material}
    for length in reversed(LENGTHS):
        session = _cut(library, procedure, material, (length, allowed))
        if length == minutes:
            return session
        allowed = session.shown
    raise ValueError(f"{minutes} is not one of {LENGTHS}")


def _cut(
    library: Library, procedure: Procedure, material: Sequence[Sketch], wanted: tuple[int, AbstractSet[str]]
) -> Session:
    """Return the session of so many minutes, of those of ``material`` whose ids are allowed."""
    minutes, allowed = wanted
    candidates = [slide for slide in _candidates(procedure, material, minutes) if slide.id in allowed]
    talk = minutes * 60 * (1 - QUESTIONS_SHARE)
    room, floor = talk - _ENDS, 0.0
    while True:
        taken = [replace(slide, seconds=max(slide.seconds, floor)) for slide in candidates]
        session = _session(library, procedure, material, (minutes, chosen(taken, room)))
        is_slow = floor >= LEAST_SECONDS or session.seconds >= LEAST_SECONDS * len(session.deck.slides)
        if session.seconds <= talk and (is_slow or not session.left_out):
            return session
        if session.seconds > talk:  # slides of sources, and abbreviations spelt out here, took longer than was kept
            room = max(0.0, room - (session.seconds - talk) - 1)
        else:  # short slides are counted as longer, until long ones are shown instead
            floor += _FLOOR_STEP


def _session(
    library: Library, procedure: Procedure, material: Sequence[Sketch], wanted: tuple[int, AbstractSet[str]]
) -> Session:
    minutes, ids = wanted
    shown = list(_bridged(material, ids))
    deck = deck_of(library, procedure, shown, gettext("A session of %(minutes)s minutes.", minutes=minutes))
    seconds = sum(slide.seconds for slide in deck.slides)
    left_out = tuple(sketch for sketch in material if sketch.id not in ids)
    sketches = {sketch.id: sketch for sketch in shown}
    return Session(minutes, deck, sketches, seconds, minutes * 60 - seconds, left_out)


def _bridged(material: Sequence[Sketch], ids: AbstractSet[str]) -> Iterator[Sketch]:
    """Yield the sketches that are shown; notes say which steps are passed over before them, or after the last."""
    last = [sketch.id for sketch in material if sketch.id in ids][-1:]
    passed: list[str] = []
    for at, sketch in enumerate(material):
        if sketch.id not in ids:
            passed.extend(_marks([sketch]))
            continue
        after = [mark for mark in _marks(material[at + 1 :]) if sketch.id in last]
        over = (
            SpeakerNote(gettext("Not shown before this"), stopped(step_words(passed))),
            SpeakerNote(gettext("Not shown after this"), stopped(step_words(after))),
        )
        # Words that point at slides which may not be shown are not said.
        speech = replace(sketch.speech, text=without_pointing(sketch.speech.text))
        yield replace(sketch, speech=speech, asides=filled(*over, *sketch.asides))
        passed = []


def _marks(sketches: Sequence[Sketch]) -> list[str]:
    return [sketch.mark for sketch in sketches if sketch.kind in ("step", "step-figure")]


def _candidates(procedure: Procedure, material: Sequence[Sketch], minutes: int) -> Iterator[SlideCandidate]:
    """Yield every slide as what may be chosen. Raises Refused where words fit on no slide."""
    for sketch in material:
        try:
            extra = TURN_SECONDS * (len(slides_of(sketch)) - 1)
        except TooLong as error:
            raise Refused(too_long(procedure, error)) from error
        is_first = sketch.kind == "map" or (bool(sketch.picture) and sketch.critical and minutes >= WITH_FIGURES)
        worth = _worth(sketch) + _FIRST * is_first
        yield SlideCandidate(sketch.id, sketch.block, seconds_of(sketch) + extra, worth, sketch.kind in _HEADS)


def _worth(sketch: Sketch) -> int:
    """Return what it is worth to show ``sketch``."""
    if sketch.id.startswith("dose-"):
        return _SIGNAL["danger"]
    return _SHOWN.get(sketch.kind, 0) + _SIGNAL.get(sketch.signal, 0) + _CRITICAL * sketch.critical


# The most valuable slides that fit, exactly: a knapsack over half seconds. Nothing of a bundle (a step with its figure
# and cautions) stands without its head.


def chosen(slides: Sequence[SlideCandidate], seconds: float) -> AbstractSet[str]:
    """Return the ids of the slides that stand."""
    bundles = grouped((slide.bundle, slide) for slide in slides)
    return best_choice([_bundle(here) for here in bundles.values()], int(seconds * _STEPS_A_SECOND)).keys()


def _bundle(slides: Sequence[SlideCandidate]) -> Bundle:
    candidates = (Candidate(slide.id, ((_steps(slide.seconds), slide.worth),), slide.head) for slide in slides)
    return Bundle(0, must=False, candidates=tuple(candidates))


def _steps(seconds: float) -> int:
    """Return ``seconds`` in half seconds, rounded up, so that a sum never promises time that is not there."""
    return ceil(seconds * _STEPS_A_SECOND - 1e-9)

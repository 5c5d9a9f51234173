"""A talk cut to a session of 10, 20 or 40 minutes: which slides are shown, and how long each takes.

A slide that is shown is shown with all that is said of it: cutting drops slides, never sentences. It drops what is
worth least as a teaching point: dangers stay first, then figures, signs to go on of critical steps, the map. A slide
takes the time of its words, of looking at its figure, and of the room's answer; what a step takes in theatre is another
time. At least a tenth of the slot is kept for questions, and a talk has no more slides than one in 45 seconds.
"""

import re
from collections.abc import Iterator, Sequence
from collections.abc import Set as AbstractSet
from dataclasses import dataclass, replace
from typing import Any

from builder.compose.document import LeftOut, Renderer
from builder.compose.slides import LENGTHS
from builder.compose.slides.knapsack import SlideCandidate, chosen
from builder.compose.slides.slide import Deck, Slide, SlidePart, filled
from builder.compose.slides.slide_deck import TURN_SECONDS, deck_of, seconds_of, set_slides
from builder.compose.slides.slide_questions import questions
from builder.compose.slides.slide_sketch import sketches_of, with_counts
from builder.compose.slides.slide_text import stopped
from builder.compose.view.outline import every_block, outline
from builder.compose.view.parts_view import ProcedureView, counts_called
from builder.compose.view.procedure_view import view_of
from builder.compose.view.words import step_words
from builder.facts.remembered import once_per_library
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
_NOT_SHOWN = "no time: what is shown instead is worth more in this slot"
_MEASURED_PT = 300.0
_POINTING = re.compile(r" \((?:step|Figure) [0-9A-Z]+\)")
"""What leads astray where not every slide is shown."""


@dataclass(frozen=True, slots=True)
class Session:
    """A session of ``minutes`` (0: of all there is): its deck, the ids of the sketches that are ``shown``, and the
    sketches that are not."""

    minutes: int
    deck: Deck
    shown: AbstractSet[str]
    left_out: tuple[Slide, ...] = ()

    @property
    def seconds(self) -> float:
        """The seconds that the talk takes."""
        return sum(slide.seconds for slide in self.deck.slides)

    @property
    def questions(self) -> float:
        """The seconds that are left for questions."""
        return self.minutes * 60 - self.seconds

    @property
    def not_shown(self) -> tuple[LeftOut, ...]:
        """What is left out, and why."""
        return tuple(LeftOut(sketch.kind, sketch.id, _NOT_SHOWN) for sketch in self.left_out)

    @property
    def explained(self) -> dict[str, Any]:
        """What the build report says of its times; nothing of what has no slot."""
        told = {
            "session_minutes": self.minutes,
            "talk_seconds": round(self.seconds),
            "question_seconds": round(self.questions),
        }
        return told if self.minutes else {}


@once_per_library  # its slides and its plan are made of it
def session_of(library: Library, procedure: Procedure, renderer: Renderer, minutes: int) -> Session:
    """Return the session of ``minutes``, one of LENGTHS, which is part of those that are longer; 0: all there is.

    Raises Refused where words fit on no slide.
    """
    material = _material(library, procedure, renderer)
    if not minutes:
        return Session(0, deck_of(library, procedure, material), {sketch.id for sketch in material})
    longer = min((length for length in LENGTHS if length > minutes), default=0)
    allowed = session_of(library, procedure, renderer, longer).shown
    candidates = [slide for slide in _candidates(procedure, material, minutes) if slide.id in allowed]
    talk = minutes * 60 * (1 - QUESTIONS_SHARE)
    room = talk - _ENDS
    about = gettext("A session of %(minutes)s minutes.", minutes=minutes)
    while True:
        ids = chosen(candidates, room)
        deck = deck_of(library, procedure, list(_bridged(material, ids)), about)
        session = Session(minutes, deck, ids, tuple(sketch for sketch in material if sketch.id not in ids))
        is_fast = session.left_out and session.seconds < LEAST_SECONDS * len(deck.slides)
        if session.seconds > talk:  # slides of sources, and abbreviations spelt out here, took longer than was kept
            room = max(0.0, room - (session.seconds - talk) - 1)
        elif is_fast and (short := _short([slide for slide in candidates if slide.id in ids])):
            least = min(short, key=lambda slide: slide.worth)  # longer ones are shown instead
            own = least.bundle if least.head else ""
            candidates = [slide for slide in candidates if slide != least and slide.bundle != own]
        else:
            return session


def _short(shown: Sequence[SlideCandidate]) -> list[SlideCandidate]:
    """Return the slides that take less time than a slide should, but for dangers, what comes first, and their heads."""
    firm = {slide.bundle for slide in shown if slide.worth >= _SIGNAL["danger"]}
    short = (slide for slide in shown if slide.seconds < LEAST_SECONDS and slide.worth < _SIGNAL["danger"])
    return [slide for slide in short if not (slide.head and slide.bundle in firm)]


@once_per_library  # all decks are made of them
def _material(library: Library, procedure: Procedure, renderer: Renderer) -> tuple[Slide, ...]:
    """Return all sketches of ``procedure``."""
    view = view_of(library, procedure)
    sketches = sketches_of(library, view, _aspects(view, renderer))
    first = tuple(sketch for sketch in sketches if sketch.block == "why")  # what is asked about is named before
    after = tuple(sketch for sketch in sketches if sketch.id.startswith("aftercare"))
    body = [sketch for sketch in sketches if sketch not in (*first, *after)]
    opening, closing = questions(library, procedure)
    return (*first, *opening, *with_counts(body, counts_called(library, outline(procedure))), *after, *closing)


def _aspects(view: ProcedureView, renderer: Renderer) -> dict[str, float]:
    """Return the width of each figure by its height; the typesetter is asked for it."""
    paths = [figure.path for part in (view, *every_block(view.blocks)) for figure in getattr(part, "figures", ())]
    if not paths:
        return {}
    rows = [{"path": path, "id": f"picture-{at}"} for at, path in enumerate(paths)]
    html = renderer.render("slides/slide_measure.html.j2", rows=rows, width=_MEASURED_PT)
    spots = {name: top for page in renderer.measure(html) for name, top in page.items()}
    heights = [(spots[f"{row['id']}-end"] - spots[row["id"]]) * 72 / 25.4 for row in rows]
    return {
        path: round(_MEASURED_PT / height, 3) if height > 0 else 1.0
        for path, height in zip(paths, heights, strict=True)
    }


def _bridged(material: Sequence[Slide], ids: AbstractSet[str]) -> Iterator[Slide]:
    """Yield the sketches that are shown; notes say which steps are passed over before them, or after the last."""
    last = [sketch.id for sketch in material if sketch.id in ids][-1:]
    passed: list[str] = []
    for at, sketch in enumerate(material):
        if sketch.id not in ids:
            passed.extend(_marks([sketch]))
            continue
        after = [mark for mark in _marks(material[at + 1 :]) if sketch.id in last]
        over = (
            SlidePart(gettext("Not shown before this"), stopped(step_words(passed))),
            SlidePart(gettext("Not shown after this"), stopped(step_words(after))),
        )
        yield replace(sketch, say=_POINTING.sub("", sketch.say), asides=filled(*over, *sketch.asides))
        passed = []


def _marks(sketches: Sequence[Slide]) -> list[str]:
    return [sketch.mark for sketch in sketches if sketch.kind in ("step", "step-figure")]


def _candidates(procedure: Procedure, material: Sequence[Slide], minutes: int) -> Iterator[SlideCandidate]:
    """Yield every slide as what may be chosen. Raises Refused where words fit on no slide."""
    for sketch in material:
        extra = TURN_SECONDS * (len(set_slides(procedure, sketch)) - 1)
        is_first = sketch.kind == "map" or (bool(sketch.picture) and sketch.critical and minutes >= WITH_FIGURES)
        worth = _SHOWN.get(sketch.kind, 0) + _SIGNAL.get(sketch.signal, 0) + _CRITICAL * sketch.critical
        if sketch.id.startswith("dose-"):
            worth = _SIGNAL["danger"]
        seconds, is_head = seconds_of(sketch) + extra, sketch.kind in _HEADS
        yield SlideCandidate(sketch.id, sketch.block, seconds, worth + _FIRST * is_first, is_head)

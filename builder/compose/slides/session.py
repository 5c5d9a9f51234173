"""A talk cut to a session of 10, 20 or 40 minutes: what is shown, what is said of it, and how long each slide takes.

Critical steps, dangers, choices and counts are always there, in few words where time is short; the rest is chosen by
weight. A teaching slot speaks of a step and does not last as long as the step: a slide takes the time of its words, of
looking at its figure, and of the room's answer. What a step takes in theatre only adds to what its full text is worth.
At least a tenth of the slot is kept for questions.
"""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from math import ceil

from builder.compose.document import Renderer
from builder.compose.knapsack import Bundle, Candidate, best_choice
from builder.compose.slides import LENGTHS
from builder.compose.slides.slide import Deck, Sketch
from builder.compose.slides.slide_deck import TURN_SECONDS, Said, deck_of, seconds_of, too_long
from builder.compose.slides.slide_layout import TooLong, slides_of
from builder.compose.slides.slide_text import without_pointing
from builder.compose.slides.slides import material_of
from builder.facts.remembered import once_per_library
from builder.findings.finding import Finding, Refused, SecondPlace
from builder.findings.message_words import quoted
from builder.findings.register import finding
from builder.grouping import grouped
from builder.model.library import Library
from builder.model.pages import Procedure

QUESTIONS_SHARE = 0.1
"""Of the slot, kept for questions at the end: a minute in ten at least (common practice)."""
_ENDS = 25.0  # seconds kept for the slides of title and sources before it is known how many sources there are
_TRIES = 6
_LONGEST = 4
# What a slide is worth when not all fit. Common practice, ours to set: what protects the patient now comes first.
_SHOWN = {
    "stop": 40, "checklist": 40, "list": 20, "step": 35, "step-figure": 45, "figure": 20, "statement": 15,
    "question": 22, "answer": 0, "choice": 30,
}  # fmt: skip
_CAUTION = {"danger": 60, "warning": 30, "caution": 18, "notice": 8}
_SAID = {"stop": 10, "caution": 12, "step": 15, "step-figure": 15, "choice": 12, "statement": 10, "list": 6}
_CRITICAL = 4  # how many times more the full text of a critical step is worth than that of another
_MOST_FOR_MINUTES = 15
_HEADS = ("step", "step-figure", "choice", "question", "answer")
"""Nothing of a bundle stands without these."""
_STEPS_A_SECOND = 2
ABSENT, SHORT, FULL = 0, 1, 2


@dataclass(frozen=True, slots=True)
class SlideForm:
    """A way to show a slide: its ``level`` (SHORT or FULL), the ``seconds`` it takes, what it is ``worth``."""

    level: int
    seconds: float
    worth: int


@dataclass(frozen=True, slots=True)
class SlideCandidate:
    """A slide that may be chosen: its forms, the shorter first; ``must`` be there; ``head``: nothing of its bundle
    stands without it."""

    id: str
    bundle: str
    forms: tuple[SlideForm, ...]
    must: bool = False
    head: bool = False


@dataclass(frozen=True, slots=True)
class Session:
    """A session of ``minutes``: its deck, the ``seconds`` that the talk takes and those left for ``questions``.

    ``levels`` says of each slide by id how much is said; ``left_out`` are slides that are not shown, ``short`` those of
    which less is said.
    """

    minutes: int
    deck: Deck
    levels: Mapping[str, int]
    sketches: Mapping[str, Sketch]
    seconds: float
    questions: float
    left_out: tuple[Sketch, ...]
    short: tuple[Sketch, ...]

    @property
    def whole(self) -> bool:
        """Tell whether every slide is shown and all of it said."""
        return not self.left_out and not self.short


@once_per_library  # its slides and its plan are made of it
def session_of(library: Library, procedure: Procedure, renderer: Renderer, minutes: int) -> Session:
    """Return the session of ``minutes``, one of LENGTHS; it contains those that are shorter.

    Raises Refused, by how many minutes, where what must be said is too long for it.
    """
    cutter = _Cutter(library, procedure, material_of(library, procedure, renderer))
    least: Mapping[str, int] = {}
    for length in LENGTHS:
        try:
            session = cutter.cut(length, least)
        except Refused:
            if length == minutes:
                raise
            continue  # a session that is too short for this procedure is nobody's part
        if length == minutes:
            return session
        least = session.levels
    raise ValueError(f"{minutes} is not one of {LENGTHS}")


class _Cutter:
    """Cuts the talk on one procedure, whose sketches are ``material``."""

    def __init__(self, library: Library, procedure: Procedure, material: Sequence[Sketch]) -> None:
        self.library = library
        self.procedure = procedure
        self.material = material
        self.candidates = tuple(_candidates(procedure, material))

    def cut(self, minutes: int, least: Mapping[str, int]) -> Session:
        """Return the session of ``minutes``, in which no slide is below its level in ``least``."""
        needed = least_seconds(self.candidates)
        room = minutes * 60 * (1 - QUESTIONS_SHARE) - _ENDS
        over = needed - room
        for _ in range(_TRIES):
            if needed > room:
                break
            session = self._session(chosen(self.candidates, room, least), minutes)
            over = minutes * 60 * QUESTIONS_SHARE - session.questions
            if over <= 0:
                return session
            # Slides of sources and abbreviations that are spelt out here took longer than was kept for them.
            room -= over + 1
        raise Refused(_too_long(self.procedure, self.candidates, minutes, over))

    def _session(self, levels: Mapping[str, int], minutes: int) -> Session:
        shown = [sketch for sketch in self.material if sketch.id in levels]
        said = [Said(_told(sketch), full=levels[sketch.id] == FULL) for sketch in shown]
        deck = deck_of(self.library, self.procedure, said, f"A session of {minutes} minutes.")
        seconds = sum(slide.seconds for slide in deck.slides)
        return Session(
            minutes=minutes,
            deck=deck,
            levels=levels,
            sketches={sketch.id: sketch for sketch in self.material},
            seconds=seconds,
            questions=minutes * 60 - seconds,
            left_out=tuple(sketch for sketch in self.material if sketch.id not in levels),
            short=tuple(sketch for sketch in shown if levels[sketch.id] == SHORT and _has_more(sketch)),
        )


def _told(sketch: Sketch) -> Sketch:
    """Return ``sketch`` without words that point at slides which may not be shown."""
    speech = sketch.speech
    told = replace(speech, short=without_pointing(speech.short), full=without_pointing(speech.full))
    return replace(sketch, speech=told)


def _candidates(procedure: Procedure, material: Sequence[Sketch]) -> Iterator[SlideCandidate]:
    """Yield every slide as what may be chosen. Raises Refused where words fit on no slide."""
    minutes = {f"step-{step.id}": float(step.minutes or 0) for step in procedure.steps.values()}
    for sketch in material:
        try:
            extra = TURN_SECONDS * (len(slides_of(sketch)) - 1)
        except TooLong as error:
            raise Refused(too_long(procedure, error)) from error
        shown, said = _worth(sketch, minutes.get(sketch.block, 0.0))
        forms = [
            SlideForm(SHORT, seconds_of(sketch, full=False) + extra, shown),
            SlideForm(FULL, seconds_of(sketch, full=True) + extra, shown + said),
        ]
        if sketch.kind in ("question", "answer"):
            forms = forms[1:]  # a question that nobody has time to answer is none
        elif not _has_more(sketch):
            forms = forms[:1]
        yield SlideCandidate(sketch.id, sketch.block, tuple(forms), _must(sketch), sketch.kind in _HEADS)


def _must(sketch: Sketch) -> bool:
    """Tell whether ``sketch`` stands in every session: critical steps, dangers, choices and counts."""
    if sketch.kind in ("step", "step-figure"):
        return sketch.critical or sketch.signal == "danger"
    return sketch.signal == "danger" or sketch.kind == "choice" or sketch.id == "counts"


def _has_more(sketch: Sketch) -> bool:
    speech = sketch.speech
    return bool(speech.wait) or bool(speech.full and speech.full != speech.short)


def _worth(sketch: Sketch, minutes: float) -> tuple[int, int]:
    """Return what it is worth to show ``sketch``, and what more it is worth to say all of it."""
    if sketch.kind == "caution":
        return _CAUTION[sketch.signal], _SAID["caution"]
    shown = _SHOWN[sketch.kind]
    if sketch.id.startswith("dose-"):
        shown = _CAUTION["danger"]
    elif sketch.kind in ("stop", "figure") and not sketch.critical:
        shown //= 2
    said = _SAID.get(sketch.kind, 5)
    if sketch.kind in ("step", "step-figure"):
        said = said * (_CRITICAL if sketch.critical else 1) + int(min(minutes, _MOST_FOR_MINUTES))
    return shown, said


def _too_long(procedure: Procedure, candidates: Sequence[SlideCandidate], minutes: int, over: float) -> Finding:
    steps = {f"step-{step.id}": step for step in procedure.steps.values()}
    must = [slide for slide in candidates if slide.must and slide.id in steps]
    longest = sorted(must, key=lambda slide: (-slide.forms[0].seconds, slide.id))[:_LONGEST]
    also = tuple(
        SecondPlace(steps[slide.id].title.at, f"{slide.forms[0].seconds:.0f} seconds: {steps[slide.id].title}")
        for slide in longest
    )
    longer = next((length for length in LENGTHS if length > minutes), None)
    return finding("session-too-short", procedure.id.at,
        f"{quoted(procedure.title)} does not fit into {minutes} minutes: its critical steps, dangers, choices and "
        f"counts, said in the fewest words, are {max(0.1, over / 60):.1f} minutes too long",
        f"Choose --session {longer}, or shorten titles and cues of critical steps." if longer else
        "Shorten titles and cues of critical steps, or part the procedure in two.",
        also,
    )  # fmt: skip


# The most valuable slides that fit, exactly: a knapsack over half seconds. Nothing of a bundle (a step with its figure,
# cautions and stop point) stands without its head. What a shorter session holds is given as ``least`` to the longer
# one, so that the longer contains the shorter by construction.


def least_seconds(slides: Sequence[SlideCandidate]) -> float:
    """Return how long the slides take that must be there, in their shortest form."""
    bundles = {slide.bundle for slide in slides if slide.must}
    needed = (slide for slide in slides if slide.must or (slide.head and slide.bundle in bundles))
    return sum(_steps(slide.forms[0].seconds) for slide in needed) / _STEPS_A_SECOND


def chosen(slides: Sequence[SlideCandidate], seconds: float, least: Mapping[str, int]) -> dict[str, int]:
    """Return the level of each slide that stands, by id, in the order of ``slides``.

    What must be there fits (``least_seconds``). ``least`` holds levels that may not be undercut.
    """
    held = {slide.id: _held(slide, least.get(slide.id, ABSENT)) for slide in slides}
    bundles = grouped((slide.bundle, slide) for slide in held.values())
    choice = best_choice([_bundle(here) for here in bundles.values()], int(seconds * _STEPS_A_SECOND))
    return {id: held[id].forms[form].level for id, form in choice.items()}


def _bundle(slides: Sequence[SlideCandidate]) -> Bundle:
    candidates = (
        Candidate(slide.id, tuple((_steps(form.seconds), form.worth) for form in slide.forms), slide.must or slide.head)
        for slide in slides
    )
    return Bundle(0, any(slide.must for slide in slides), tuple(candidates))


def _held(slide: SlideCandidate, level: int) -> SlideCandidate:
    """Return ``slide`` without the forms below ``level``, at which it stands already."""
    if level == ABSENT:
        return slide
    return replace(slide, forms=tuple(form for form in slide.forms if form.level >= level), must=True)


def _steps(seconds: float) -> int:
    """Return ``seconds`` in half seconds, rounded up, so that a sum never promises time that is not there."""
    return ceil(seconds * _STEPS_A_SECOND - 1e-9)

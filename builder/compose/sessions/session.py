"""A talk cut to a session of 10, 20 or 40 minutes: what is shown, what is said of it, and how long each slide takes.

Critical steps, dangers, choices and counts are always there, in few words where time is short; the rest is chosen by
weight. A teaching slot speaks of a step and does not last as long as the step: a slide takes the time of its words, of
looking at its figure, and of the room's answer. What a step takes in theatre only adds to what its full text is worth.
At least a tenth of the slot is kept for questions.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

from builder.compose.render import Renderer
from builder.compose.sessions import LENGTHS
from builder.compose.sessions.session_fit import FULL, SHORT, SlideCandidate, SlideForm, chosen, least_seconds
from builder.compose.slides.slide import Deck, Sketch
from builder.compose.slides.slide_deck import TURN_SECONDS, Said, deck_of, seconds_of, too_long
from builder.compose.slides.slide_layout import TooLong, slides_of
from builder.compose.slides.slide_words import without_pointing
from builder.compose.slides.slides import Material, material_of
from builder.findings.finding import Finding, Refused, SecondPlace
from builder.findings.message_words import quoted
from builder.findings.register import finding
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


def session_of(library: Library, procedure: Procedure, renderer: Renderer, minutes: int) -> Session:
    """Return the session of ``minutes``, one of LENGTHS; it contains those that are shorter.

    Raises Refused, by how many minutes, where what must be said is too long for it.
    """
    material = material_of(library, procedure, renderer)
    items = tuple(_items(procedure, material))
    least: dict[str, int] = {}
    made: Session | None = None
    for length in (one for one in LENGTHS if one <= minutes):
        try:
            made = _cut(library, procedure, material, items, (length, least))
        except Refused:
            if length == minutes:
                raise
            continue  # a session that is too short for this procedure is nobody's part
        least = dict(made.levels)
    if made is None:
        raise ValueError(f"{minutes} is not one of {LENGTHS}")
    return made


def _room(minutes: int) -> float:
    return minutes * 60 * (1 - QUESTIONS_SHARE) - _ENDS


def _cut(
    library: Library,
    procedure: Procedure,
    material: Material,
    items: Sequence[SlideCandidate],
    of: tuple[int, Mapping[str, int]],
) -> Session:
    minutes, least = of
    needed = least_seconds(items)
    room = _room(minutes)
    if needed > room:
        raise Refused(_too_long(procedure, items, minutes, needed - room))
    over = 0.0
    for _ in range(_TRIES):
        levels = chosen(items, room, least)
        session = _session(library, procedure, material, levels, minutes)
        over = minutes * 60 * QUESTIONS_SHARE - session.questions
        if over <= 0:
            return session
        # Slides of sources and abbreviations that are spelt out here took longer than was kept for them.
        room -= over + 1
        if needed > room:
            break
    raise Refused(_too_long(procedure, items, minutes, over))


def _session(
    library: Library, procedure: Procedure, material: Material, levels: Mapping[str, int], minutes: int
) -> Session:
    said = [Said(_told(sketch), full=levels[sketch.id] == FULL) for sketch in material.all if sketch.id in levels]
    about = (f"A session of {minutes} minutes.",)
    deck = deck_of(library, procedure, said, about)
    seconds = sum(slide.seconds for slide in deck.slides)
    return Session(
        minutes=minutes,
        deck=deck,
        levels=levels,
        sketches={sketch.id: sketch for sketch in material.all},
        seconds=seconds,
        questions=minutes * 60 - seconds,
        left_out=tuple(one for one in material.all if one.id not in levels),
        short=tuple(one for one in material.all if levels.get(one.id) == SHORT and _has_more(one)),
    )


def _told(sketch: Sketch) -> Sketch:
    """Return ``sketch`` without words that point at slides which may not be shown."""
    speech = sketch.speech
    told = replace(speech, short=without_pointing(speech.short), full=without_pointing(speech.full))
    return replace(sketch, speech=told)


def _items(procedure: Procedure, material: Material) -> Iterator[SlideCandidate]:
    """Yield every slide as what may be chosen. Raises Refused where words fit on no slide."""
    minutes = {f"step-{step.id}": float(step.minutes or 0) for step in procedure.steps.values()}
    counts = {one.id for one in material.counts}
    for sketch in material.all:
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
        yield SlideCandidate(sketch.id, sketch.block, tuple(forms), _must(sketch, counts), head=_is_head(sketch))


def _must(sketch: Sketch, counts: set[str]) -> bool:
    """Tell whether ``sketch`` stands in every session: critical steps, dangers, choices and counts."""
    if sketch.kind in ("step", "step-figure"):
        return sketch.critical or sketch.signal == "danger"
    return sketch.signal == "danger" or sketch.kind == "choice" or sketch.id in counts


def _is_head(sketch: Sketch) -> bool:
    """Tell whether nothing of its bundle stands without ``sketch``: a step, a choice, a question and its answer."""
    return sketch.kind in ("step", "step-figure", "choice", "question", "answer")


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


def _too_long(procedure: Procedure, items: Sequence[SlideCandidate], minutes: int, over: float) -> Finding:
    steps = {f"step-{step.id}": step for step in procedure.steps.values()}
    must = [item for item in items if item.must and item.id in steps]
    longest = sorted(must, key=lambda item: (-item.forms[0].seconds, item.id))[:_LONGEST]
    also = tuple(
        SecondPlace(steps[item.id].title.at, f"{item.forms[0].seconds:.0f} seconds: {steps[item.id].title}")
        for item in longest
    )
    longer = next((one for one in LENGTHS if one > minutes), None)
    return finding("session-too-short", procedure.id.at,
        f"{quoted(procedure.title)} does not fit into {minutes} minutes: its critical steps, dangers, choices and "
        f"counts, said in the fewest words, are {max(0.1, over / 60):.1f} minutes too long",
        f"Choose --session {longer}, or shorten titles and cues of critical steps." if longer else
        "Shorten titles and cues of critical steps, or part the procedure in two.",
        also,
    )  # fmt: skip

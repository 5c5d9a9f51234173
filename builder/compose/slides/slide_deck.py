"""Puts sketches together to a deck: sources numbered, abbreviations spelt out, timed, set, every title once."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import replace
from typing import NamedTuple

from builder.compose.card.card_sources import short_sources
from builder.compose.slides.slide import Cite, Deck, Sketch, Slide, SlidePart, SpeakerNote, Speech
from builder.compose.slides.slide_layout import TooLong, slides_of
from builder.compose.slides.slide_type import runs, width_of, words_in
from builder.compose.slides.slide_words import joined, plain_signs
from builder.compose.view.paper_musts import READ_BACK_SHORT
from builder.compose.view.procedure_view import is_overdue
from builder.compose.view.rendered_prose import plain
from builder.compose.view.spelling import Speller
from builder.compose.view.words import STATUS_MARKS, USUAL_CAUTION, day
from builder.findings.finding import Finding, Refused
from builder.findings.message_words import quoted
from builder.findings.register import finding
from builder.model.library import Library
from builder.model.pages import Procedure
from builder.model.styles.registry import format_in

WORDS_A_MINUTE = 130
"""How fast a teacher speaks to a room (common practice)."""
TURN_SECONDS = 3.0
"""For a new slide to be taken in; a figure takes longer."""
FIGURE_SECONDS = 8.0
BREATH_SECONDS = 3.0
_RUNNING_ROOM = 190.0
_SOURCE_WORDS, _SOURCE_LINES = 30, 9


class Said(NamedTuple):
    """A sketch that was chosen, and whether all of it is said or only what must be."""

    sketch: Sketch
    full: bool


def seconds_of(sketch: Sketch, *, full: bool) -> float:
    """Return how long the slide of ``sketch`` takes: turned to, looked at, said, answered by the room.

    Where less is said, the teacher asks and answers after a breath.
    """
    text = sketch.speech.full if full and sketch.speech.full else sketch.speech.short
    looking = FIGURE_SECONDS if sketch.picture else 0.0
    asking = words_in(sketch.speech.prompt) * 60 / WORDS_A_MINUTE
    waiting = sketch.speech.wait if full else min(BREATH_SECONDS, sketch.speech.wait)
    return TURN_SECONDS + looking + words_in(text) * 60 / WORDS_A_MINUTE + asking + waiting


def title_sketch(library: Library, procedure: Procedure, about: Sequence[str] = ()) -> Sketch:
    """Return the first slide: ``about`` says more of this talk, such as its length."""
    due = f"Review by {day(procedure.review_by)}" if procedure.review_by else "Review day not set"
    facts = (f"Edition {procedure.edition}, {procedure.status.value}. {due}.", " ".join((*about, READ_BACK_SHORT)))
    return Sketch(
        "title", "title", "title", procedure.title, Speech(joined(procedure.title, USUAL_CAUTION)),
        library.department.name,
        parts=(
            *(SlidePart("fact", one) for one in facts),
            SlidePart("usual", USUAL_CAUTION),
        ),
        asides=(SpeakerNote("Owner", f"{procedure.owner.name}, {procedure.owner.role}."),),
    )  # fmt: skip


def deck_of(library: Library, procedure: Procedure, said: Sequence[Said], about: Sequence[str] = ()) -> Deck:
    """Return the deck of the sketches ``said``, between a title slide and the slides of sources.

    Raises Refused where words fit on no slide.
    """
    numbers = _numbered(library, said)
    first = Said(title_sketch(library, procedure, about), full=True)
    last = [Said(one, full=True) for one in _sources(library, numbers)]
    speller = Speller(library.terms)
    slides: list[Slide] = []
    titles: dict[str, int] = {}
    clock = 0.0
    for one in (first, *said, *last):
        sketch = _unique(_spelt(one.sketch, speller), titles)
        try:
            made = slides_of(sketch)
        except TooLong as error:
            raise Refused(too_long(procedure, error)) from error
        seconds = seconds_of(sketch, full=one.full)
        notes = _notes(sketch, one.full, numbers, clock)
        slides.append(replace(made[0], notes=notes, seconds=seconds))
        clock += seconds
        for more in made[1:]:
            # What is said of a slide is said before it is parted; the further slide is only turned to.
            notes = (
                SpeakerNote("Say", "Go on from the slide before."),
                SpeakerNote("Time", _clock_words(TURN_SECONDS, clock)),
            )
            slides.append(replace(more, notes=notes, seconds=TURN_SECONDS))
            clock += TURN_SECONDS
    mark = _mark(library, procedure)
    edition = f"Edition {procedure.edition}"
    running = edition if width_of(edition, 24) <= _RUNNING_ROOM else ""
    return Deck(
        title=procedure.title,
        department=library.department.name,
        owner=f"{procedure.owner.name}, {procedure.owner.role}",
        language=library.department.language,
        edition=procedure.edition,
        day=library.today.isoformat(),
        mark=mark,
        running=running,
        slides=tuple(slides),
    )


def _mark(library: Library, procedure: Procedure) -> str:
    """Return what stands on every slide that is not approved and current; the day stands on the first."""
    overdue = "Review overdue" if is_overdue(library, procedure) else ""
    return ". ".join(part for part in (STATUS_MARKS[procedure.status], overdue) if part)


def _numbered(library: Library, said: Iterable[Said]) -> dict[str, int]:
    """Return the number of each source by its key: by first appearance in this deck."""
    keys = dict.fromkeys(cite.key for one in said for cite in one.sketch.backing if cite.key in library.sources)
    return {key: number for number, key in enumerate(keys, start=1)}


def _sources(library: Library, numbers: dict[str, int]) -> Iterator[Sketch]:
    short = short_sources(library.sources, numbers)
    style = library.department.style
    lines = [f"{numbers[key]}\t{short[key]}\t{key}" for key in numbers]
    chunks = [run[at : at + _SOURCE_LINES] for run in runs(lines, _SOURCE_WORDS) for at in range(0, len(run), 9)]
    for turn, chunk in enumerate(chunks):
        rows = [line.split("\t") for line in chunk]
        title = "What this talk rests on" + (f" ({turn + 1})" if turn else "")
        yield Sketch(
            "sources", f"sources-{turn + 1}", "sources", title,
            Speech("The full list is in the notes and in the handout." if turn == 0 else title), "Sources",
            parts=tuple(SlidePart("source", name, number, key) for number, name, key in rows),
            asides=tuple(
                SpeakerNote(f"Source {number}", plain(format_in(style, library.sources[key]).html))
                for number, _, key in rows
            ),
        )  # fmt: skip


def _spelt(sketch: Sketch, speller: Speller) -> Sketch:
    """Return ``sketch`` with abbreviations spelt out where the deck uses them first: on a slide, else in its notes."""

    def spelt(text: str) -> str:
        return speller.text(plain_signs(text))

    title = spelt(sketch.title)
    parts = tuple(replace(part, text=spelt(part.text), label=plain_signs(part.label)) for part in sketch.parts)
    speech = sketch.speech
    spoken = replace(speech, short=spelt(speech.short), full=spelt(speech.full), prompt=spelt(speech.prompt))
    spell = plain_signs if sketch.kind == "sources" else spelt  # the title of a source is what its authors wrote
    asides = tuple(replace(one, text=spell(one.text)) for one in sketch.asides)
    eyebrow = plain_signs(sketch.eyebrow)
    return replace(sketch, title=title, parts=parts, speech=spoken, asides=asides, eyebrow=eyebrow)


def _unique(sketch: Sketch, titles: dict[str, int]) -> Sketch:
    """Return ``sketch`` with a title that no slide before has: a list of slides by title must tell them apart."""
    turn = titles[sketch.title] = titles.get(sketch.title, 0) + 1
    if turn == 1:
        return sketch
    told = f"{sketch.title} ({sketch.eyebrow.partition(',')[0].lower()})" if sketch.mark else sketch.title
    if told in titles or told == sketch.title:
        told = f"{sketch.title} ({turn})"
    titles[told] = 1
    return replace(sketch, title=told)


def _notes(sketch: Sketch, full: bool, numbers: dict[str, int], clock: float) -> tuple[SpeakerNote, ...]:
    speech = sketch.speech
    say = speech.full if full and speech.full else speech.short
    rest = speech.full if not full and speech.full and speech.full != speech.short else ""
    seconds = seconds_of(sketch, full=full)
    sources = "; ".join(_cited(cite, numbers) for cite in sketch.backing if cite.key in numbers)
    backing = f"{sources}." if sources else "Common practice." if sketch.practice else ""
    notes = (
        SpeakerNote("Say", say),
        SpeakerNote("Ask", f"{speech.prompt} {_waiting(sketch, full)}" if speech.prompt else ""),
        SpeakerNote("If there is time", rest),
        *sketch.asides,
        SpeakerNote("Sources", backing),
        SpeakerNote("Time", _clock_words(seconds, clock)),
    )
    return tuple(one for one in notes if one.text)


def _waiting(sketch: Sketch, full: bool) -> str:
    return (
        f"(Wait about {sketch.speech.wait:.0f} seconds.)" if full else "(There is no time to wait: answer it yourself.)"
    )


def _cited(cite: Cite, numbers: dict[str, int]) -> str:
    return f"{numbers[cite.key]} ({cite.locator})" if cite.locator else str(numbers[cite.key])


def _clock_words(seconds: float, clock: float) -> str:
    return f"About {max(1, round(seconds))} seconds, from {clock_of(clock)}."


def clock_of(seconds: float) -> str:
    """Return a time into the talk as minutes and seconds: ``12:05``."""
    whole = int(seconds)
    return f"{whole // 60}:{whole % 60:02d}"


def too_long(procedure: Procedure, error: TooLong) -> Finding:
    """Return what to say where words fit on no slide, at the step or caution that they belong to."""
    places = {str(step.id): step.title.at for step in procedure.steps.values()}
    places |= {f"caution-{one.id}": one.hazard.at for one in procedure.cautions.values()}
    at = next((place for id, place in places.items() if id in error.id), procedure.title.at)
    return finding(
        "too-long-for-a-slide",
        at,
        message=f"{quoted(error.text[:80])} fits on no slide in type of 24 pt. Write it in shorter sentences.",
        hint="Part the sentence in two, or say the rest in the text of the step: it is spoken, not shown.",
    )

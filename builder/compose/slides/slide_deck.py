"""Puts sketches together to a deck: sources numbered, abbreviations spelt out, timed, set, every title once."""

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import replace

from builder.compose.slides.slide import Deck, Sketch, Slide, SlidePart, SpeakerNote, Speech, filled
from builder.compose.slides.slide_layout import LEFT, RIGHT, TooLong, slides_of
from builder.compose.slides.slide_text import joined, kept_together, lines_of, plain_signs, width_of, words_in
from builder.compose.view.head import Head, head_of, paper_mark
from builder.compose.view.rendered_prose import short_sources
from builder.compose.view.words import Speller, clock, plain
from builder.findings.finding import Finding, Refused
from builder.findings.message_words import quoted
from builder.findings.register import finding
from builder.load.program_words import gettext
from builder.model.library import Library
from builder.model.pages import Procedure
from builder.model.styles.registry import format_in

WORDS_A_MINUTE = 130
"""How fast a teacher speaks to a room (common practice)."""
TURN_SECONDS = 3.0
"""For a new slide to be taken in; a figure takes longer."""
FIGURE_SECONDS = 8.0
POINTING_SECONDS = 2.0
_RUNNING_ROOM = 190.0
_SOURCE_LINES = 11


def seconds_of(sketch: Sketch) -> float:
    """Return how long the slide of ``sketch`` takes: turned to, looked at, said, answered by the room.

    Each thing that a figure names is pointed at.
    """
    looking = FIGURE_SECONDS if sketch.picture else 0.0
    pointing = POINTING_SECONDS * len(sketch.parts_of("legend"))
    words = words_in(sketch.speech.text) + words_in(sketch.speech.prompt)
    return TURN_SECONDS + looking + pointing + words * 60 / WORDS_A_MINUTE + sketch.speech.wait


def _title_sketch(head: Head, about: str) -> Sketch:
    due = gettext("Review by %(day)s", day=head.due) if head.due else gettext("Review day not set")
    facts = (
        gettext("Edition %(edition)s, %(status)s. %(due)s.", edition=head.edition, status=head.status, due=due),
        *((about,) if about else ()),
    )
    return Sketch(
        "title", "title", "title", head.title, Speech(joined(head.title, head.usual_caution)), head.department,
        parts=(*(SlidePart("fact", fact) for fact in facts), SlidePart("usual", head.usual_caution)),
        asides=(SpeakerNote(gettext("Owner"), f"{head.owner}."),),
    )  # fmt: skip


def deck_of(library: Library, procedure: Procedure, shown: Sequence[Sketch], about: str = "") -> Deck:
    """Return the deck of the sketches ``shown``, between a title slide and the slides of sources.

    ``about`` says more of this talk, such as its length. Raises Refused where words fit on no slide.
    """
    head = head_of(library, procedure)
    numbers = _numbered(library, shown)
    edition = gettext("Edition %(edition)s", edition=procedure.edition)
    return Deck(
        title=procedure.title,
        department=head.department,
        owner=head.owner,
        language=head.language,
        edition=procedure.edition,
        day=max((approval.on.isoformat() for approval in procedure.approval), default=""),
        mark=paper_mark(library, procedure, dated=False),  # the day stands on the first slide
        running=edition if width_of(edition, 24) <= _RUNNING_ROOM else "",
        slides=tuple(
            _slides(
                (_title_sketch(head, about), *shown, *_sources(library, numbers)),
                procedure, numbers, Speller(library.terms),
            )
        ),
    )  # fmt: skip


def _slides(
    sketches: Iterable[Sketch], procedure: Procedure, numbers: Mapping[str, int], speller: Speller
) -> Iterator[Slide]:
    titles: dict[str, int] = {}
    begins = 0.0
    for sketch in sketches:
        told = _unique(_spelt(sketch, speller), titles)
        try:
            slide, *further = slides_of(told)
        except TooLong as error:
            raise Refused(too_long(procedure, error)) from error
        seconds = seconds_of(told)
        yield replace(slide, notes=_notes(told, numbers, begins), seconds=seconds)
        begins += seconds
        for slide in further:
            # What is said of a slide is said before it is parted; the further slide is only turned to.
            time = SpeakerNote(gettext("Time"), _clock_words(TURN_SECONDS, begins))
            notes = (SpeakerNote(gettext("Say"), gettext("Go on from the slide before.")), time)
            yield replace(slide, notes=notes, seconds=TURN_SECONDS)
            begins += TURN_SECONDS


def _numbered(library: Library, sketches: Iterable[Sketch]) -> dict[str, int]:
    """Return the number of each source by its key: by first appearance in this deck."""
    keys = dict.fromkeys(cite.key for sketch in sketches for cite in sketch.backing if cite.key in library.sources)
    return {key: number for number, key in enumerate(keys, start=1)}


def _sources(library: Library, numbers: Mapping[str, int]) -> Iterator[Sketch]:
    """Yield the slides of sources, which follow one another as words of a paragraph."""
    short = short_sources(library.sources, numbers)
    style = library.department.style
    pages: list[str] = []
    for key in numbers:
        named = f"{numbers[key]}\xa0{short[key]}"
        longer = f"{pages[-1]}; {named}" if pages else named
        if pages and lines_of(longer, 24, RIGHT - LEFT) <= _SOURCE_LINES:
            pages[-1] = longer
        else:
            pages.append(named)
    for turn, page in enumerate(pages):
        title = gettext("What this talk rests on") + (f" ({turn + 1})" if turn else "")
        told = (plain(format_in(style, library.sources[key]).html) for key in numbers)
        notes = (
            SpeakerNote(gettext("Source %(number)s", number=number), text)
            for number, text in zip(numbers.values(), told, strict=True)
        )
        yield Sketch(
            "sources", f"sources-{turn + 1}", "sources", title,
            Speech(title if turn else gettext("The full list is in the notes and in the handout.")), gettext("Sources"),
            parts=(SlidePart("source", page),), asides=() if turn else tuple(notes),
        )  # fmt: skip


def _spelt(sketch: Sketch, speller: Speller) -> Sketch:
    """Return ``sketch`` with abbreviations spelt out where the deck uses them first: on a slide, else in its notes."""

    def spelt(text: str) -> str:
        return speller.text(plain_signs(text))

    speech = sketch.speech
    spell = plain_signs if sketch.kind == "sources" else spelt  # the title of a source is what its authors wrote
    return replace(
        sketch,
        eyebrow=plain_signs(sketch.eyebrow),
        title=spelt(sketch.title),
        parts=tuple(
            replace(part, text=kept_together(spelt(part.text)), label=plain_signs(part.label)) for part in sketch.parts
        ),
        speech=replace(speech, text=spelt(speech.text), prompt=spelt(speech.prompt)),
        asides=tuple(replace(note, text=spell(note.text)) for note in sketch.asides),
    )


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


def _notes(sketch: Sketch, numbers: Mapping[str, int], begins: float) -> tuple[SpeakerNote, ...]:
    speech = sketch.speech
    cites = [(numbers[cite.key], cite.locator) for cite in sketch.backing if cite.key in numbers]
    sources = "; ".join(f"{number} ({locator})" if locator else str(number) for number, locator in cites)
    backing = f"{sources}." if sources else gettext("Common practice.") if sketch.practice else ""
    return filled(
        SpeakerNote(gettext("Say"), speech.text),
        SpeakerNote(
            gettext("Ask"),
            speech.prompt
            and gettext("%(prompt)s (Wait about %(wait)s seconds.)", prompt=speech.prompt, wait=f"{speech.wait:.0f}"),
        ),
        SpeakerNote(gettext("Answer"), speech.answer),
        *sketch.asides,
        SpeakerNote(gettext("Sources"), backing),
        SpeakerNote(gettext("Time"), _clock_words(seconds_of(sketch), begins)),
    )


def _clock_words(seconds: float, begins: float) -> str:
    return gettext(
        "About %(seconds)s seconds, from %(clock)s.", seconds=max(1, round(seconds)), clock=clock(int(begins))
    )


def too_long(procedure: Procedure, error: TooLong) -> Finding:
    """Return what to say where words fit on no slide, at the step or caution that they belong to."""
    places = {str(step.id): step.title.at for step in procedure.steps.values()}
    places |= {f"caution-{caution.id}": caution.hazard.at for caution in procedure.cautions.values()}
    at = next((place for id, place in places.items() if id in error.id), procedure.title.at)
    return finding(
        "too-long-for-a-slide",
        at,
        message=f"{quoted(error.text[:80])} does not fit on a slide in type of 24 pt",
        hint="Split the sentence in two, or say the rest in the text of the step: it is spoken, not shown.",
    )

"""Puts sketches together to a deck: sources numbered, abbreviations spelt out, timed, set, every title once."""

import re
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import replace

from builder.compose.slides.slide import Cite, Deck, Slide, SlidePart, filled
from builder.compose.slides.slide_layout import TooLong, on_few, slides_of
from builder.compose.slides.slide_text import joined, plain_signs, width_of, words_in
from builder.compose.view.head import Head, head_of, paper_mark
from builder.compose.view.rendered_prose import short_sources
from builder.compose.view.words import Speller, clock, plain
from builder.findings.finding import Finding, Refused
from builder.findings.message_words import quoted
from builder.findings.register import finding
from builder.load.program_words import gettext, ngettext
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
_UNIT = re.compile(r"(?<=\d) (?=(?:[mc]m|m?L|m?g|kg|h|Fr|%)(?!\w))")  # stands on the line of its number


def seconds_of(sketch: Slide) -> float:
    """Return how long the slide of ``sketch`` takes: turned to, looked at, said, answered by the room.

    Each thing that a figure names is pointed at.
    """
    looking = FIGURE_SECONDS if sketch.picture else 0.0
    pointing = POINTING_SECONDS * len(sketch.parts_of("legend"))
    words = words_in(sketch.say) + words_in(sketch.ask)
    return TURN_SECONDS + looking + pointing + words * 60 / WORDS_A_MINUTE + sketch.wait


def deck_of(library: Library, procedure: Procedure, shown: Sequence[Slide], about: str = "") -> Deck:
    """Return the deck of the sketches ``shown``, between a title slide and the slides of sources.

    ``about`` says more of this talk, such as its length. Raises Refused where words fit on no slide.
    """
    head, edition = head_of(library, procedure), gettext("Edition %(edition)s", edition=procedure.edition)
    keys = dict.fromkeys(cite.key for sketch in shown for cite in sketch.backing if cite.key in library.sources)
    numbers = {key: number for number, key in enumerate(keys, start=1)}  # by first appearance in this deck
    sketches = (_title_sketch(head, about), *shown, *_sources(library, numbers))
    return Deck(
        title=procedure.title,
        department=head.department,
        language=head.language,
        edition=procedure.edition,
        day=max((approval.on.isoformat() for approval in procedure.approval), default=""),
        mark=paper_mark(library, procedure, dated=False),  # the day stands on the first slide
        running=edition if width_of(edition, 24) <= _RUNNING_ROOM else "",
        slides=tuple(_slides(sketches, procedure, numbers, Speller(library.terms))),
    )


def _title_sketch(head: Head, about: str) -> Slide:
    due = gettext("Review by %(day)s", day=head.due) if head.due else gettext("Review day not set")
    edition = gettext("Edition %(edition)s, %(status)s. %(due)s.", edition=head.edition, status=head.status, due=due)
    return Slide(
        "title", "title", "title", head.title, joined(head.title, head.usual_caution), head.department,
        parts=filled(SlidePart("fact", edition), SlidePart("fact", about), SlidePart("usual", head.usual_caution)),
        asides=(SlidePart(gettext("Owner"), f"{head.owner}."),),
    )  # fmt: skip


def _slides(
    sketches: Iterable[Slide], procedure: Procedure, numbers: Mapping[str, int], speller: Speller
) -> Iterator[Slide]:
    titles: dict[str, int] = {}
    begins = 0.0
    for sketch in sketches:
        told = _unique(_spelt(sketch, speller), titles)
        for turn, slide in enumerate(set_slides(procedure, told)):
            seconds = TURN_SECONDS if turn else seconds_of(told)
            timed = replace(slide, seconds=seconds, clock=clock(int(begins)))
            yield replace(timed, notes=_notes(timed, numbers))
            begins += seconds


def set_slides(procedure: Procedure, sketch: Slide) -> tuple[Slide, ...]:
    """Return the slides of ``sketch``. Raises Refused, with the place, where words fit on none."""
    try:
        return slides_of(sketch)
    except TooLong as error:
        raise Refused(_too_long(procedure, *error.args)) from error


def _sources(library: Library, numbers: Mapping[str, int]) -> list[Slide]:
    """Return the slides of sources, which follow one another as words of a paragraph."""
    short, style = short_sources(library.sources, numbers), library.department.style
    lines = [f"{number}\xa0{short[key]}" for key, number in numbers.items()]
    told = tuple(
        SlidePart(gettext("Source %(number)s", number=number), plain(format_in(style, library.sources[key]).html))
        for key, number in numbers.items()
    )

    def slide(some: Sequence[str]) -> Slide:
        title, is_first = gettext("What this talk rests on"), some[0] == lines[0]
        return Slide(
            "sources", "sources", "sources", title,
            gettext("The full list is in the notes and in the handout.") if is_first else title, gettext("Sources"),
            parts=(SlidePart("source", "; ".join(some)),), asides=told if is_first else (),
        )  # fmt: skip

    return on_few(lines, slide)


def _spelt(sketch: Slide, speller: Speller) -> Slide:
    """Return ``sketch`` with abbreviations spelt out where the deck uses them first: on a slide, else in its notes."""

    def spelt(text: str) -> str:
        return speller.text(plain_signs(text))

    spell = plain_signs if sketch.kind == "sources" else spelt  # the title of a source is what its authors wrote
    return replace(
        sketch,
        eyebrow=plain_signs(sketch.eyebrow),
        title=spelt(sketch.title),
        parts=tuple(
            replace(part, text=_UNIT.sub("\xa0", spelt(part.text)), label=plain_signs(part.label))
            for part in sketch.parts
        ),
        say=spelt(sketch.say),
        ask=spelt(sketch.ask),
        asides=tuple(replace(note, text=spell(note.text)) for note in sketch.asides),
    )


def _unique(sketch: Slide, titles: dict[str, int]) -> Slide:
    """Return ``sketch`` with a title that no slide before has: a list of slides by title must tell them apart."""
    turn = titles[sketch.title] = titles.get(sketch.title, 0) + 1
    if turn == 1:
        return sketch
    told = f"{sketch.title} ({sketch.eyebrow.partition(',')[0].lower()})"
    if told in titles or not sketch.mark:
        told = f"{sketch.title} ({turn})"
    titles[told] = 1
    return replace(sketch, title=told)


def _notes(slide: Slide, numbers: Mapping[str, int]) -> tuple[SlidePart, ...]:
    cites = [(numbers[cite.key], cite.locator) for cite in slide.backing if cite.key in numbers]
    sources = "; ".join(f"{number} ({locator})" if locator else str(number) for number, locator in cites)
    backing = f"{sources}." if sources else gettext("Common practice.") if Cite("") in slide.backing else ""
    asked = ngettext(
        "%(prompt)s (Wait about %(num)s second.)", "%(prompt)s (Wait about %(num)s seconds.)", round(slide.wait),
        prompt=slide.ask,
    )  # fmt: skip
    seconds = max(1, round(slide.seconds))
    return filled(
        SlidePart(gettext("Say"), slide.say),
        SlidePart(gettext("Ask"), slide.ask and asked),
        SlidePart(gettext("Answer"), slide.answer),
        *slide.asides,
        SlidePart(gettext("Sources"), backing),
        SlidePart(
            gettext("Time"),
            ngettext(
                "About %(num)s second, from %(clock)s.",
                "About %(num)s seconds, from %(clock)s.",
                seconds,
                clock=slide.clock,
            ),
        ),
    )


def _too_long(procedure: Procedure, id: str, text: str) -> Finding:
    """Return what to say where words fit on no slide, at the step or caution that they belong to."""
    places = {str(step.id): step.title.at for step in procedure.steps.values()}
    places |= {f"caution-{caution.id}": caution.hazard.at for caution in procedure.cautions.values()}
    return finding(
        "too-long-for-a-slide",
        next((place for part, place in places.items() if part in id), procedure.title.at),
        message=f"{quoted(text[:80])} does not fit on a slide in type of 24 pt",
        hint="Split the sentence in two, or say the rest in the text of the step: it is spoken, not shown.",
    )

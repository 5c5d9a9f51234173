"""A figure among slides: on the slide of its step where both fit, else on one of its own with its legend beside it."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace

from builder.compose.slides.slide import Sketch, SlidePart, SlidePicture, SpeakerNote, Speech
from builder.compose.slides.slide_caution import with_gravest
from builder.compose.slides.slide_layout import fits, slides_of
from builder.compose.slides.slide_pointers import fitted, spots_of
from builder.compose.slides.slide_type import sentences
from builder.compose.slides.slide_words import joined, stopped
from builder.compose.view.view import FigureView, PointerView
from builder.findings.message_words import listed


def with_figure(step: Sketch, figure: FigureView, picture: SlidePicture) -> Sketch | None:
    """Return ``step`` with the figure on its slide, reminded of all that guards it or of the gravest; None: no room."""
    for base in (step, with_gravest(step)):
        both = replace(
            base, kind="step-figure", picture=picture,
            parts=(
                *(one for one in base.parts if one.role == "reminder"), *_legend(figure.pointers),
                *(one for one in base.parts if one.role != "reminder"),
            ),
            speech=replace(base.speech, full=joined(base.speech.full, figure.caption)),
            asides=(*base.asides, _credit(figure)),
        )  # fmt: skip
        if fits(both):
            return _pointed(both, figure)
    return None


def figure_sketches(figure: FigureView, picture: SlidePicture) -> Iterator[Sketch]:
    """Yield the slide of ``figure``; one with very many pointers stands there more than once, each time with some.

    The caption is the title; where it leaves no room for the legend its first sentence is, and all of it is said.
    """
    caption = figure.caption or figure.alt
    tries = (
        list(_parts(figure, picture, title, size))
        for size in range(max(1, len(figure.pointers)), 0, -1)
        for title in dict.fromkeys((caption, sentences(caption)[0]))
    )
    made: list[Sketch] = []
    for made in tries:
        if all(map(fits, made)):
            break
    yield from (_pointed(one, figure) if fits(one) else one for one in made)


def _parts(figure: FigureView, whole: SlidePicture, title: str, size: int) -> Iterator[Sketch]:
    """Yield the slides on which at most ``size`` pointers each are shown."""
    pointers = figure.pointers
    count = -(-len(pointers) // size) or 1
    size = -(-len(pointers) // count)
    for turn in range(count):
        some = pointers[turn * size : (turn + 1) * size]
        told = f"Numbers {some[0].number} to {some[-1].number}." if count > 1 and some else ""
        after = f"-{turn + 1}" if turn else ""
        yield Sketch(
            "figure", f"{figure.anchor}{after}", "", f"{title} ({turn + 1})" if turn else title,
            Speech(listed([one.name for one in some]) if turn else figure.caption or figure.alt),
            f"Figure {figure.number}", parts=_legend(some), asides=(_credit(figure),),
            picture=replace(whole, alt=joined(whole.alt, told) if told else whole.alt),
        )  # fmt: skip


def _pointed(sketch: Sketch, figure: FigureView) -> Sketch:
    """Return the slide with a place for each number of its legend, worked out for the room that the figure has."""
    frame = slides_of(sketch)[0].frame
    if sketch.picture is None or frame is None:
        return sketch
    here = {part.label for part in sketch.parts if part.role == "legend"}
    some = [one for one in figure.pointers if str(one.number) in here]
    size = fitted(sketch.picture.aspect, frame.width, frame.height)
    return replace(sketch, picture=replace(sketch.picture, spots=spots_of(some, size)))


def _legend(pointers: Sequence[PointerView]) -> tuple[SlidePart, ...]:
    return tuple(SlidePart("legend", one.name, str(one.number)) for one in pointers)


def _credit(figure: FigureView) -> SpeakerNote:
    side = f" {figure.side}." if figure.side else ""
    return SpeakerNote("Figure", f"Figure {figure.number}: {stopped(figure.credit.capitalize())}{side}")

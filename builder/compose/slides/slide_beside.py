"""What may stand beside the words of a step: its figure, where both fit on one slide, else on a slide of its own with
its legend; a caution in two lines or in one, else on a slide of its own before the step."""

from collections.abc import Iterator, Sequence
from dataclasses import replace

from builder.compose.slides.slide import Cite, PointerSpot, Sketch, SlidePart, SlidePicture, SpeakerNote, Speech, filled
from builder.compose.slides.slide_layout import fits, slides_of
from builder.compose.slides.slide_text import cites_in, is_practice, joined, said, sentences, stopped
from builder.compose.view.head import call_of
from builder.compose.view.outline import GRAVITY
from builder.compose.view.parts_view import CautionView, FigureView, PointerView
from builder.compose.view.rendered_prose import ReferenceView
from builder.compose.view.words import series, uncapital
from builder.load.program_words import gettext
from builder.model.library import Library

DISC = 36.0
"""Width in pt of the disc behind a number; its type is 24 pt."""
_APART = DISC + 5.0
_CLEAR = DISC / 2 + 9.0  # from the middle of a disc to any place that a pointer shows
_ROUNDS = 600
_PULL = 0.03
_NO_WAY = 1e-6


def with_figure(step: Sketch, figure: FigureView, picture: SlidePicture) -> Sketch | None:
    """Return ``step`` with the figure on its slide, reminded of all that guards it or of the gravest; None: no room."""
    for base in (step, with_gravest(step)):
        both = replace(
            base, kind="step-figure", picture=picture,
            parts=(*base.parts_of("reminder"), *_legend(figure.pointers), *base.without("reminder")),
            speech=replace(base.speech, text=joined(base.speech.text, figure.caption)),
            asides=(*base.asides, _credit(figure)),
        )  # fmt: skip
        if fits(both):
            return _pointed(both, figure)
    return None


def figure_sketches(figure: FigureView, picture: SlidePicture, block: str) -> Iterator[Sketch]:
    """Yield the slide of ``figure`` for ``block``; with very many pointers it stands there more than once, each time
    with some.

    The caption is the title; where it leaves no room for the legend its first sentence is, and all of it is said.
    """
    caption = figure.caption or figure.alt
    tries = (
        list(_parts(figure, picture, block, title, size))
        for size in range(max(1, len(figure.pointers)), 0, -1)
        for title in dict.fromkeys((caption, sentences(caption)[0]))
    )
    made: list[Sketch] = []
    for made in tries:
        if all(map(fits, made)):
            break
    yield from (_pointed(sketch, figure) if fits(sketch) else sketch for sketch in made)


def _parts(figure: FigureView, whole: SlidePicture, block: str, title: str, size: int) -> Iterator[Sketch]:
    """Yield the slides on which at most ``size`` pointers each are shown."""
    pointers = figure.pointers
    count = -(-len(pointers) // size) or 1
    size = -(-len(pointers) // count)
    for turn in range(count):
        some = pointers[turn * size : (turn + 1) * size]
        told = (
            gettext("Numbers %(first)s to %(last)s.", first=some[0].number, last=some[-1].number)
            if count > 1 and some
            else ""
        )
        after = f"-{turn + 1}" if turn else ""
        yield Sketch(
            "figure", f"{figure.anchor}{after}", block, f"{sentences(title)[0]} ({turn + 1})" if turn else title,
            Speech(joined("" if turn else figure.caption or figure.alt, _pointed_at(some))),
            gettext("Figure %(number)s", number=figure.number), parts=_legend(some), asides=(_credit(figure),),
            picture=replace(whole, alt=joined(whole.alt, told) if told else whole.alt),
        )  # fmt: skip


def _pointed_at(pointers: Sequence[PointerView]) -> str:
    return gettext("Point to: %(names)s", names=series([pointer.name for pointer in pointers])) if pointers else ""


def _pointed(sketch: Sketch, figure: FigureView) -> Sketch:
    """Return the slide with a place for each number of its legend, worked out for the room that the figure has."""
    frame = slides_of(sketch)[0].frame
    if sketch.picture is None or frame is None:
        return sketch
    here = {part.label for part in sketch.parts_of("legend")}
    some = [pointer for pointer in figure.pointers if str(pointer.number) in here]
    size = fitted(sketch.picture.aspect, frame.width, frame.height)
    return replace(sketch, picture=replace(sketch.picture, spots=spots_of(some, size)))


def _legend(pointers: Sequence[PointerView]) -> tuple[SlidePart, ...]:
    return tuple(SlidePart("legend", pointer.name, str(pointer.number)) for pointer in pointers)


def _credit(figure: FigureView) -> SpeakerNote:
    side = f" {figure.side}." if figure.side else ""
    return SpeakerNote(
        gettext("Figure"),
        f"{gettext('Figure %(number)s', number=figure.number)}: {stopped(figure.credit.capitalize())}{side}",
    )


# Where the numbers of pointers stand: beside what they show, never on it nor on one another, joined to it by a line.


def fitted(aspect: float, width: float, height: float) -> tuple[float, float]:
    """Return width and height of a picture that fills a frame as far as its ``aspect`` lets it."""
    return (height * aspect, height) if width / height > aspect else (width, width / aspect)


def spots_of(pointers: Sequence[PointerView], size: tuple[float, float]) -> tuple[PointerSpot, ...]:
    """Return the pointers with a place for each number on a picture of ``size``, width and height in pt.

    Numbers are pushed off one another and off all that is pointed at, and pulled back to what they show, in equal
    steps: the same picture always gives the same places.
    """
    goals = [complex(float(pointer.x) / 100 * size[0], float(pointer.y) / 100 * size[1]) for pointer in pointers]
    places = [_inside(goal + start, size) for goal, start in zip(goals, _starts(goals, size), strict=True)]
    for turn in range(_ROUNDS):
        pull = _PULL if turn < _ROUNDS * 2 // 3 else 0.0
        places = [_inside(_moved(at, places, goals, pull), size) for at in range(len(places))]
    return tuple(
        PointerSpot(
            pointer.number, pointer.name, float(pointer.x), float(pointer.y),
            round(100 * place.real / size[0], 2), round(100 * place.imag / size[1], 2),
        )
        for pointer, place in zip(pointers, places, strict=True)
    )  # fmt: skip


# Points and steps are complex numbers: across from the left, and down from the top.


def _starts(goals: Sequence[complex], size: tuple[float, float]) -> Iterator[complex]:
    """Yield for each goal a step out of the crowd: away from the middle of what lies near it, weighed by nearness."""
    for at, goal in enumerate(goals):
        near = [goal - other for place, other in enumerate(goals) if place != at]
        away = sum(step / (1 + (step * step.conjugate()).real) for step in near)
        # Alone, a number stands above what it shows, or below where there is no room above.
        alone = -1j if goal.imag > size[1] / 6 else 1j
        yield _CLEAR * (away / abs(away) if abs(away) > _NO_WAY else alone)


def _moved(at: int, places: Sequence[complex], goals: Sequence[complex], pull: float) -> complex:
    here = places[at]
    step = (goals[at] - here) * pull
    others = ((place, _APART, at < other) for other, place in enumerate(places) if other != at)
    marks = ((goal, _CLEAR, True) for goal in goals)
    for mark, least, first in (*others, *marks):
        away = here - mark
        if (far := abs(away)) < least:
            # Two on one spot part to the sides, the first to the left.
            unit = away / far if far > _NO_WAY else (-1 if first else 1)
            step += unit * (least - far) / 2
    return here + step


def _inside(place: complex, size: tuple[float, float]) -> complex:
    edge = DISC / 2 + 2
    return complex(min(max(place.real, edge), size[0] - edge), min(max(place.imag, edge), size[1] - edge))


class CautionSlides:
    """Puts cautions on the slides of one talk, whose sources are numbered as in ``references``."""

    def __init__(self, library: Library, references: Sequence[ReferenceView]) -> None:
        self.library = library
        self.references = references

    def alone(self, caution: CautionView, block: str, eyebrow: str) -> Sketch:
        """Return the slide of ``caution`` that stands before ``block``."""
        page = caution.page
        return Sketch(
            "caution", caution.anchor, block, page.hazard, Speech(self.said_of(caution)), eyebrow, caution.signal_word,
            signal=page.signal,
            parts=(SlidePart("consequence", page.consequence), SlidePart("avoid", page.avoid, gettext("Avoid it"))),
            backing=self._cites(caution), practice=is_practice(caution.cites_html),
        )  # fmt: skip

    def beside(self, step: Sketch, caution: CautionView) -> Sketch | None:
        """Return ``step`` with ``caution`` on its slide; None where they do not fit."""
        page = caution.page
        part = SlidePart("caution", joined(page.hazard, page.avoid), caution.signal_word, page.signal)
        before = step.parts_of("caution")
        signal = step.signal if before else page.signal  # the gravest comes first
        whole = replace(step, parts=(*before, part, *step.without("caution")), signal=signal)
        if not fits(whole):
            return None
        return replace(whole, backing=tuple(dict.fromkeys((*self._cites(caution), *step.backing))))

    def said_of(self, caution: CautionView) -> str:
        """Return what threatens, what comes of it, how it is avoided and shows, and what is done if it happens."""
        page = caution.page
        call = call_of(self.library, page.call)
        shows = page.sign and gettext("How it shows: %(sign)s", sign=page.sign)
        then = page.if_it_happens and gettext("If it happens: %(act)s", act=page.if_it_happens)
        called = gettext("Call: %(role)s, %(number)s", role=call.role, number=call.number) if call else ""
        lead = f"{caution.signal_word}: {uncapital(page.hazard)}"
        return joined(lead, page.consequence, page.avoid, shows, then, called, said(caution.body_html))

    def _cites(self, caution: CautionView) -> tuple[Cite, ...]:
        return cites_in((caution.cites_html, caution.body_html), self.references)


def reminded(step: Sketch, guarding: Sequence[CautionView]) -> Sketch:
    """Return ``step`` with each of ``guarding`` in a line, the gravest first; what does not fit goes to the notes."""
    left = []
    for caution in sorted(guarding, key=lambda caution: GRAVITY[caution.page.signal]):
        part = SlidePart("reminder", caution.page.hazard, caution.signal_word, caution.page.signal)
        at = len(step.parts_of("reminder", "caution"))
        more = replace(step, parts=(*step.parts[:at], part, *step.parts[at:]))
        if fits(more):
            step = more
        else:
            left.append(f"{caution.signal_word}: {uncapital(caution.page.hazard)}")
    return _told(step, left)


def with_gravest(step: Sketch) -> Sketch:
    """Return ``step`` with only the gravest of the lines that remind of what guards it; the others go to the notes."""
    others = step.parts_of("reminder")[1:]
    fewer = replace(step, parts=tuple(part for part in step.parts if part not in others))
    return _told(fewer, [f"{line.label}: {uncapital(line.text)}" for line in others])


def _told(step: Sketch, left: Sequence[str]) -> Sketch:
    note = SpeakerNote(gettext("Also guarded by"), stopped("; ".join(left)))
    return replace(step, asides=filled(*step.asides, note))

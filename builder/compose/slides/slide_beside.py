"""What may stand beside the words of a step: its figure, where both fit on one slide, else on a slide of its own with
its legend; a caution in two lines or in one, else on a slide of its own before the step."""

from cmath import polar
from collections.abc import Iterator, Sequence
from dataclasses import replace
from functools import lru_cache
from math import degrees

from builder.compose.slides.slide import Cite, PointerSpot, Slide, SlidePart, SlidePicture, filled
from builder.compose.slides.slide_layout import fits, on_few, slides_of
from builder.compose.slides.slide_text import cites_in, joined, said, sentences, stopped
from builder.compose.view.head import CallView
from builder.compose.view.outline import GRAVITY
from builder.compose.view.parts_view import CautionView, FigureView, PointerView
from builder.compose.view.rendered_prose import ReferenceView
from builder.compose.view.words import labelled, series, uncapital
from builder.load.program_words import gettext

DISC = 36.0
"""Width in pt of the disc behind a number; its type is 24 pt."""
_APART = DISC + 5.0
_CLEAR = DISC / 2 + 9.0  # from the middle of a disc to any place that a pointer shows
_ROUNDS = 600
_PULL = 0.03
_NO_WAY = 1e-6


def with_figure(step: Slide, figure: FigureView, picture: SlidePicture) -> Slide | None:
    """Return ``step`` with the figure on its slide, reminded of all that guards it or of the gravest; None: no room."""
    others = step.parts_of("reminder")[1:]
    fewer = _guarded(replace(step, parts=tuple(part for part in step.parts if part not in others)), others)
    for base in (step, fewer):
        both = replace(
            base, kind="step-figure", picture=picture, say=joined(base.say, figure.caption),
            parts=(*base.parts_of("reminder"), *_legend(figure.pointers), *base.without("reminder")),
            asides=(*base.asides, _credit(figure)),
        )  # fmt: skip
        if fits(both):
            return _pointed(both, figure)
    return None


def figure_sketches(figure: FigureView, picture: SlidePicture, block: str) -> Iterator[Slide]:
    """Yield the slide of ``figure`` for ``block``; with very many pointers it stands there more than once, each time
    with some.

    The caption is the title; where it leaves no room for the legend its first sentence is, and all of it is said.
    """
    names = {f"{pointer.number} {pointer.name}": pointer for pointer in figure.pointers}
    lines, caption = tuple(names) or ("",), figure.caption or figure.alt

    def slide(some: Sequence[str]) -> Slide:
        here, is_first, alt = [names[line] for line in some if line], some[0] == lines[0], picture.alt
        if len(some) < len(lines):
            told = gettext("Numbers %(first)s to %(last)s.", first=here[0].number, last=here[-1].number)
            alt = joined(alt, told)
        pointing = here and gettext("Point to: %(names)s", names=series([pointer.name for pointer in here]))
        brief = Slide(
            "figure", figure.anchor, block, sentences(caption)[0],
            joined(caption if is_first else "", pointing or ""), gettext("Figure %(number)s", number=figure.number),
            parts=_legend(here), asides=(_credit(figure),), picture=replace(picture, alt=alt),
        )  # fmt: skip
        told_whole = replace(brief, title=caption)
        return told_whole if is_first and fits(told_whole) else brief

    yield from (_pointed(sketch, figure) if fits(sketch) else sketch for sketch in on_few(lines, slide))


def _pointed(sketch: Slide, figure: FigureView) -> Slide:
    """Return the slide with a place for each number of its legend, worked out for the room that the figure has."""
    frame, here = slides_of(sketch)[0].frame, {part.label for part in sketch.parts_of("legend")}
    if sketch.picture is None or frame is None:
        return sketch
    some = tuple(pointer for pointer in figure.pointers if str(pointer.number) in here)
    return replace(sketch, picture=replace(sketch.picture, spots=spots_of(some, (frame.width, frame.height))))


def _legend(pointers: Sequence[PointerView]) -> tuple[SlidePart, ...]:
    return tuple(SlidePart("legend", pointer.name, str(pointer.number)) for pointer in pointers)


def _credit(figure: FigureView) -> SlidePart:
    side = f" {figure.side}." if figure.side else ""
    number = gettext("Figure %(number)s", number=figure.number)
    return SlidePart(gettext("Figure"), f"{number}: {stopped(figure.credit.capitalize())}{side}")


# Where the numbers of pointers stand: beside what they show, never on it nor on one another, joined to it by a line.


@lru_cache(maxsize=500)  # a deck and its sessions show a figure in the same room
def spots_of(pointers: tuple[PointerView, ...], size: tuple[float, float]) -> tuple[PointerSpot, ...]:
    """Return the pointers with a place for each number on a picture of ``size``, width and height in pt.

    Numbers are pushed off one another and off all that is pointed at, and pulled back to what they show, in equal
    steps: the same picture always gives the same places.
    """
    goals = [complex(float(pointer.x) / 100 * size[0], float(pointer.y) / 100 * size[1]) for pointer in pointers]
    places = [_inside(goal + start, size) for goal, start in zip(goals, _starts(goals, size), strict=True)]
    for turn in range(_ROUNDS):
        pull = _PULL if turn < _ROUNDS * 2 // 3 else 0.0
        before, places = places, [_inside(_moved(at, places, goals, pull), size) for at in range(len(places))]
        if not pull and places == before:
            break
    return tuple(_spot(pointer, place, size) for pointer, place in zip(pointers, places, strict=True))


def _spot(pointer: PointerView, place: complex, size: tuple[float, float]) -> PointerSpot:
    x, y = float(pointer.x), float(pointer.y)
    left, top = round(100 * place.real / size[0], 2), round(100 * place.imag / size[1], 2)
    length, turn = polar(complex((left - x) / 100 * size[0], (top - y) / 100 * size[1]))
    return PointerSpot(pointer.number, pointer.name, x, y, left, top, round(length, 2), round(degrees(turn), 2))


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
    for other, place in enumerate(places):
        if other != at and abs(here - place) < _APART:
            step += _off(here - place, _APART, -1 if at < other else 1)
    for goal in goals:
        if abs(here - goal) < _CLEAR:
            step += _off(here - goal, _CLEAR, -1)
    return here + step


def _off(away: complex, least: float, aside: int) -> complex:
    """Return half the step that is missing; two on one spot part to the sides, the first to the left."""
    far = abs(away)
    return (away / far if far > _NO_WAY else aside) * (least - far) / 2


def _inside(place: complex, size: tuple[float, float]) -> complex:
    edge = DISC / 2 + 2
    return complex(min(max(place.real, edge), size[0] - edge), min(max(place.imag, edge), size[1] - edge))


def caution_alone(caution: CautionView, references: Sequence[ReferenceView], block: str, eyebrow: str) -> Slide:
    """Return the slide of ``caution`` that stands before ``block``; its sources are numbered as in ``references``."""
    page = caution.page
    return Slide(
        "caution", caution.anchor, block, page.hazard, _said_of(caution), eyebrow, caution.signal_word,
        signal=page.signal,
        parts=(SlidePart("consequence", page.consequence), SlidePart("avoid", page.avoid, gettext("Avoid it"))),
        backing=_cites(caution, references),
    )  # fmt: skip


def with_cautions(
    step: Slide, cautions: Sequence[CautionView], references: Sequence[ReferenceView]
) -> tuple[Slide, list[CautionView]]:
    """Return ``step`` with as many of ``cautions`` as its slide has room for, the gravest first, and the others; what
    is said of those comes before what is said of the step."""
    apart, told = [], []
    for caution in sorted(cautions, key=_gravity):
        page, before = caution.page, step.parts_of("caution")
        both = replace(
            step, parts=(*before, _line("caution", caution, page.avoid), *step.without("caution")),
            signal=step.signal if before else page.signal,  # the gravest comes first
            backing=tuple(dict.fromkeys((*_cites(caution, references), *step.backing))),
        )  # fmt: skip
        if fits(both):
            step = both
            told.append(_said_of(caution))
        else:
            apart.append(caution)
    return replace(step, say=joined(*told, step.say)), apart


def reminded(step: Slide, guarding: Sequence[CautionView]) -> Slide:
    """Return ``step`` with each of ``guarding`` in a line, the gravest first; what does not fit goes to the notes."""
    left = []
    for caution in sorted(guarding, key=_gravity):
        part, before = _line("reminder", caution), step.parts_of("caution", "reminder")
        both = replace(step, parts=(*before, part, *step.without("caution", "reminder")))
        if fits(both):
            step = both
        else:
            left.append(part)
    return _guarded(step, left)


def _line(role: str, caution: CautionView, avoid: str = "") -> SlidePart:
    words = joined(caution.page.hazard, avoid) if avoid else caution.page.hazard
    return SlidePart(role, words, caution.signal_word, caution.page.signal)


def _guarded(step: Slide, left: Sequence[SlidePart]) -> Slide:
    """Return ``step`` with the lines that are ``left`` in its notes."""
    told = "; ".join(labelled(line.label, uncapital(line.text)) for line in left)
    return replace(step, asides=filled(*step.asides, SlidePart(gettext("Also guarded by"), stopped(told))))


def _gravity(caution: CautionView) -> int:
    return GRAVITY[caution.page.signal]


def _said_of(caution: CautionView) -> str:
    """Return what threatens, what comes of it, how it is avoided and shows, and what is done if it happens."""
    page = caution.page
    return joined(
        labelled(caution.signal_word, uncapital(page.hazard)), page.consequence, page.avoid,
        page.sign and gettext("How it shows: %(sign)s", sign=page.sign),
        page.if_it_happens and gettext("If it happens: %(act)s", act=page.if_it_happens),
        called(caution.call), said(caution.body_html),
    )  # fmt: skip


def called(call: CallView | None) -> str:
    """Return what is said of whom to call, "" for nobody."""
    return gettext("Call: %(role)s, %(number)s", role=call.role, number=call.number) if call else ""


def _cites(caution: CautionView, references: Sequence[ReferenceView]) -> tuple[Cite, ...]:
    return cites_in((caution.cites_html, caution.body_html), references)

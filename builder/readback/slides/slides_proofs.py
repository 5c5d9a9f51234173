"""Proofs of a finished .pptx: each looks at what was read from the file and compares it with the deck as composed."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from builder.compose.document import Document
from builder.compose.slides.slide import HEIGHT, WIDTH, Deck, Slide
from builder.compose.slides.slide_type import LEAST_PT, lines_of
from builder.findings.message_words import quoted
from builder.readback.composed_words import bare
from builder.readback.paper.finished_pdf import Rectangle
from builder.readback.paper.ink import contrast, grey
from builder.readback.slides.slides_read import Member, Paragraph, Seen, SlideShape

_ROOM = Rectangle(0.0, -HEIGHT, WIDTH, 0.0)
_SLACK = 0.6
_SHOWN = 60
_LEAST_CONTRAST = 4.5
_FILE_NAME = re.compile(
    r"\.(?:png|jpe?g|svg|gif|tiff?|bmp|emf|wmf)\b|^(?:image|picture|img|grafik)[ _-]?\d*$", re.IGNORECASE
)
_SINGLE = 1.17  # line height of stock type, as a multiple of its size


@dataclass(frozen=True, slots=True)
class ReadDeck:
    """A file that was read: the deck as composed, its slides as found, size in pt, members, colours of its theme."""

    document: Document
    deck: Deck
    slides: tuple[Seen, ...]
    size: tuple[float, float]
    members: tuple[Member, ...]
    colours: dict[str, tuple[int, int, int]]

    def pairs(self) -> Iterator[tuple[Slide, Seen]]:
        """Yield each slide as composed with the slide as found."""
        return zip(self.deck.slides, self.slides, strict=False)


def slides(read: ReadDeck) -> Iterator[str]:
    """Prove that all slides are there, 16:9, shown, with their layout and a title of their own."""
    if len(read.slides) != len(read.deck.slides):
        yield f"it has {len(read.slides)} slides; {len(read.deck.slides)} were composed"
    if read.size != (WIDTH, HEIGHT):
        yield f"its slides measure {read.size[0]:g} by {read.size[1]:g} pt, not {WIDTH:g} by {HEIGHT:g}"
    titles: Counter[str] = Counter()
    for wanted, seen in read.pairs():
        found = [one for one in seen.shapes if one.holds == "title"]
        if len(found) != 1 or not found[0].text:
            yield f"slide {seen.number} has {len(found) if not found or found[0].text else 'an empty'} title, not one"
        elif bare(found[0].text) != bare(wanted.title):
            yield f"slide {seen.number} is titled “{found[0].text[:_SHOWN]}”, not “{wanted.title[:_SHOWN]}”"
        titles.update(one.text for one in found)
        if not seen.shown:
            yield f"slide {seen.number} is hidden"
    yield from (
        f"{count} slides are titled “{title[:_SHOWN]}”" for title, count in titles.items() if count > 1 and title
    )


def musts(read: ReadDeck) -> Iterator[str]:
    """Prove that all that was promised is there, once, in order."""
    text = "".join(bare(shape.text) for seen in read.slides for shape in seen.texts() if not _runs_along(shape))
    alts = [shape.alt for seen in read.slides for shape in seen.shapes if shape.kind == "pic"]
    at = 0
    for must in read.document.musts:
        name = f"the {must.kind.replace('-', ' ')} {quoted(must.id)} (“{must.text[:_SHOWN]}”)"
        if must.kind == "running":
            for seen in read.slides:
                foot = bare(" ".join(one.text for one in seen.texts() if _runs_along(one)))
                if bare(must.text) not in foot:
                    yield f"slide {seen.number} does not bear the mark “{must.text}”"
        elif must.kind == "figure":
            if alts.count(must.text) != 1:
                yield f"{name} stands there {alts.count(must.text)} times, not once"
        else:
            found = text.find(bare(must.text), at)
            if found < 0:
                there = bare(must.text) in text
                yield f"{name} {'stands before what it should follow' if there else 'is not there'}"
            else:
                at = found


def words(read: ReadDeck) -> Iterator[str]:
    """Prove that each slide says what was composed, in reading order, and nothing else."""
    for wanted, seen in read.pairs():
        pointers = [spot.number for spot in wanted.picture.spots] if wanted.picture else []
        told = bare(wanted.shown)
        shown = bare(" ".join(one.text for one in seen.texts() if not _runs_along(one) and one.inside != "Pointers"))
        if shown != told:
            at = next(
                (at for at, (a, b) in enumerate(zip(told, shown, strict=False)) if a != b), min(len(told), len(shown))
            )
            yield (
                f"slide {seen.number}: its words are not those composed: after “{told[max(0, at - 25) : at]}” "
                f"should stand “{told[at : at + 30]}”, but there stands “{shown[at : at + 30]}”"
            )
        numbers = [one.text for one in seen.texts() if one.inside == "Pointers"]
        if numbers != [str(number) for number in pointers]:
            yield f"slide {seen.number}: the numbers on its figure are {', '.join(numbers) or 'none'}"


def places(read: ReadDeck) -> Iterator[str]:
    """Prove that all text is inside the slide and its box, that no box covers another, and nothing is hidden."""
    for seen in read.slides:
        texts = list(seen.texts())
        for shape in seen.shapes:
            if shape.hidden:
                yield f"slide {seen.number}: {_named(shape)} is hidden"
            if not shape.box.inside(_ROOM, _SLACK):
                yield f"slide {seen.number}: {_named(shape)} reaches off the slide"
        for shape in texts:
            over = _height(shape) - (shape.box.top - shape.box.bottom)
            if over > _SLACK:
                yield f"slide {seen.number}: {_named(shape)} is {over:.0f} pt too long for its box"
        for at, one in enumerate(texts):
            for other in texts[at + 1 :]:
                if not (one.inside or other.inside) and _share(one.box, other.box) > 0.02:
                    yield f"slide {seen.number}: {_named(one)} and {_named(other)} lie on each other"
        yield from _covered(seen)


def _covered(seen: Seen) -> Iterator[str]:
    for at, one in enumerate(seen.shapes):
        if not one.text or one.inside:
            continue
        for other in seen.shapes[at + 1 :]:
            covers = (other.fill and not other.text) or other.kind == "pic"
            own = one.name == "Signal word" and other.inside == "Safety alert symbol"
            if covers and not own and _share(one.box, other.box) > 0.02:
                yield f"slide {seen.number}: {_named(other)} covers {_named(one)}"


def sizes(read: ReadDeck) -> Iterator[str]:
    """Prove that no type on a slide is below the least, and that each run says its language."""
    for seen in read.slides:
        for shape in seen.texts():
            for run in (run for one in shape.paragraphs for run in one.words if run.text.strip()):
                if run.pt < LEAST_PT:
                    yield (
                        f"slide {seen.number}: “{run.text[:_SHOWN]}” is set at {run.pt:g} pt; "
                        f"the smallest allowed is {LEAST_PT:g} pt"
                    )
                if run.language != read.deck.language:
                    yield f"slide {seen.number}: “{run.text[:_SHOWN]}” does not say that it is {read.deck.language}"


def smallest(slides: Sequence[Seen]) -> float:
    """Return the smallest type on any slide in pt."""
    found = [
        run.pt
        for seen in slides
        for shape in seen.texts()
        for one in shape.paragraphs
        for run in one.words
        if run.text.strip()
    ]
    return min(found, default=0.0)


def inks(read: ReadDeck) -> Iterator[str]:
    """Prove that all text can be read on its ground, in colour and in grey."""
    white = read.colours.get("bg1", (255, 255, 255))
    for seen in read.slides:
        under = list(seen.ground)
        for shape in seen.shapes:
            for run in (run for one in shape.paragraphs for run in one.words if run.text.strip()):
                below = next((one.fill for one in reversed(under) if one.fill and _within(shape.box, one.box)), "")
                ground = read.colours.get(shape.fill or below, white)
                ink = read.colours.get(run.colour, (0, 0, 0))
                ratio = min(contrast(ink, ground), contrast(grey(ink), grey(ground)))
                if ratio < _LEAST_CONTRAST:
                    yield (
                        f"slide {seen.number}: “{run.text[:_SHOWN]}” has a contrast of {ratio:.1f} to 1; "
                        f"{_LEAST_CONTRAST} is the least"
                    )
            under.append(shape)


def alts(read: ReadDeck) -> Iterator[str]:
    """Prove that every picture and every group of shapes is described as composed, never by the name of a file."""
    for wanted, seen in read.pairs():
        pictures = [one for one in seen.shapes if one.kind == "pic"]
        if len(pictures) != bool(wanted.picture):
            yield f"slide {seen.number} shows {len(pictures)} pictures; {int(bool(wanted.picture))} was composed"
        for one in pictures:
            told = wanted.picture.alt if wanted.picture else ""
            if _FILE_NAME.search(one.alt):
                yield f"slide {seen.number}: its figure is described by the name of a file, “{one.alt[:_SHOWN]}”"
            elif not one.alt or one.alt != told:
                yield f"slide {seen.number}: its figure is described as “{one.alt[:_SHOWN]}”, not as composed"
        for one in seen.shapes:
            if one.kind == "grpSp" and not one.alt:
                yield f"slide {seen.number}: {_named(one)} has no description"
            if one.inside == "" and one.kind in ("sp", "cxnSp") and not (one.text or one.decorative or one.holds):
                yield f"slide {seen.number}: {_named(one)} has no words and is not marked as decoration"


def notes(read: ReadDeck) -> Iterator[str]:
    """Prove that the notes of every slide say what was composed."""
    for wanted, seen in read.pairs():
        told = bare(" ".join(f"{one.label}: {one.text}" for one in wanted.notes))
        if not seen.notes.strip():
            yield f"slide {seen.number} has no notes"
        elif bare(seen.notes) != told:
            yield f"the notes of slide {seen.number} are not those that were composed"


def _runs_along(shape: SlideShape) -> bool:
    return shape.holds in ("ftr", "sldNum", "dt")


def _named(shape: SlideShape) -> str:
    return f"“{shape.text[:_SHOWN]}”" if shape.text else f"the shape {quoted(shape.name)}"


def _height(shape: SlideShape) -> float:
    """Return how much room the words of ``shape`` take from top to bottom, measured anew."""
    left, top, right, bottom = shape.insets
    width = shape.box.right - shape.box.left - left - right
    if shape.inside or shape.kind != "sp":
        return 0.0
    return top + bottom + sum(_tall(one, width, at) for at, one in enumerate(shape.paragraphs) if one.text)


def _tall(one: Paragraph, width: float, at: int) -> float:
    pt = max((run.pt for run in one.words), default=0.0)
    bold = any(run.bold for run in one.words if len(run.text) > 3)  # a number before a line hardly widens it
    text = one.text.partition("\t")[2] or one.text
    lines = lines_of(text, pt, max(width - one.indent, 1.0), bold=bold)
    return lines * (one.leading or pt * _SINGLE) + (one.before if at else 0.0)


def _share(one: Rectangle, other: Rectangle) -> float:
    """Return how much of the smaller box lies on the other."""
    both = one.meet(other)
    if both.left >= both.right or both.bottom >= both.top:
        return 0.0
    areas = [max(0.01, (box.right - box.left) * (box.top - box.bottom)) for box in (both, one, other)]
    return areas[0] / min(areas[1:])


def _within(inner: Rectangle, outer: Rectangle) -> bool:
    return inner.inside(outer, 1.0)

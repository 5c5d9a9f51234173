"""Slides, 16:9: as tagged PDF to be shown, and as .pptx to be changed; both of one Deck.

A .pptx cannot carry our type to every machine, so it names Arial, and every line is measured with the wider of both
types (``slide_widths``). What is said, when, and what it rests on stands in the notes of the .pptx.
"""

from collections.abc import Iterator
from dataclasses import replace
from itertools import chain
from math import atan2, degrees, hypot
from typing import Any

from pydantic import TypeAdapter

from builder.compose.document import Document, LeftOut, Must, PointedAt, Renderer, promised
from builder.compose.slides.slide import Deck, PictureFrame, Sketch, Slide, SlideBox, SlidePicture
from builder.compose.slides.slide_beside import fitted
from builder.compose.slides.slide_deck import deck_of
from builder.compose.slides.slide_layout import FOOT, TOP
from builder.compose.slides.slide_questions import questions
from builder.compose.slides.slide_sketch import count_sketch, sketches_of, with_counts
from builder.compose.slides.slide_text import plain_signs
from builder.compose.view.outline import outline
from builder.compose.view.parts_view import counts_called, figures_of
from builder.facts.remembered import once_per_library
from builder.model.figure import Figure
from builder.model.library import Library
from builder.model.pages import Procedure

_MEASURED_PT = 300.0
_PT_PER_MM = 72 / 25.4
_DECKS = TypeAdapter(Deck)
_PLAIN_KINDS = frozenset({"figure", "map", "list", "checklist", "sources", "statement"})


def compose(library: Library, procedure: Procedure, renderer: Renderer) -> Document:
    """Return the slides of ``procedure`` as HTML for the typesetter."""
    return document_of(whole_deck(library, procedure, renderer), procedure, renderer, "slides.pdf")


def compose_pptx(library: Library, procedure: Procedure, renderer: Renderer) -> Document:
    """Return the slides of ``procedure`` as JSON of a Deck, for the writer of .pptx files."""
    return file_of(whole_deck(library, procedure, renderer), procedure, "slides.pptx")


def whole_deck(library: Library, procedure: Procedure, renderer: Renderer) -> Deck:
    """Return the deck of everything there is."""
    return deck_of(library, procedure, material_of(library, procedure, renderer))


@once_per_library  # all decks are made of them
def material_of(library: Library, procedure: Procedure, renderer: Renderer) -> tuple[Sketch, ...]:
    """Return all sketches of ``procedure``."""
    blocks = outline(procedure)
    sketches = sketches_of(library, procedure, _pictures(procedure, figures_of(procedure, blocks), renderer))
    first = tuple(sketch for sketch in sketches if sketch.block == "why")  # what is asked about is named before
    after = tuple(sketch for sketch in sketches if sketch.id.startswith("aftercare"))
    body = tuple(sketch for sketch in sketches if sketch not in (*first, *after))
    opening, closing = (tuple(chain.from_iterable(pairs)) for pairs in questions(library, procedure))
    counts = tuple(count_sketch(counts_called(library, blocks)))
    return (*first, *opening, *with_counts(body, counts), *after, *closing)


def _pictures(procedure: Procedure, figures: list[Figure], renderer: Renderer) -> dict[str, SlidePicture]:
    """Return the pictures by id; the typesetter is asked how high each is for its width."""
    if not figures:
        return {}
    paths = [f"content/procedures/{procedure.id}/figures/{figure.file}" for figure in figures]
    rows = [{"path": path, "id": f"picture-{at}"} for at, path in enumerate(paths)]
    html = renderer.render("slides/slide_measure.html.j2", rows=rows, width=_MEASURED_PT)
    spots = {name: top for page in renderer.measure(html) for name, top in page.items()}
    pictures = {}
    for at, figure in enumerate(figures):
        height = (spots[f"picture-{at}-end"] - spots[f"picture-{at}"]) * _PT_PER_MM
        aspect = round(_MEASURED_PT / height, 3) if height > 0 else 1.0
        pictures[figure.id] = SlidePicture(f"figure-{figure.id}", paths[at], plain_signs(figure.alt or ""), aspect)
    return pictures


def placed(slide: Slide) -> PictureFrame | None:
    """Return where the picture of ``slide`` comes to lie in its frame: at the left, from the top."""
    if slide.picture is None or slide.frame is None:
        return None
    width, height = fitted(slide.picture.aspect, slide.frame.width, slide.frame.height)
    return PictureFrame(slide.frame.left, slide.frame.top, round(width, 2), round(height, 2))


def document_of(deck: Deck, procedure: Procedure, renderer: Renderer, file: str) -> Document:
    """Return ``deck`` as HTML for the typesetter."""
    template = "slides/slides.html.j2"
    look = renderer.look.paper_mark(procedure, template)
    deck = replace(deck, mark=". ".join(filter(None, (deck.mark, look))))
    views = [{"slide": slide, "plate": placed(slide), "lines": list(_lines(slide))} for slide in deck.slides]
    values: dict[str, Any] = {"deck": deck, "views": views, "frame": {"top": TOP, "foot": FOOT}}
    notes = LeftOut("notes", "notes", "what is said stands in the notes of the .pptx")
    return _document(deck, procedure, file, renderer.render(template, **values), notes)


def file_of(deck: Deck, procedure: Procedure, file: str) -> Document:
    """Return ``deck`` as JSON for the writer of .pptx files."""
    return _document(deck, procedure, file, _DECKS.dump_json(deck).decode())


def deck_from(text: str) -> Deck:
    """Return the Deck that ``file_of`` wrote."""
    return _DECKS.validate_json(text)


def _document(deck: Deck, procedure: Procedure, file: str, text: str, *left_out: LeftOut) -> Document:
    minutes = sum(slide.seconds for slide in deck.slides) / 60
    return Document.about(
        procedure,
        "slides",
        file,
        text,
        resources=tuple(dict.fromkeys(one.picture.path for one in deck.slides if one.picture and one.picture.path)),
        musts=tuple(musts_of(deck)),
        pointed=tuple(
            PointedAt(slide.picture.alt, spot.number, float(spot.left), float(spot.top))
            for slide in deck.slides
            if slide.picture
            for spot in slide.picture.spots
        ),
        left_out=left_out,
        explained={"slides": len(deck.slides), "minutes_spoken": round(minutes, 1)},
    )


def _lines(slide: Slide) -> Iterator[dict[str, float]]:
    """Yield length in pt and turn in degrees of the line from what a pointer shows to its number."""
    plate = placed(slide)
    if slide.picture and plate:
        for spot in slide.picture.spots:
            across, down = (spot.left - spot.x) / 100 * plate.width, (spot.top - spot.y) / 100 * plate.height
            yield {"length": round(hypot(across, down), 2), "turn": round(degrees(atan2(down, across)), 2)}


def musts_of(deck: Deck) -> Iterator[Must]:
    """Yield what must be seen, in order: the title of every slide with its landmark, then every line."""
    yield from promised("running", "mark", deck.mark)
    for slide in deck.slides:
        if slide.picture:
            yield Must("figure", slide.id, slide.picture.alt)
        yield from _slide_musts(slide)


def _slide_musts(slide: Slide) -> Iterator[Must]:
    kind = "slide" if slide.kind in _PLAIN_KINDS else slide.kind.removesuffix("-figure")
    before: list[str] = []
    for box in slide.boxes:
        words = [" ".join(part for part in (row.label, row.text) if part) for row in box.rows]
        if box.role in ("number", "critical", "signal", "letter"):
            before.extend(words)
            continue
        role = _role(slide, box, kind)
        for at, text in enumerate(words):
            yield Must(role, slide.id, " ".join([*before, text]) if at == 0 else text)
        before = []


def _role(slide: Slide, box: SlideBox, kind: str) -> str:
    if box.role == "title":
        return kind
    if box.role in ("caution", "count", "reminder", "eyebrow"):
        return box.role
    if box.role == "source":
        return "reference"
    return "count" if slide.id == "counts" else f"{kind}-line"

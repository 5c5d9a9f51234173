"""Slides, 16:9: as tagged PDF to be shown, and as .pptx to be changed; both of one Deck.

A .pptx cannot carry our type to every machine, so it names Arial, and every line is measured with the wider of both
types (``slide_widths``). What is said, when, and what it rests on stands in the notes of the .pptx.
"""

from __future__ import annotations

import json
from collections.abc import Iterator
from dataclasses import asdict, dataclass
from math import atan2, degrees, hypot
from typing import Any
from weakref import WeakKeyDictionary

from builder.compose.document import Document, LeftOut
from builder.compose.render import Renderer
from builder.compose.slides.slide import (
    HEIGHT,
    WIDTH,
    Deck,
    PictureFrame,
    PointerSpot,
    Sketch,
    Slide,
    SlideBox,
    SlidePicture,
    SlideRow,
    SpeakerNote,
)
from builder.compose.slides.slide_deck import Said, deck_of
from builder.compose.slides.slide_layout import FOOT, TOP
from builder.compose.slides.slide_pointers import DISC, fitted
from builder.compose.slides.slide_questions import questions
from builder.compose.slides.slide_sketch import count_sketch, sketches_of
from builder.compose.slides.slide_words import plain_signs
from builder.compose.view.outline import outline
from builder.compose.view.parts_view import figures_of
from builder.compose.view.procedure_view import view_of
from builder.compose.view.view import Must
from builder.model.library import Library
from builder.model.pages import Procedure

_MEASURED_PT = 300.0
_PT_PER_MM = 72 / 25.4
_WORDS_OF_KIND = {
    "step-figure": "step",
    "figure": "slide",
    "list": "slide",
    "checklist": "slide",
    "sources": "slide",
    "statement": "slide",
}


@dataclass(frozen=True, slots=True)
class Material:
    """All sketches of a procedure: what opens the talk, its body, what closes it."""

    opening: tuple[Sketch, ...]
    body: tuple[Sketch, ...]
    counts: tuple[Sketch, ...]
    aftercare: tuple[Sketch, ...]
    closing: tuple[Sketch, ...]

    @property
    def all(self) -> tuple[Sketch, ...]:
        """Every sketch in reading order."""
        return (*self.opening, *self.body, *self.counts, *self.aftercare, *self.closing)


_MADE: WeakKeyDictionary[Renderer, dict[tuple[int, int], tuple[Library, Procedure, Material]]] = WeakKeyDictionary()


def compose(library: Library, procedure: Procedure, renderer: Renderer) -> Document:
    """Return the slides of ``procedure`` as HTML for the typesetter."""
    return document_of(whole_deck(library, procedure, renderer), procedure, renderer, f"{procedure.id}/slides.pdf")


def compose_pptx(library: Library, procedure: Procedure, renderer: Renderer) -> Document:
    """Return the slides of ``procedure`` as JSON of a Deck, for the writer of .pptx files."""
    return file_of(whole_deck(library, procedure, renderer), procedure, f"{procedure.id}/slides.pptx")


def whole_deck(library: Library, procedure: Procedure, renderer: Renderer) -> Deck:
    """Return the deck of everything there is, everything said in full."""
    material = material_of(library, procedure, renderer)
    return deck_of(library, procedure, [Said(one, full=True) for one in material.all])


def material_of(library: Library, procedure: Procedure, renderer: Renderer) -> Material:
    """Return the sketches of ``procedure``; made once a Renderer, because all decks are made of them."""
    made = _MADE.setdefault(renderer, {})
    key = (id(library), id(procedure))
    if key not in made:
        made[key] = (library, procedure, _material(library, procedure, renderer))
    return made[key][2]


def _material(library: Library, procedure: Procedure, renderer: Renderer) -> Material:
    body = sketches_of(library, procedure, _pictures(procedure, renderer))
    after = tuple(one for one in body if one.id.startswith("aftercare"))
    opening, closing = questions(library, procedure)
    return Material(
        opening=tuple(one for pair in opening for one in pair),
        body=tuple(one for one in body if one not in after),
        counts=tuple(count_sketch(library, procedure, view_of(library, procedure))),
        aftercare=after,
        closing=tuple(one for pair in closing for one in pair),
    )


def _pictures(procedure: Procedure, renderer: Renderer) -> dict[str, SlidePicture]:
    """Return the pictures by id; the typesetter is asked how high each is for its width."""
    figures = figures_of(procedure, outline(procedure))
    if not figures:
        return {}
    paths = [f"content/procedures/{procedure.id}/figures/{figure.file}" for figure in figures]
    rows = [{"path": path, "id": f"picture-{at}"} for at, path in enumerate(paths)]
    html = renderer.render("slides/slide_measure.html.j2", rows=rows, width=_MEASURED_PT)
    spots = {name: top for page in renderer.measure(html) for name, top in page.items()}
    found = {}
    for at, figure in enumerate(figures):
        height = (spots[f"picture-{at}-end"] - spots[f"picture-{at}"]) * _PT_PER_MM
        aspect = round(_MEASURED_PT / height, 3) if height > 0 else 1.0
        found[figure.id] = SlidePicture(f"figure-{figure.id}", paths[at], plain_signs(figure.alt or ""), aspect)
    return found


def placed(slide: Slide) -> PictureFrame | None:
    """Return where the picture of ``slide`` comes to lie in its frame: at the left, from the top."""
    if slide.picture is None or slide.frame is None:
        return None
    width, height = fitted(slide.picture.aspect, slide.frame.width, slide.frame.height)
    return PictureFrame(slide.frame.left, slide.frame.top, round(width, 2), round(height, 2))


def document_of(deck: Deck, procedure: Procedure, renderer: Renderer, name: str) -> Document:
    """Return ``deck`` as HTML for the typesetter."""
    views = [{"slide": slide, "plate": placed(slide), "lines": list(_lines(slide))} for slide in deck.slides]
    values: dict[str, Any] = {"deck": deck, "views": views, "width": WIDTH, "height": HEIGHT, "disc": DISC}
    notes = LeftOut("notes", "notes", "what is said stands in the notes of the .pptx")
    return Document(
        kind="slides",
        procedure=procedure.id,
        edition=procedure.edition,
        title=procedure.title,
        name=name,
        text=renderer.render("slides/slides.html.j2", frame={"top": TOP, "foot": FOOT}, **values),
        resources=tuple(dict.fromkeys(one.picture.path for one in deck.slides if one.picture)),
        musts=tuple(musts_of(deck)),
        left_out=(notes,),
        explained=_explained(deck),
    )


def _lines(slide: Slide) -> Iterator[dict[str, float]]:
    """Yield length in pt and turn in degrees of the line from what a pointer shows to its number."""
    plate = placed(slide)
    for spot in slide.picture.spots if slide.picture and plate else ():
        across = (spot.left - spot.x) / 100 * (plate.width if plate else 0)
        down = (spot.top - spot.y) / 100 * (plate.height if plate else 0)
        yield {"length": round(hypot(across, down), 2), "turn": round(degrees(atan2(down, across)), 2)}


def file_of(deck: Deck, procedure: Procedure, name: str) -> Document:
    """Return ``deck`` as JSON for the writer of .pptx files."""
    return Document(
        kind="slides",
        procedure=procedure.id,
        edition=procedure.edition,
        title=procedure.title,
        name=name,
        text=json.dumps(asdict(deck), ensure_ascii=False),
        resources=tuple(dict.fromkeys(one.picture.path for one in deck.slides if one.picture)),
        musts=tuple(musts_of(deck)),
        explained=_explained(deck),
    )


def _explained(deck: Deck) -> dict[str, Any]:
    minutes = sum(one.seconds for one in deck.slides) / 60
    return {"slides": len(deck.slides), "minutes_spoken": round(minutes, 1)}


def musts_of(deck: Deck) -> Iterator[Must]:
    """Yield what must be seen, in order: the title of every slide with its landmark, then every line."""
    if deck.mark:
        yield Must("running", "mark", deck.mark)
    for slide in deck.slides:
        if slide.picture:
            yield Must("figure", slide.id, slide.picture.alt)
        yield from _slide_musts(slide)


def _slide_musts(slide: Slide) -> Iterator[Must]:
    kind = _WORDS_OF_KIND.get(slide.kind, slide.kind)
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


def deck_from(text: str) -> Deck:
    """Return the Deck that ``file_of`` wrote."""
    values = json.loads(text)
    slides = tuple(_slide(one) for one in values.pop("slides"))
    return Deck(**values, slides=slides)


def _slide(values: dict[str, Any]) -> Slide:
    boxes = tuple(_box(one) for one in values.pop("boxes"))
    picture, frame = values.pop("picture"), values.pop("frame")
    notes = tuple(SpeakerNote(**one) for one in values.pop("notes"))
    return Slide(
        **values,
        boxes=boxes,
        notes=notes,
        picture=_picture(picture) if picture else None,
        frame=PictureFrame(**frame) if frame else None,
    )


def _box(values: dict[str, Any]) -> SlideBox:
    rows = tuple(SlideRow(**row) for row in values.pop("rows"))
    left, top, right, bottom = values.pop("pad")
    return SlideBox(**values, rows=rows, pad=(left, top, right, bottom))


def _picture(values: dict[str, Any]) -> SlidePicture:
    return SlidePicture(**{**values, "spots": tuple(PointerSpot(**spot) for spot in values["spots"])})

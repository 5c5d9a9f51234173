"""A session as files: slides of 16:9 as tagged PDF to be shown and as .pptx to be changed, both of one Deck; and the
teacher's plan on A4, with a clock time for each slide.

A .pptx cannot carry our type to every machine, so it names Arial, and every line is measured with the wider of both
types (``slide_widths``). What is said, when, and what it rests on stands in the notes of the .pptx.
"""

from collections.abc import Iterator
from dataclasses import replace
from typing import Any

from pydantic import TypeAdapter

from builder.compose.document import Document, LeftOut, Must, PointedAt, Renderer, promised
from builder.compose.slides.session import QUESTIONS_SHARE, Session, session_of
from builder.compose.slides.slide import Deck, Slide
from builder.compose.slides.slide_deck import WORDS_A_MINUTE
from builder.compose.slides.slide_layout import FOOT, TOP
from builder.compose.view.head import head_of
from builder.compose.view.words import clock, signal_word
from builder.load.program_words import gettext, noted
from builder.model.library import Library
from builder.model.pages import Procedure

_DECKS = TypeAdapter(Deck)
_KINDS = {
    "step": noted("Step"), "step-figure": noted("Step"), "figure": noted("Figure"), "choice": noted("Choice"),
    "map": noted("Map"), "question": noted("Question"), "answer": noted("Answer"), "statement": noted("Why"),
    "checklist": noted("Before you start"), "title": noted("Title"), "sources": noted("Sources"),
}  # fmt: skip


def compose(library: Library, procedure: Procedure, renderer: Renderer, minutes: int = 0) -> Document:
    """Return the slides of a session of ``minutes`` (0: of all there is) as HTML for the typesetter."""
    session = session_of(library, procedure, renderer, minutes)
    template, deck = "slides/slides.html.j2", session.deck
    look = renderer.look.paper_mark(procedure, template)
    deck = replace(deck, mark=". ".join(filter(None, (deck.mark, look))))
    html = renderer.render(template, deck=deck, frame={"top": TOP, "foot": FOOT})
    notes = LeftOut("notes", "notes", "what is said stands in the notes of the .pptx")
    return _document(procedure, replace(session, deck=deck), "pdf", html, notes)


def compose_pptx(library: Library, procedure: Procedure, renderer: Renderer, minutes: int = 0) -> Document:
    """Return the slides of a session of ``minutes`` (0: of all there is) as JSON of a Deck, for the writer of .pptx."""
    session = session_of(library, procedure, renderer, minutes)
    return _document(procedure, session, "pptx", _DECKS.dump_json(session.deck).decode())


def deck_from(text: str) -> Deck:
    """Return the Deck that ``compose_pptx`` wrote."""
    return _DECKS.validate_json(text)


def _document(procedure: Procedure, session: Session, form: str, text: str, *left_out: LeftOut) -> Document:
    deck, length = session.deck, f"-{session.minutes}-minutes" if session.minutes else ""
    pictures = [slide.picture for slide in deck.slides if slide.picture]
    return Document.about(
        procedure,
        "slides",
        f"slides{length}.{form}",
        text,
        resources=tuple(dict.fromkeys(picture.path for picture in pictures if picture.path)),
        musts=tuple(musts_of(deck)),
        pointed=tuple(
            PointedAt(picture.alt, spot.number, spot.left, spot.top) for picture in pictures for spot in picture.spots
        ),
        left_out=(*left_out, *session.not_shown),
        explained={
            "slides": len(deck.slides), "minutes_spoken": round(session.seconds / 60, 1), **session.explained
        },
    )  # fmt: skip


def musts_of(deck: Deck) -> Iterator[Must]:
    """Yield what must be seen, in order: the title of every slide with its landmark, then every line."""
    yield from promised("running", "mark", deck.mark)
    for slide in deck.slides:
        if slide.picture:
            yield Must("figure", slide.id, slide.picture.alt)
        before: list[str] = []
        for box in slide.boxes:
            words = [" ".join(part for part in (row.label, row.text) if part) for row in box.rows]
            if box.role in ("number", "critical", "signal", "letter"):
                before = [*before, *words]
                continue
            words[0] = " ".join([*before, words[0]])
            yield from promised(box.role, slide.id, *words)
            before = []


def plan(library: Library, procedure: Procedure, renderer: Renderer, minutes: int) -> Document:
    """Return the teacher's plan of a session on A4."""
    session = session_of(library, procedure, renderer, minutes)
    template = "slides/slides_plan.html.j2"
    head = head_of(library, procedure, renderer.look.paper_mark(procedure, template))
    values: dict[str, Any] = {
        "head": head, "minutes": minutes, "rows": [_row(slide) for slide in session.deck.slides],
        # An answer goes with its question.
        "left": [(_what(one), one.title) for one in session.left_out if one.kind != "answer"],
        "talk": clock(int(session.seconds)), "questions": clock(int(session.questions)),
        "least": f"{minutes * QUESTIONS_SHARE:g}", "pace": WORDS_A_MINUTE, "end": f"{minutes}:00",
        "spare": not session.left_out and session.questions > minutes * 60 * QUESTIONS_SHARE * 2,
    }  # fmt: skip
    return Document.about(
        procedure,
        "session-plan",
        f"session-plan-{minutes}-minutes.pdf",
        renderer.render(template, **values),
        musts=(*head.musts, *_row_musts(values)),
        left_out=session.not_shown,
        explained=session.explained,
    )


def _row(slide: Slide) -> dict[str, Any]:
    """Return a slide in the plan: ``what`` it is and how long it takes."""
    is_critical = slide.critical and slide.kind in ("step", "step-figure")
    seconds = max(1, round(slide.seconds))
    return {"slide": slide, "what": _what(slide), "critical": is_critical, "seconds": f"{seconds} s"}


def _what(slide: Slide) -> str:
    if slide.kind == "caution":
        return signal_word(slide.signal)
    if slide.kind == "list":
        return slide.eyebrow
    if slide.kind == "figure" and slide.mark:  # the number that follows is the step's, not the figure's
        return f"{gettext('Figure, step')} {slide.mark}"
    return f"{gettext(_KINDS[slide.kind])} {slide.mark}".strip()


def _row_musts(values: dict[str, Any]) -> Iterator[Must]:
    for number, row in enumerate(values["rows"], start=1):
        slide, id = row["slide"], f"slide-{number}"
        kind = "step" if row["critical"] else "caution" if slide.signal else "row"
        yield Must(kind, id, f"{slide.clock} {number} {row['what']} {slide.title}")
        yield from promised("row", id, slide.ask)
    until = gettext("%(start)s until %(end)s", start=values["questions"], end=values["end"])
    yield Must("row", "questions", f"{values['talk']} {gettext('Questions')} {until}")
    for at, left in enumerate(values["left"]):
        yield Must("row", f"left-{at}", " ".join(left))

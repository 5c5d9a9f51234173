"""Sessions as files: the slides of a slot (PDF, .pptx), the teacher's plan on A4, a clock time for each slide."""

from collections.abc import Iterator
from dataclasses import dataclass, replace
from typing import Any

from builder.compose.document import Document, LeftOut, Must, Renderer, promised
from builder.compose.slides.session import QUESTIONS_SHARE, Session, session_of
from builder.compose.slides.slide import Sketch, Slide
from builder.compose.slides.slide_deck import WORDS_A_MINUTE
from builder.compose.slides.slides import document_of, file_of
from builder.compose.view.head import head_of
from builder.compose.view.words import clock, signal_word
from builder.load.program_words import gettext, noted
from builder.model.library import Library
from builder.model.pages import Procedure

_NOT_SHOWN = "no time: what is shown instead is worth more in this slot"
_KINDS = {
    "step": noted("Step"),
    "step-figure": noted("Step"),
    "caution": noted("Caution"),
    "figure": noted("Figure"),
    "choice": noted("Choice"),
    "map": noted("Map"),
    "question": noted("Question"),
    "answer": noted("Answer"),
    "statement": noted("Why"),
    "checklist": noted("Before you start"),
    "list": noted("List"),
    "title": noted("Title"),
    "sources": noted("Sources"),
}


@dataclass(frozen=True, slots=True)
class RowView:
    """A slide in the plan: when it begins, its number, what it is, how long it takes, what to ask and to hear."""

    clock: str
    number: int
    kind: str
    step: str
    title: str
    critical: bool
    signal: str
    seconds: str
    ask: str
    answer: str


def slides(library: Library, procedure: Procedure, renderer: Renderer, minutes: int) -> Document:
    """Return the slides of a session as HTML for the typesetter."""
    session = session_of(library, procedure, renderer, minutes)
    made = document_of(session.deck, procedure, renderer, f"slides-{minutes}-minutes.pdf")
    return _with_plan(made, session)


def slides_pptx(library: Library, procedure: Procedure, renderer: Renderer, minutes: int) -> Document:
    """Return the slides of a session as JSON of a Deck, for the writer of .pptx files."""
    session = session_of(library, procedure, renderer, minutes)
    return _with_plan(file_of(session.deck, procedure, f"slides-{minutes}-minutes.pptx"), session)


def plan(library: Library, procedure: Procedure, renderer: Renderer, minutes: int) -> Document:
    """Return the teacher's plan of a session on A4."""
    session = session_of(library, procedure, renderer, minutes)
    template = "slides/slides_plan.html.j2"
    head = head_of(library, procedure, renderer.look.paper_mark(procedure, template))
    values: dict[str, Any] = {
        "head": head, "minutes": minutes, "rows": tuple(_rows(session)),
        "left": tuple(_left(session.left_out)),
        "talk": clock(int(session.seconds)), "questions": clock(int(session.questions)),
        "least": f"{minutes * QUESTIONS_SHARE:g}", "pace": WORDS_A_MINUTE, "end": f"{minutes}:00",
        "spare": not session.left_out and session.questions > minutes * 60 * QUESTIONS_SHARE * 2,
    }  # fmt: skip
    return Document.about(
        procedure,
        "session-plan",
        f"session-plan-{minutes}-minutes.pdf",
        renderer.render(template, **values),
        musts=(*head.musts, *_musts(values)),
        left_out=_left_out(session),
        explained=_explained(session),
    )


def _with_plan(document: Document, session: Session) -> Document:
    return replace(
        document,
        left_out=(*document.left_out, *_left_out(session)),
        explained={**document.explained, **_explained(session)},
    )


def _explained(session: Session) -> dict[str, Any]:
    return {
        "session_minutes": session.minutes,
        "talk_seconds": round(session.seconds),
        "question_seconds": round(session.questions),
    }


def _left_out(session: Session) -> tuple[LeftOut, ...]:
    return tuple(LeftOut(sketch.kind, sketch.id, _NOT_SHOWN) for sketch in session.left_out)


def _rows(session: Session) -> Iterator[RowView]:
    begins = 0.0
    for number, slide in enumerate(session.deck.slides, start=1):
        sketch = session.sketches.get(slide.id)
        ask = sketch.speech.prompt if sketch else ""
        yield RowView(
            clock=clock(int(begins)),
            number=number,
            kind=_kind(sketch, _mark(slide)) if sketch else gettext(_KINDS[slide.kind]),
            step=_mark(slide),
            title=slide.title,
            critical=slide.critical and slide.kind in ("step", "step-figure"),
            signal=slide.signal,
            seconds=f"{max(1, round(slide.seconds))} s",
            ask=ask,
            answer=sketch.speech.answer if sketch and ask else "",
        )
        begins += slide.seconds


def _kind(sketch: Sketch, mark: str) -> str:
    if sketch.kind == "caution":
        return signal_word(sketch.signal)
    if sketch.kind == "figure" and mark:
        return gettext("Figure, step")  # the number that follows is the step's, not the figure's
    return sketch.eyebrow if sketch.kind == "list" else gettext(_KINDS[sketch.kind])


def _mark(slide: Slide) -> str:
    return next((box.mark for box in slide.boxes if box.role in ("number", "critical")), "")


def _left(sketches: tuple[Sketch, ...]) -> Iterator[tuple[str, str]]:
    """Yield kind and title of slides that are not shown."""
    for sketch in sketches:
        if sketch.kind == "answer":
            continue  # goes with its question
        mark = f" {sketch.mark}" if sketch.kind in ("step", "step-figure") else ""
        yield f"{_kind(sketch, '')}{mark}", sketch.title


def _musts(values: dict[str, Any]) -> Iterator[Must]:
    for row in values["rows"]:
        kind = "step" if row.critical else "caution" if row.signal else "row"
        yield Must(kind, f"slide-{row.number}", f"{row.clock} {row.number} {row.kind} {row.step} {row.title}")
        yield from promised("row", f"slide-{row.number}", row.ask)
    until = gettext("%(start)s until %(end)s", start=values["questions"], end=values["end"])
    yield Must("row", "questions", f"{values['talk']} {gettext('Questions')} {until}")
    for at, slide in enumerate(values["left"]):
        yield Must("row", f"left-{at}", " ".join(slide))

"""The supervision map: across procedures, which level each step asks for, to be printed and pinned up."""

from collections.abc import Iterator
from dataclasses import dataclass

from builder.compose.document import Must, Renderer
from builder.compose.site.web import WebPage
from builder.compose.view.head import page_marks
from builder.compose.view.outline import outline, step_blocks
from builder.load.program_words import gettext, noted
from builder.model.library import Library
from builder.model.pages import Procedure, Supervision

NAME = "year/supervision.html"
TITLE = noted("Who may do which step")
_LEVELS = {
    Supervision.WATCH: noted("Watches"),
    Supervision.ASSIST: noted("Assists"),
    Supervision.PART: noted("Does part of the step, supervised"),
    Supervision.WHOLE: noted("Does the whole step, supervised"),
    Supervision.WHOLE_HELP_NEARBY: noted("Does the whole step, with help nearby"),
    Supervision.TEACH: noted("Teaches the step to others"),
    None: noted("Not said: ask before you start"),
}


@dataclass(frozen=True, slots=True)
class SupervisionRow:
    """A level in words, and the steps that ask for it: number and title."""

    level: str
    steps: tuple[tuple[str, str], ...]


@dataclass(frozen=True, slots=True)
class SupervisionMap:
    """What one procedure asks for, from the least that a trainee does to the most; ``marks`` say what it is not."""

    id: str
    title: str
    edition: str
    marks: tuple[str, ...]
    rows: tuple[SupervisionRow, ...]


def supervision_maps(library: Library) -> tuple[SupervisionMap, ...]:
    """Return the map of each procedure that is not withdrawn; a step in two places stands under its first number."""
    return tuple(
        SupervisionMap(
            str(procedure.id),
            str(procedure.title),
            str(procedure.edition),
            tuple(page_marks(library, procedure)),
            tuple(_rows(procedure)),
        )
        for procedure in library.in_use
    )


def _rows(procedure: Procedure) -> Iterator[SupervisionRow]:
    in_order = [block for block in step_blocks(outline(procedure)) if block.turn == 1]
    for level, words in _LEVELS.items():
        steps = tuple((block.number, str(block.step.title)) for block in in_order if block.step.supervision is level)
        if steps:
            yield SupervisionRow(gettext(words), steps)


def compose(library: Library, renderer: Renderer) -> WebPage:
    """Return the page of the map."""
    maps = supervision_maps(library)
    text = renderer.render("year/supervision.html.j2", title=gettext(TITLE), maps=maps)
    musts = tuple(
        Must("step", f"{one.id}-{number}", f"{number} {title}")
        for one in maps
        for row in one.rows
        for number, title in row.steps
    )
    told = gettext("Which level of supervision each step asks for")
    return WebPage("year", gettext(TITLE), NAME, text, musts=musts, description=told)

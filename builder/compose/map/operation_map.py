"""The map of an operation as a sheet of A4, with the same as tables on the sheet after it.

A map that is too wide or too high for one sheet goes on on the next. One whose choices lie side by side in more lanes
than a sheet has room for is told by its tables alone, and says so.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from math import inf
from typing import TypeVar

from builder.compose.document import Document, LeftOut, Must, Renderer, promised
from builder.compose.map.map_drawing import Drawing, draw, marks_of
from builder.compose.map.map_view import MapBar, MapChoice, MapStep, MapView, map_of, windowed
from builder.compose.view.head import head_of
from builder.compose.view.words import series
from builder.facts.remembered import once_per_library
from builder.findings.message_words import capital
from builder.load.program_words import gettext
from builder.model.library import Library
from builder.model.pages import Procedure

R = TypeVar("R")
ROOM = 164.4
"""How high a drawing may be on its sheet, in mm, so that its key still stands below it."""
_MOST_COLUMNS, _ROW = 17, 5.0
_MOST_ROWS = 8  # a table that a page would part becomes two tables in the file


@dataclass(frozen=True, slots=True)
class MapRow:
    """A row of the table of steps: a choice (only ``title``), or a step with what marks it and what is first seen."""

    number: str
    title: str
    critical: bool = False
    marks: tuple[str, ...] = ()
    seen: str = ""


@dataclass(frozen=True, slots=True)
class MapTables:
    """The same as the drawing, for those who hear it: rows of steps, and of things in the patient, in runs."""

    steps: tuple[Sequence[MapRow], ...]
    bars: tuple[Sequence[MapBar], ...]

    @property
    def musts(self) -> Iterator[Must]:
        """Every row, in order."""
        for row in (row for run in self.steps for row in run):
            words = " ".join(
                (row.number, row.title, *([gettext("Critical")] if row.critical else []), *row.marks, row.seen)
            )
            yield Must("step" if row.number else "choice", f"table-{row.number or row.title}", words)
        for bar in (bar for run in self.bars for bar in run):
            yield Must("bar", f"table-{bar.name}", f"{bar.name} {bar.course}")


@dataclass(frozen=True, slots=True)
class MapFigure:
    """The map on a page."""

    drawings: tuple[str, ...]
    tables: MapTables

    @property
    def musts(self) -> Iterator[Must]:
        """What is in the patient, which no other part of the page tells."""
        return (must for must in self.tables.musts if must.kind == "bar")


def compose(library: Library, procedure: Procedure, renderer: Renderer) -> Document:
    """Return the map of ``procedure``."""
    template = "map/map.html.j2"
    head = head_of(library, procedure, renderer.look.paper_mark(procedure, template))
    view = map_of(library, procedure)
    drawn = tuple(drawings_of(view, name_of(procedure)))
    tables = tables_of(view, _MOST_ROWS)
    values = {"head": head, "drawings": [drawing.svg for _, drawing in drawn], "tables": tables}
    too_many = "its choices lie side by side in more lanes than a sheet has room for; its tables say the same"
    return Document.about(
        procedure,
        "map",
        "map.pdf",
        renderer.render(template, **values),
        musts=(*head.musts, *(must for part, _ in drawn for must in _musts(part)), *tables.musts),
        left_out=() if drawn else (LeftOut("drawing", "map", too_many),),
        explained={"bars": [[at, *piece] for at, (_, drawing) in enumerate(drawn) for piece in drawing.pieces]},
    )


def name_of(procedure: Procedure) -> str:
    """Return what the drawing is called for those who hear it."""
    return gettext("Map of %(title)s. The tables that follow it say the same.", title=procedure.title)


def tables_of(view: MapView, most: int = 10_000) -> MapTables:
    """Return the tables of ``view``, in runs of at most ``most`` rows."""
    rows = tuple(_row(view, entry) for entry in view.line)
    return MapTables(tuple(_runs(rows, most)), tuple(_runs(view.bars, most)))


def _row(view: MapView, entry: MapChoice | MapStep) -> MapRow:
    if isinstance(entry, MapChoice):
        return MapRow("", entry.label)
    counts = [gettext("Count %(counts)s", counts=series(entry.counts))] if entry.counts else []
    seen = series(sight.name for sight in view.sights if entry.number in sight.numbers)
    marks = (*(gettext("Danger: %(hazard)s", hazard=hazard) for hazard in entry.dangers), *counts)
    return MapRow(entry.number, entry.title, entry.critical, marks, capital(seen))


def _runs(rows: Sequence[R], most: int) -> Iterator[Sequence[R]]:
    yield from (rows[at : at + most] for at in range(0, len(rows), most))


@once_per_library
def figure_of(library: Library, procedure: Procedure) -> MapFigure:
    """Return the map of ``procedure`` as a page shows it: drawings that may be of any height, and tables."""
    view = map_of(library, procedure)
    drawn = drawings_of(view, name_of(procedure), inf)
    return MapFigure(tuple(drawing.svg for _, drawing in drawn), tables_of(view))


def drawings_of(view: MapView, title: str, room: float = ROOM) -> Iterator[tuple[MapView, Drawing]]:
    """Yield the drawings of ``view``, each at most ``room`` mm high and with the part of the map that is on it.

    Where the lanes alone are higher, there is none.
    """
    for first in range(1, view.columns + 1, _MOST_COLUMNS):
        part = view if view.columns <= _MOST_COLUMNS else windowed(view, first, first + _MOST_COLUMNS - 1)
        yield from _fitting(part, title, room)


def _fitting(view: MapView, title: str, room: float) -> Iterator[tuple[MapView, Drawing]]:
    """Yield ``view`` on one sheet, or with as many bars as it has room for, and the others on the next."""
    count = len(view.bars)
    while count >= 0:
        part = replace(view, bars=view.bars[:count])
        drawing = draw(part, title, room)
        if drawing.height <= room:
            yield part, drawing
            if 0 < count < len(view.bars):
                yield from _fitting(replace(view, sights=(), bars=view.bars[count:]), title, room)
            return
        count -= max(1, int((drawing.height - room) / _ROW) // 2)


def _musts(view: MapView) -> Iterator[Must]:
    """Yield all that is drawn, in the order in which it is drawn."""
    yield from (Must("sight", sight.name, f"{sight.at} {sight.name}") for sight in view.sights)
    for choice in view.choices:
        yield from promised("choice", choice.label, choice.label)
    for step in view.steps:
        yield Must("step", step.anchor, " ".join((step.number, step.title, *map(gettext, marks_of(step)))))
    yield from (Must("bar", bar.name, bar.text) for bar in view.bars)

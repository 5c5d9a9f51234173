"""Cards, slides and other papers, set when somebody looks at them, with the findings beside what they concern."""

from __future__ import annotations

from dataclasses import dataclass

from werkzeug.exceptions import NotFound
from werkzeug.wrappers import Response

from builder.compose.view.anchors import place_on
from builder.findings.message_words import quoted
from builder.outputs import OUTPUTS
from builder.preview.answer import Request, rendered
from builder.preview.notes import FindingNote, notes_of
from builder.preview.page_view import framed, library_of, old_words
from builder.preview.press import NotSet, Paper
from builder.preview.state import State
from builder.preview.workshop import Workshop
from builder.publish.output import Output

_OFFERED = OUTPUTS.offered_singly


def _offered(output: str) -> Output:
    if output not in _OFFERED:
        raise NotFound(f"There is no output {quoted(output)}.")
    return _OFFERED[output]


@dataclass(frozen=True, slots=True)
class NoteMark:
    """The number of a note on the picture of a side, so far down in its own units."""

    number: int
    down: float


@dataclass(frozen=True, slots=True)
class PaperSide:
    """One side as it is shown: the address of its picture, its size in mm, the marks on it, and the notes beside it."""

    number: int
    picture: str
    width: float
    height: float
    marks: tuple[NoteMark, ...]
    notes: tuple[FindingNote, ...]


def view(workshop: Workshop, _: Request, output: str, id: str) -> Response:
    """Answer ``paper/<output>/<id>``: the paper with its frame."""
    row = _offered(output)
    if not row.format.viewable:
        raise NotFound(f"{row.title} cannot be looked at here, only kept as a file.")
    return framed(workshop, id, (output,), output if row.tab else "papers")


def view_all(workshop: Workshop, _: Request, id: str) -> Response:
    """Answer ``papers/<id>``: every paper of a procedure, to look at and to keep."""
    offers = [(name, row.title, row.format.viewable) for name, row in _OFFERED.items()]
    return framed(workshop, id, (), "papers", offers=offers)


def part(workshop: Workshop, _: Request, output: str, id: str) -> Response:
    """Answer ``part/<output>/<id>``: pictures of the sides, which take the place of those that are shown."""
    state, row = workshop.state, _offered(output)
    notes = notes_of(workshop, state, library_of(state, id).by_id[id])
    paper, old = _set(workshop, state, id, output)
    sheets = _sheets(workshop, paper, notes)
    placed = {note.number for sheet in sheets for note in sheet.notes}
    return rendered(
        workshop,
        "paper.html.j2",
        state,
        pane=output,
        procedure=id,
        what=row.title.lower() if row.tab else "paper",
        output=output,
        sheets=sheets,
        others=tuple(note for note in notes if note.number not in placed),
        left_out=paper.left_out if paper else (),
        old=old,
    )


def _set(workshop: Workshop, state: State, id: str, output: str) -> tuple[Paper | None, tuple[str, ...]]:
    """Return the paper as it stands or the last that could be set, and why it is an old one."""
    why_old = old_words(state, id)
    paper = workshop.paper(library_of(state, id), id, output)
    if isinstance(paper, Paper):
        workshop.last_papers[id, output] = paper
    else:
        why_old += _why(paper)
    return workshop.last_papers.get((id, output)), why_old


def _why(trouble: NotSet) -> tuple[str, ...]:
    also = trouble.finding.also if trouble.finding else ()
    return (trouble.message, *(f"{other.at}: {other.message}" for other in also))


def _sheets(workshop: Workshop, paper: Paper | None, notes: tuple[FindingNote, ...]) -> tuple[PaperSide, ...]:
    sheets = []
    for number, side in enumerate(paper.sides if paper else (), start=1):
        here = [(down, note) for note in notes if (down := place_on(side.anchors, note.anchor)) is not None]
        here.sort(key=lambda pair: (pair[0], pair[1].number))
        marks: dict[float, NoteMark] = {}
        for down, note in here:
            marks.setdefault(round(down, 3), NoteMark(note.number, round(down * side.height_mm, 1)))
        picture = f"{workshop.home}/side/{paper.key}/{number}" if paper else ""
        placed = tuple(note for _, note in here)
        sheets.append(PaperSide(number, picture, side.width_mm, side.height_mm, tuple(marks.values()), placed))
    return tuple(sheets)


def side(workshop: Workshop, _: Request, key: str, number: int) -> Response:
    """Answer ``side/<key>/<number>``: the picture of one side."""
    picture = workshop.press.side(key, number)
    if picture is None:
        last = next((paper for paper in workshop.last_papers.values() if paper.key == key), None)
        picture = last.sides[number - 1] if last and 0 < number <= len(last.sides) else None
    if picture is None:
        raise NotFound("This picture is no longer kept.")
    return Response(picture.png, mimetype="image/png")


def file(workshop: Workshop, _: Request, output: str, id: str) -> Response:
    """Answer ``keep/<output>/<id>``: the finished file, to be kept or printed."""
    state, row = workshop.state, _offered(output)
    paper = workshop.press.paper(library_of(state, id), id, output, as_file=True)
    if isinstance(paper, NotSet):
        return rendered(workshop, "not_set.html.j2", state, 409, why=_why(paper), title=row.title)
    # Never shown as a page of this address: whatever stands in it may not speak with its rights.
    headers = {"Content-Disposition": f'attachment; filename="{id}-{paper.name}"'}
    return Response(paper.content, headers=headers, mimetype=row.format.media_type)

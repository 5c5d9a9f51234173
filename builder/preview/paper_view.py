"""Cards, slides and other papers, set when somebody looks at them, with the findings beside what they concern."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from builder.findings.finding import SecondPlace
from builder.preview.anchors import on_paper
from builder.preview.answer import Request, Response, Workshop
from builder.preview.answer_pages import rendered
from builder.preview.gate import Refusal
from builder.preview.notes import FindingNote, notes_of
from builder.preview.outputs import IN_TABS, LOOKED_AT, NAMES, titled
from builder.preview.page_view import found, old_words
from builder.preview.press import NotSet, Paper
from builder.preview.state import State
from builder.preview.tabs import tabs_of
from builder.preview.workshop import PreviewWorkshop, real

_KINDS = {
    ".pdf": "application/pdf",
    ".txt": "text/plain; charset=utf-8",
    ".zip": "application/zip",
    ".html": "text/html; charset=utf-8",
    ".pptx": "application/vnd.openxmlformats-officedocument.presentationml.presentation",
}


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


def view(workshop: Workshop, request: Request) -> Response:
    """Answer ``paper/<output>/<id>``: the paper with its frame."""
    shop = real(workshop)
    output, id = _named(request, "paper/")
    state = shop.state()
    procedure = found(state, id)
    if output not in LOOKED_AT:
        raise Refusal(404, f"There is nothing to look at in {output!r}.")
    tab = output if output in IN_TABS else "papers"
    parts = [f"{shop.home}/part/{output}/{id}"]
    values: dict[str, Any] = {"procedure": id, "title": str(procedure.title), "panes": parts, "is_pair": False}
    return rendered(shop, "procedure.html.j2", state, **values, tabs=tabs_of(shop, id, tab))


def view_all(workshop: Workshop, request: Request) -> Response:
    """Answer ``papers/<id>``: every paper of a procedure, to look at and to keep."""
    shop = real(workshop)
    id = request.path.removeprefix("papers/")
    state = shop.state()
    procedure = found(state, id)
    offers = [(name, titled(name), name in LOOKED_AT) for name in NAMES]
    values: dict[str, Any] = {"procedure": id, "title": str(procedure.title), "offers": offers}
    return rendered(shop, "papers.html.j2", state, **values, tabs=tabs_of(shop, id, "papers"))


def part(workshop: Workshop, request: Request) -> Response:
    """Answer ``part/<output>/<id>``: pictures of the sides, which take the place of those that are shown."""
    shop = real(workshop)
    output, id = _named(request, "part/")
    state = shop.state()
    procedure = found(state, id)
    paper, old = _set(shop, state, output, id)
    notes = notes_of(shop, state, procedure)
    sheets = _sheets(shop, paper, notes)
    placed = {note.number for sheet in sheets for note in sheet.notes}
    return rendered(
        shop,
        "paper.html.j2",
        state,
        pane=output,
        procedure=id,
        what=titled(output).lower() if output in IN_TABS else "paper",
        output=output,
        sheets=sheets,
        others=tuple(note for note in notes if note.number not in placed),
        left_out=paper.left_out if paper else (),
        old=old,
    )


def _set(shop: PreviewWorkshop, state: State, output: str, id: str) -> tuple[Paper | None, tuple[str, ...]]:
    """Return the paper as it stands or the last that could be set, and why it is an old one."""
    holder = state.holder(id)
    assert holder is not None  # whoever asks has looked
    old = old_words(state, id)
    paper = shop.paper(holder, id, output)
    if isinstance(paper, Paper):
        shop.last_papers[id, output] = paper
        return paper, old
    return shop.last_papers.get((id, output)), (*old, *_why(paper))


def _why(trouble: NotSet) -> tuple[str, ...]:
    also: tuple[SecondPlace, ...] = trouble.finding.also if trouble.finding else ()
    return (trouble.message, *(f"{second.at}: {second.message}" for second in also))


def _sheets(shop: PreviewWorkshop, paper: Paper | None, notes: tuple[FindingNote, ...]) -> tuple[PaperSide, ...]:
    sheets = []
    for number, side in enumerate(paper.sides if paper else (), start=1):
        here = [(down, note) for note in notes if (down := on_paper(note.anchor, side.anchors)) is not None]
        here.sort(key=lambda pair: (pair[0], pair[1].number))
        marks: dict[float, NoteMark] = {}
        for down, note in here:
            marks.setdefault(round(down, 3), NoteMark(note.number, round(down * side.height_mm, 1)))
        picture = f"{shop.home}/side/{paper.key}/{number}" if paper else ""
        placed = tuple(note for _, note in here)
        sheets.append(PaperSide(number, picture, side.width_mm, side.height_mm, tuple(marks.values()), placed))
    return tuple(sheets)


def side(workshop: Workshop, request: Request) -> Response:
    """Answer ``side/<key>/<number>``: the picture of one side."""
    shop = real(workshop)
    key, number = _named(request, "side/")
    found = shop.press.side(key, int(number)) if number.isascii() and number.isdigit() else None
    if found is None:
        last = next((one for one in shop.last_papers.values() if one.key == key), None)
        sides = last.sides if last else ()
        found = sides[int(number) - 1] if number.isdigit() and 0 < int(number) <= len(sides) else None
    if found is None:
        raise Refusal(404, "This picture is no longer kept.")
    return Response(200, "image/png", found.png)


def file(workshop: Workshop, request: Request) -> Response:
    """Answer ``keep/<output>/<id>``: the finished file, to be kept or printed."""
    shop = real(workshop)
    output, id = _named(request, "keep/")
    state = shop.state()
    found(state, id)
    holder = state.holder(id)
    if output not in NAMES or holder is None:
        raise Refusal(404, f"There is no output {output!r}.")
    paper = shop.press.paper(holder, id, output, as_file=True)
    if isinstance(paper, NotSet):
        values = {"why": _why(paper), "title": titled(output)}
        return rendered(shop, "not_set.html.j2", state, 409, **values)
    ending = paper.name[paper.name.rfind(".") :]
    kind = _KINDS.get(ending, "application/octet-stream")
    # Never shown as a page of this address: whatever stands in it may not speak with its rights.
    return Response(200, kind, paper.content, {"Content-Disposition": f'attachment; filename="{id}-{paper.name}"'})


def _named(request: Request, prefix: str) -> tuple[str, str]:
    first, _, second = request.path.removeprefix(prefix).partition("/")
    return first, second

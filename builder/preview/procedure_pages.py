"""The page of a procedure, composed when somebody looks at it, with its findings beside their places."""

import re
from dataclasses import dataclass
from typing import Any

from werkzeug.exceptions import NotFound
from werkzeug.wrappers import Response

from builder.compose.consents import without_withdrawn
from builder.compose.site.page import page_values
from builder.compose.view.procedure_view import view_of
from builder.draft.told_file import TOLD
from builder.findings.finding import Refused
from builder.findings.message_words import quoted
from builder.model.library import Library
from builder.outputs import OUTPUTS
from builder.preview.answer import Request, rendered
from builder.preview.notes import FindingNote, notes_of, parts_of, place_on, title_of
from builder.preview.press import NotSet, Paper
from builder.preview.state import State
from builder.preview.workshop import Workshop
from builder.publish.output import Output

_FIGURE = re.compile(r'(?P<attribute>src|href)="figures/')
_IN_TABS = sorted((row for row in OUTPUTS.files if row.tab), key=lambda row: row.tab)


_HEADINGS = (
    ("title", "title"), ("before", "before_you_start"), ("kit", "kit"), ("why", "prose"), ("steps", "sequence"),
)  # fmt: skip
"""Headings of a page that have a place in the form of the procedure itself."""
_WAS = "You see it as it last was."
_NEVER = "It could not be used when the preview was started either, so it is missing here."
_OFFERED = OUTPUTS.offered_singly


def view_page(workshop: Workshop, _: Request, id: str, beside: str = "") -> Response:
    """Answer ``page/<id>`` (the page with its frame; its part is asked for by the browser), or ``both/<id>``: with the
    output ``beside`` it."""
    return framed(workshop, id, ("page", beside), "both") if beside else framed(workshop, id, ("page",), "page")


def framed(workshop: Workshop, id: str, panes: tuple[str, ...], tab: str, **values: Any) -> Response:
    """Return the frame of the procedure ``id``: its tabs, of which ``tab`` is open, and the ``panes`` below them."""
    state = workshop.state
    title = str(library_of(state, id).by_id[id].title)
    tabs = tabs_of(workshop, id, tab)
    parts = [f"{workshop.home}/part/{pane}/{id}" for pane in panes]
    template = "procedure.html.j2" if panes else "papers.html.j2"
    return rendered(workshop, template, state, procedure=id, title=title, tabs=tabs, panes=parts, **values)


def tabs_of(workshop: Workshop, id: str, tab: str) -> list[tuple[str, str, bool]]:
    """Return the tabs of a procedure: words, address, and whether it is the one that is open."""
    is_told = f"content/procedures/{id}/{TOLD}" in workshop.state.names
    ways = [("read", "Read", f"read/{id}")] if is_told else []
    ways += [("order", "Order", f"order/{id}"), ("asked", "Asked", f"asked/{id}"), ("found", "Found", f"found/{id}")]
    ways += [("page", "Page", f"page/{id}"), ("both", "Page and card", f"both/{id}")]
    ways += [(row.name, row.title, f"paper/{row.name}/{id}") for row in _IN_TABS]
    ways += [
        ("papers", "All papers", f"papers/{id}"),
        ("sources", "Sources", f"sources/{id}"),
        ("done", "Done", f"done/{id}"),
    ]
    return [(words, f"{workshop.home}/{address}", name == tab) for name, words, address in ways]


def page_part(workshop: Workshop, _: Request, id: str) -> Response:
    """Answer ``part/page/<id>``: the page itself, which takes the place of the one that is shown."""
    state = workshop.state
    library = library_of(state, id)
    html, old = _composed(workshop, state, library, id)
    procedure = library.by_id[id]
    forms = [(anchor, f"{workshop.home}/edit/{file}") for anchor, file in parts_of(procedure).items()]
    forms += [(anchor, f"{workshop.home}/edit/{procedure.file}?field={key}") for anchor, key in _HEADINGS]
    lent = {f"{workshop.home}/edit/{name}" for name in library.lent}  # what the parent wrote is changed over it
    forms = [
        (anchor, f"{workshop.home}/local/{id}" if link.partition("?")[0] in lent else link) for anchor, link in forms
    ]
    values: dict[str, Any] = {
        "procedure": id,
        "notes": notes_of(workshop, state, procedure),
        "html": html,
        "old": old,
        "forms": forms,
    }
    return rendered(workshop, "page.html.j2", state, pane="page", **values)


def library_of(state: State, id: str) -> Library:
    """Return the newest good Library that has the procedure ``id``. Raises NotFound where there never was one."""
    library = state.library if id in state.library.by_id else state.gone.get(id)
    if library is None:
        raise NotFound(f"There is no procedure {quoted(id)} in the folder, or none that could be read yet.")
    return library


def _composed(workshop: Workshop, state: State, library: Library, id: str) -> tuple[str, tuple[str, ...]]:
    """Return the page of a procedure as it stands or the last one that could be composed, and why it is an old one."""
    why_old = old_words(state, id)
    try:
        workshop.last_pages[id] = _html(workshop, library, id)
    except Refused as refusal:
        why_old += (f"The page cannot be made: {refusal.finding.at}: {refusal.finding.message}",)
    except Exception as error:  # whatever an odd state of the files leads to, the preview goes on
        why_old += (f"The page cannot be made of the files as they are now ({type(error).__name__}).",)
    return workshop.last_pages.get(id, ""), why_old


def _html(workshop: Workshop, library: Library, id: str) -> str:
    library = without_withdrawn(library)
    # It cannot say that nothing stops publishing; here, what was found stands beside it.
    values = page_values(library, view_of(library, library.by_id[id]), proved=False)
    html = workshop.content_renderer.render("site/page.html.j2", **values, alone=False)
    return _FIGURE.sub(lambda match: f'{match["attribute"]}="{workshop.home}/figures/{id}/', html)


def old_words(state: State, id: str) -> tuple[str, ...]:
    """Return why page and papers of a procedure are not those of the files as they stand; nothing where they are."""
    if id not in state.library.by_id:
        return (f"This procedure is no longer in the folder. {_WAS}",)
    own, others = f"content/procedures/{id}/", "content/procedures/"
    names = sorted(name for name in state.old if name.startswith(own) or not name.startswith(others))
    return tuple(
        f"{title_of(name)} cannot be used as it is now. {_NEVER if name in state.never else _WAS}" for name in names
    )


def _offered(output: str) -> Output:
    if output not in _OFFERED:
        raise NotFound(f"There is no output {quoted(output)}.")
    return _OFFERED[output]


@dataclass(frozen=True, slots=True)
class PaperSide:
    """One side as it is shown: the address of its picture, its size in mm, the marks on it (the number of a note, and
    how far down it stands in mm), and the notes beside it."""

    number: int
    picture: str
    width: float
    height: float
    marks: tuple[tuple[int, float], ...]
    notes: tuple[FindingNote, ...]


def view_paper(workshop: Workshop, _: Request, output: str, id: str) -> Response:
    """Answer ``paper/<output>/<id>``: the paper with its frame."""
    row = _offered(output)
    if not row.format.viewable:
        raise NotFound(f"{row.title} cannot be looked at here, only kept as a file.")
    return framed(workshop, id, (output,), output if row.tab else "papers")


def view_papers(workshop: Workshop, _: Request, id: str) -> Response:
    """Answer ``papers/<id>``: every paper of a procedure, to look at and to keep."""
    offers = [(name, row.title, row.format.viewable) for name, row in _OFFERED.items()]
    return framed(workshop, id, (), "papers", offers=offers)


def paper_part(workshop: Workshop, _: Request, output: str, id: str) -> Response:
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
        marks: dict[float, tuple[int, float]] = {}
        for down, note in here:
            marks.setdefault(round(down, 3), (note.number, round(down * side.height_mm, 1)))
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


def keep(workshop: Workshop, _: Request, output: str, id: str) -> Response:
    """Answer ``keep/<output>/<id>``: the finished file, to be kept or printed."""
    state, row = workshop.state, _offered(output)
    paper = workshop.press.paper(library_of(state, id), id, output, as_file=True)
    if isinstance(paper, NotSet):
        return rendered(workshop, "not_set.html.j2", state, 409, why=_why(paper), title=row.title)
    # Never shown as a page of this address: whatever stands in it may not speak with its rights.
    headers = {"Content-Disposition": f'attachment; filename="{id}-{paper.name}"'}
    return Response(paper.content, headers=headers, mimetype=row.format.media_type)

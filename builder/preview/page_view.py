"""The page of a procedure, composed when somebody looks at it, with its findings beside their places."""

from __future__ import annotations

import re
from typing import Any

from werkzeug.exceptions import NotFound
from werkzeug.wrappers import Response

from builder.compose.consents import without_withdrawn
from builder.compose.site.page import page_values
from builder.compose.view.anchors import parts_of
from builder.compose.view.procedure_view import view_of
from builder.findings.finding import Refused
from builder.findings.message_words import quoted
from builder.model.library import Library
from builder.outputs import OUTPUTS
from builder.preview.answer import Request, rendered
from builder.preview.notes import notes_of, title_of
from builder.preview.state import State
from builder.preview.workshop import Workshop

_FIGURE = re.compile(r'(?P<attribute>src|href)="figures/')
_IN_TABS = sorted((row for row in OUTPUTS.files if row.tab), key=lambda row: row.tab)


_WAS = "You see it as it last was."
_NEVER = "It could not be used when the preview was started either, so it is missing here."


def view(workshop: Workshop, _: Request, id: str) -> Response:
    """Answer ``page/<id>``: the page with its frame; its part is asked for by the browser."""
    return framed(workshop, id, ("page",), "page")


def view_both(workshop: Workshop, _: Request, id: str) -> Response:
    """Answer ``both/<id>``: page and card side by side."""
    return framed(workshop, id, ("page", "card"), "both")


def framed(workshop: Workshop, id: str, panes: tuple[str, ...], tab: str, **values: Any) -> Response:
    """Return the frame of the procedure ``id``: its tabs, of which ``tab`` is open, and the ``panes`` below them."""
    state = workshop.state
    title = str(library_of(state, id).by_id[id].title)
    ways = [("page", "Page", f"page/{id}"), ("both", "Page and card", f"both/{id}")]
    ways += [(row.name, row.title, f"paper/{row.name}/{id}") for row in _IN_TABS]
    ways.append(("papers", "All papers", f"papers/{id}"))
    tabs = [(words, f"{workshop.home}/{address}", name == tab) for name, words, address in ways]
    parts = [f"{workshop.home}/part/{pane}/{id}" for pane in panes]
    template = "procedure.html.j2" if panes else "papers.html.j2"
    return rendered(workshop, template, state, procedure=id, title=title, tabs=tabs, panes=parts, **values)


def part(workshop: Workshop, _: Request, id: str) -> Response:
    """Answer ``part/page/<id>``: the page itself, which takes the place of the one that is shown."""
    state = workshop.state
    library = library_of(state, id)
    html, old = _composed(workshop, state, library, id)
    procedure = library.by_id[id]
    forms = [(anchor, f"{workshop.home}/edit/{file}") for anchor, file in parts_of(procedure).items()]
    values: dict[str, Any] = {"notes": notes_of(workshop, state, procedure), "html": html, "old": old, "forms": forms}
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

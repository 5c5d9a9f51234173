"""Every address of the preview, in one ordered table: the first whose beginning fits answers."""

from __future__ import annotations

from builder.preview import forms, new_view, overview, page_view, paper_view, static
from builder.preview.answer import Route

_OWN: tuple[Route, ...] = (
    Route("GET", "static/", static.static),
    Route("GET", "figures/", static.figure),
    Route("GET", "side/", paper_view.side),
    Route("GET", "part/overview", overview.part),
    Route("GET", "part/page/", page_view.part),
    Route("GET", "part/", paper_view.part),
    Route("GET", "page/", page_view.view),
    Route("GET", "both/", page_view.view_both),
    Route("GET", "paper/", paper_view.view),
    Route("GET", "papers/", paper_view.view_all),
    Route("GET", "keep/", paper_view.file),
    Route("GET", "file/", overview.file),
    Route("GET", "new", new_view.view),
    Route("POST", "new", new_view.draft, new_view.MOST_BYTES),
    Route("POST", "open", overview.open_in_editor),
)
ROUTES: tuple[Route, ...] = (*_OWN, *forms.ROUTES, Route("GET", "", overview.view))

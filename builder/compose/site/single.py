"""The whole page of a procedure as one file that needs nothing else: for a phone, a share or a stick."""

from __future__ import annotations

from builder.compose.document import Document
from builder.compose.render import Renderer
from builder.compose.site.page import address_of, page_musts, page_values
from builder.compose.view.procedure_view import picture_paths, view_of
from builder.model.library import Library
from builder.model.pages import Procedure

# Stand in the head, before anything that an educator wrote; publish puts policy, style and script in their place.
POLICY_MARK = "prescrub-policy"
STYLE_MARK = "/*prescrub-style*/"
SCRIPT_MARK = "/*prescrub-script*/"


def compose(library: Library, procedure: Procedure, renderer: Renderer) -> Document:
    """Return the single file of ``procedure``, with marks where policy, style and script go."""
    view = view_of(library, procedure)
    values = page_values(library, view)
    marks = {"policy_mark": POLICY_MARK, "style_mark": STYLE_MARK, "script_mark": SCRIPT_MARK}
    text = renderer.render("site/single.html.j2", **values, **marks, home=address_of(view), alone=True)
    return Document.about(
        procedure,
        "single-file",
        f"{procedure.id}.html",
        text,
        resources=picture_paths(view),
        musts=tuple(page_musts(view)),
    )

"""Style sheets, scripts, type and figures: by name out of what is known, so that no name can lead elsewhere."""

from pathlib import PurePosixPath

from werkzeug.exceptions import NotFound
from werkzeug.wrappers import Response

from builder.findings.finding import Refused
from builder.findings.message_words import quoted
from builder.load.files import read_bytes
from builder.load.limits import MAX_FIGURE_BYTES
from builder.load.program_words import spoken_script
from builder.preview.answer import Request
from builder.preview.procedure_pages import library_of
from builder.preview.workshop import Workshop
from builder.publish.pictures import made_anew
from builder.publish.publish_error import PublishError
from builder.publish.site.site import ASSETS, asset

_KINDS = {
    ".css": "text/css",
    ".js": "text/javascript",
    ".png": "image/png",
    ".svg": "image/svg+xml",
    ".woff2": "font/woff2",
}
_DRAWING = {"Content-Security-Policy": "default-src 'none'; style-src 'unsafe-inline'; sandbox"}
"""A drawing styles itself; opened by itself it may still do nothing."""


def static(workshop: Workshop, _: Request, name: str) -> Response:
    """Answer ``static/<name>``."""
    ending = PurePosixPath(name).suffix
    path = next((path for path in ASSETS if PurePosixPath(path).name == name), "")
    try:
        content = asset(workshop.root, path) if path else _text(workshop, name) if ending in (".css", ".js") else None
    except Refused as refusal:
        raise NotFound(str(refusal)) from None
    if content is None:
        raise NotFound(f"There is no {quoted(name)}.")
    return Response(content, mimetype=_KINDS[ending])


def _text(workshop: Workshop, name: str) -> str | None:
    if name == "site.css":
        return workshop.content_renderer.templates.get("site/look/site.css")  # a department's own, where it has one
    text = workshop.renderer.templates.get("site/look/site.js" if name == "site.js" else f"preview/{name}")
    return spoken_script(text) if text and name == "site.js" else text


def figure(workshop: Workshop, request: Request, id: str, name: str) -> Response:
    """Answer ``figures/<procedure>/<file>``: the picture as it would be published, or ``whole``, to be cropped."""
    library = library_of(workshop.state, id)
    figure = next((figure for figure in library.by_id[id].figures if figure.file == name), None)
    if figure is None:
        raise NotFound(f"No figure of this procedure is called {quoted(name)}.")
    if "whole" in request.args:
        figure = figure.model_copy(update={"crop": None})
    path = f"content/procedures/{id}/figures/{name}"
    try:
        content, ending = made_anew(path, read_bytes(*library.whereabouts(path), MAX_FIGURE_BYTES), figure)
    except (Refused, PublishError) as error:
        raise NotFound(str(error)) from None
    return Response(content, headers=_DRAWING if ending == ".svg" else None, mimetype=_KINDS[ending])

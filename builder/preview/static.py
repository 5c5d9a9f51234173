"""Style sheets, scripts, type and figures: by name out of what is known, so that no name can lead elsewhere."""

from __future__ import annotations

from pathlib import PurePosixPath

from builder.findings.finding import Refused
from builder.load.files import read_bytes
from builder.load.limits import MAX_FIGURE_BYTES
from builder.model.figure import Figure
from builder.model.pages import Procedure
from builder.preview.answer import Request, Response, Workshop
from builder.preview.gate import Refusal
from builder.preview.page_view import found
from builder.preview.workshop import PreviewWorkshop, real
from builder.publish.pictures.drawings import safe_drawing
from builder.publish.pictures.images import clean_photograph
from builder.publish.publish_error import PublishError
from builder.publish.site.assets import ASSETS, asset

_KINDS = {
    ".css": "text/css; charset=utf-8",
    ".js": "text/javascript; charset=utf-8",
    ".woff2": "font/woff2",
    ".svg": "image/svg+xml",
}
_DRAWING = "default-src 'none'; style-src 'unsafe-inline'; sandbox"
"""A drawing styles itself; opened by itself it may still do nothing."""


def static(workshop: Workshop, request: Request) -> Response:
    """Answer ``static/<name>``."""
    shop = real(workshop)
    name = request.path.removeprefix("static/")
    kind = _KINDS.get(PurePosixPath(name).suffix, "")
    content = _asset(shop, name) if kind in ("font/woff2", "image/svg+xml") else _text(shop, name)
    if content is None or not kind:
        raise Refusal(404, f"There is no {name!r}.")
    return Response(200, kind, content)


def _text(shop: PreviewWorkshop, name: str) -> bytes | None:
    if name == "site.css":
        return shop.template("site/look/site.css").encode()  # a department's own look, where it has one
    own = shop.renderer().templates
    text = own.get("site/look/site.js" if name == "site.js" else f"preview/{name}")
    return None if text is None or name.endswith(".j2") else text.encode()


def _asset(shop: PreviewWorkshop, name: str) -> bytes | None:
    path = next((one for one in ASSETS if PurePosixPath(one).name == name), None)
    try:
        return None if path is None else asset(shop.root, path)
    except Refused:
        return None


def figure(workshop: Workshop, request: Request) -> Response:
    """Answer ``figures/<procedure>/<file>``: the picture as it would be published."""
    shop = real(workshop)
    id, _, name = request.path.removeprefix("figures/").partition("/")
    procedure = found(shop.state(), id)
    figure = next((one for one in _figures(procedure) if str(one.file) == name), None)
    if figure is None:
        raise Refusal(404, f"No figure of this procedure is called {name!r}.")
    path = f"content/procedures/{id}/figures/{name}"
    try:
        content = read_bytes(shop.root, path, MAX_FIGURE_BYTES)
        if name.endswith(".svg"):
            return Response(200, "image/svg+xml", safe_drawing(path, content), {"Content-Security-Policy": _DRAWING})
        crop = tuple(float(one) for one in figure.crop) if figure.crop else None
        return Response(200, "image/png", clean_photograph(path, content, crop))  # type: ignore[arg-type]  # four numbers
    except (Refused, PublishError) as error:
        raise Refusal(404, str(error)) from None


def _figures(procedure: Procedure) -> list[Figure]:
    return [*procedure.figure, *(figure for step in procedure.steps.values() for figure in step.figure)]

"""How to host the site: a page for whoever keeps the server, and the headers for nginx and Apache."""

from __future__ import annotations

from urllib.parse import urlsplit

from builder.compose.render import Renderer
from builder.compose.site.web import WebPage, as_markdown
from builder.model.library import Library

FOLDER = "hosting"
_TITLE = "How to host this site"
_SUMMARY = "For whoever keeps the department’s web server, file share or sticks."


def compose(renderer: Renderer, policy: str) -> WebPage:
    """Return the page, which shows the ``policy`` that a server sends."""
    html = renderer.render("hosting/page.html.j2", policy=policy)
    text = as_markdown(_TITLE, _SUMMARY, html)
    return WebPage(kind="page", procedure="", edition="", title=_TITLE, name=f"{FOLDER}/index.html", text=text)


def headers(library: Library, renderer: Renderer, policy: str) -> dict[str, str]:
    """Return the configuration files by path: what a server adds to each answer."""
    start = urlsplit(library.department.site or "").path.rstrip("/")
    return {
        f"{FOLDER}/{server}.conf": renderer.render(f"hosting/{server}.conf.j2", policy=policy, start=start)
        for server in ("nginx", "apache")
    }

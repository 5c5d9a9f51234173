"""How a part of the preview answers the browser: what it is handed, what it hands back, and where it is entered.

A module that answers has a table ``ROUTES: tuple[Route, ...]``; ``routes.py`` joins the tables. The first route whose
method is that of the request and whose ``prefix`` begins its path answers.

Addresses. Every path begins with ``workshop.home``, which is random; ``Request.path`` comes without it and without a
slash in front, decoded: ``page/example``. So a link is written ``{{ home }}/page/example``. The form of a file of the
department is at ``edit/`` and the file's path, such as ``edit/content/procedures/example/steps/cut-skin.md``; pages and
findings link there. Files of ``site_templates/preview/`` that end in .js or .css are at ``static/`` and their name.

Pages. Templates are those of ``site_templates/``; a page extends ``preview/layout.html.j2`` (blocks ``title``,
``main`` and ``scripts``) and is filled by ``workshop.renderer().render(name, home=workshop.home, ...)``. No inline
script or style works (the policy forbids both): scripts are files, values are handed over in ``data-`` attributes.

Threads. GET handlers run side by side and read what is frozen. POST handlers run one at a time.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Collection, Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, Protocol

from builder.compose.render import Renderer
from builder.findings.finding import Finding
from builder.model.library import Library

HTML = "text/html; charset=utf-8"
JSON = "application/json; charset=utf-8"
MOST_BYTES = 1024 * 1024
"""The largest body of a request, unless its route says otherwise."""


@dataclass(frozen=True, slots=True)
class Request:
    """What the browser asked. ``path`` and ``query`` are decoded; of a name given twice in the query the last counts.

    ``body`` is the parsed JSON of a POST (its objects as dicts), None for a GET.
    """

    method: str
    path: str
    query: Mapping[str, str] = field(default_factory=dict)
    body: Any = None


@dataclass(frozen=True, slots=True)
class Response:
    """What goes back: HTTP ``status``, ``kind`` (the media type) and ``body``. The headers that protect are added."""

    status: int = 200
    kind: str = HTML
    body: bytes = b""
    headers: Mapping[str, str] = field(default_factory=dict)


class Workshop(Protocol):
    """What an answer may read and do. Each reading is of one frozen state; two readings may be of two."""

    root: Path
    """The department's folder."""
    home: str
    """What every address begins with, such as ``/x7Qm...``; without a slash behind."""

    def library(self) -> Library:
        """Return the newest good Library: for a file that cannot be read now, the last state of it that could be."""

    def findings(self) -> list[Finding]:
        """Return what was found in the files as they stand, in order of place; exactly what ``check`` would print."""

    def newest(self) -> int:
        """Return the number of the newest state; it grows with each change of a file."""

    def saved(self, paths: Collection[str]) -> int:
        """Examine again now, after writing ``paths`` (relative to ``root``, with /); return the state that has them."""

    def renderer(self) -> Renderer:
        """Return the templates; it measures nothing."""


Handler = Callable[[Workshop, Request], Response]


@dataclass(frozen=True, slots=True)
class Route:
    """``handler`` answers requests of ``method`` (GET or POST) whose path begins with ``prefix``.

    A POST has passed the gate (token, host and origin) and its body is JSON of at most ``most_bytes`` bytes.
    """

    method: str
    prefix: str
    handler: Handler
    most_bytes: int = MOST_BYTES


def page(html: str, status: int = 200) -> Response:
    """Return ``html`` as an answer."""
    return Response(status, HTML, html.encode())


def data(values: Any, status: int = 200) -> Response:
    """Return ``values`` as JSON."""
    return Response(status, JSON, json.dumps(values, ensure_ascii=False).encode())


def seen_elsewhere(path: str) -> Response:
    """Return an answer that sends the browser to ``path``, which begins with ``workshop.home``."""
    return Response(303, HTML, b"", {"Location": path})

"""Answers the browser, on the loopback address only. Every answer passes the gate, and none is kept anywhere.

Werkzeug reads requests, finds handlers and writes answers. Its own server is one for developers: it ends the program
where a port is taken, ends each connection, reads on for ever what was refused, and shows tracebacks. So what carries
it here is a thin server of our own, and nothing of its debugger, its reloader or its log is in use.
"""

import json
import socket
import threading
from collections.abc import Callable, Iterable, Iterator
from contextlib import closing
from functools import partial
from typing import TYPE_CHECKING, Any

from werkzeug.exceptions import HTTPException, NotFound, abort
from werkzeug.routing import Map
from werkzeug.serving import LISTEN_QUEUE, ThreadedWSGIServer, WSGIRequestHandler
from werkzeug.wrappers import Response
from werkzeug.wsgi import ClosingIterator

from builder.preview import (
    approval_desk,
    as_one_file,
    changes_desk,
    committee_desk,
    experts_desk,
    forms,
    local_desk,
    new_view,
    overview,
    picture_desk,
    procedure_pages,
    reading_room,
    sources_desk,
    static,
    translation_desk,
)
from builder.preview.answer import Request, entered, get, post, refused, said_of
from builder.preview.gate import ENTER, Gate
from builder.preview.workshop import Workshop, show_fault

if TYPE_CHECKING:
    from _typeshed.wsgi import StartResponse, WSGIEnvironment

LOOPBACK = "127.0.0.1"
AGAIN = "again"
_BREATH_SECONDS = 15.0
_SLOWEST_SECONDS = 30.0
POLICY = "; ".join((
    "default-src 'none'",
    "script-src 'self'",
    "style-src 'self'",
    "img-src 'self'",
    "font-src 'self'",
    "connect-src 'self'",
    "form-action 'self'",
    "base-uri 'none'",
    "frame-ancestors 'none'",
))  # fmt: skip
"""W3C CSP Level 3: nothing but files of this preview, no inline script or style, in nobody's frame."""
_ALWAYS = {
    "Content-Security-Policy": POLICY,
    "Cache-Control": "no-store",
    "X-Content-Type-Options": "nosniff",
    "Referrer-Policy": "no-referrer",
    "Cross-Origin-Opener-Policy": "same-origin",
    "Cross-Origin-Resource-Policy": "same-origin",
    "X-Frame-Options": "DENY",
}


def changes(workshop: Workshop, request: Request) -> Response:
    """Send a line for each new state, as long as the browser listens (WHATWG HTML, server-sent events)."""
    procedure = request.args.get("procedure", "")

    def lines() -> Iterator[str]:
        number = 0
        while not workshop.ended:
            state = workshop.wait(number, _BREATH_SECONDS)
            if state is None:
                yield ": still here\n\n"  # where the browser has gone, this is how it is noticed
            else:
                number = state.number
                yield f"data: {json.dumps({'number': number, 'said': said_of(workshop, state, procedure)})}\n\n"

    return Response(lines(), mimetype="text/event-stream")


ROUTES = Map([
    get("/", overview.view),
    post("/begin", overview.begin),
    get("/changes", changes),
    get("/static/<name>", static.static),
    get("/figures/<id>/<name>", static.figure),
    get("/part/overview", overview.part),
    get("/part/page/<id>", procedure_pages.page_part),
    get("/part/<output>/<id>", procedure_pages.paper_part),
    get("/page/<id>", procedure_pages.view_page),
    get("/both/<id>", partial(procedure_pages.view_page, beside="card")),
    get("/paper/<output>/<id>", procedure_pages.view_paper),
    get("/papers/<id>", procedure_pages.view_papers),
    get("/side/<key>/<int:number>", procedure_pages.side),
    get("/keep/<output>/<id>", procedure_pages.keep),
    get("/file/<path:name>", overview.file),
    post("/open", overview.open_in_editor),
    get("/new", new_view.view),
    post("/new", new_view.draft),
    *forms.ROUTES,
    *reading_room.ROUTES,
    *picture_desk.ROUTES,
    *sources_desk.ROUTES,
    *as_one_file.ROUTES,
    *approval_desk.ROUTES,
    *changes_desk.ROUTES,
    *committee_desk.ROUTES,
    *local_desk.ROUTES,
    *experts_desk.ROUTES,
    *translation_desk.ROUTES,
], merge_slashes=False)  # fmt: skip
"""Every address below the preview's home."""
LIMITS = {
    new_view.draft: new_view.MOST_BYTES,
    as_one_file.take: as_one_file.MOST_BYTES,
    committee_desk.bring: committee_desk.MOST_BYTES,
    picture_desk.change: picture_desk.MOST_BYTES,
    sources_desk.change: sources_desk.MOST_BYTES,
}
"""How many bytes a handler takes that takes more than others."""
PLAIN_FORMS = frozenset({
    *(rule.endpoint for rule in reading_room.ROUTES), picture_desk.change, sources_desk.change,
    new_view.draft, approval_desk.approve, committee_desk.bring, local_desk.choose, local_desk.add, local_desk.add_part,
    experts_desk.merge, translation_desk.write, overview.begin,
})  # fmt: skip
"""What takes the forms of a browser without scripts too. They pass the same gate: cookie, Host and Origin."""


class PreviewServer(ThreadedWSGIServer):
    """Serves one workshop on a port of the loopback address; port 0 takes a free one. A thread for each connection."""

    def __init__(self, workshop: Workshop, gate: Gate, port: int = 0) -> None:
        self.workshop = workshop
        self.gate = gate
        self._writing = threading.Lock()
        # On Windows create_server does not let another program share the port, elsewhere it takes one just left.
        with socket.create_server((LOOPBACK, port), backlog=LISTEN_QUEUE) as listening:
            super().__init__(LOOPBACK, port, self._application, _Handler, fd=listening.fileno())
        gate.opened(self.port)

    def handle_error(self, request: Any, client_address: Any) -> None:  # noqa: ARG002  # part of the interface
        """Say nothing of a browser that went away in the middle."""
        show_fault()

    def _application(self, environ: "WSGIEnvironment", start_response: "StartResponse") -> Iterable[bytes]:
        request = Request(environ)
        try:
            response = self._answered(request)
        except HTTPException as refusal:
            again = f"{self.gate.home}/{AGAIN}" if request.path.startswith(f"{self.gate.home}/") else ""
            response = refused(refusal.code or 500, refusal.description or refusal.name, again)
        for name, value in _ALWAYS.items():
            response.headers.setdefault(name, value)
        if response.is_streamed or request.is_unread:
            response.headers["Connection"] = "close"
        return response(environ, start_response)

    def _answered(self, request: Request) -> Response:
        if request.method not in ("GET", "POST"):
            abort(501, "Only GET and POST are known here.")
        self.gate.check_host(request)
        home, path = self.gate.home, request.path.removeprefix(self.gate.home)
        if not request.path.startswith(f"{home}/"):
            raise NotFound("There is nothing at this address.")
        if request.method == "GET" and path.startswith(ENTER):
            return self.gate.enter(path.removeprefix(ENTER), entered(home))
        if request.method == "GET" and path == f"/{AGAIN}":
            self.gate.open_again()
            return refused(200, "The preview is opened again in the browser of this computer. This page can be closed.")
        self.gate.check(request)
        try:
            handler, values = ROUTES.bind(LOOPBACK).match(path, request.method)
        except HTTPException:
            raise NotFound("There is nothing at this address.") from None
        if request.method == "GET":
            return self._handled(handler, request, values)
        request.max_content_length = LIMITS.get(handler, Request.max_content_length)
        request.takes_forms = handler in PLAIN_FORMS
        _ = request.body  # before the lock: whoever sends slowly holds nobody up
        with self._writing:
            return self._handled(handler, request, values)

    def _handled(self, handler: Callable[..., Response], request: Request, values: Any) -> Response:
        try:
            return handler(self.workshop, request, **values)
        except HTTPException:
            raise
        except Exception as error:
            show_fault()
            name = type(error).__name__
            return refused(
                500,
                f"prescrub itself failed here ({name}). The fault is in the program, not in your files.",
            )


class _Handler(WSGIRequestHandler):
    protocol_version = "HTTP/1.1"
    timeout = _SLOWEST_SECONDS
    disable_nagle_algorithm = True  # an answer is sent in two parts; the second would wait for a receipt of the first

    def version_string(self) -> str:
        return "prescrub"

    def log(self, type: str, message: str, *args: Any) -> None:  # noqa: A002  # the name is Werkzeug's
        """Log nothing: addresses hold the secret of this run."""

    def run_wsgi(self) -> None:
        """Answer one request, and keep the connection unless the answer ends it."""

        def start_response(status: str, headers: list[tuple[str, str]], _: object = None) -> Any:
            self.send_response(int(status[:3]))
            for name, value in headers:
                self.send_header(name, value)
            self.end_headers()
            return self.wfile.write

        with closing(ClosingIterator(self.server.app(self.make_environ(), start_response))) as chunks:
            for chunk in chunks:
                self.wfile.write(chunk)

"""Answers the browser, on the loopback address only. Every answer passes the gate, and none is kept anywhere."""

from __future__ import annotations

import json
import os
import sys
import threading
import traceback
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from typing import Any, cast
from urllib.parse import parse_qsl, unquote, urlsplit

from builder.preview.answer import Request, Response, Route
from builder.preview.answer_pages import entered, refused
from builder.preview.gate import ENTER, Gate, Refusal
from builder.preview.routes import ROUTES
from builder.preview.workshop import PreviewWorkshop

LOOPBACK = "127.0.0.1"
_NEWS = "changes"
_BREATH_SECONDS = 15.0
_SLOWEST_SECONDS = 30.0
_DEEPEST = 40
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
    "Cache-Control": "no-store",
    "X-Content-Type-Options": "nosniff",
    "Referrer-Policy": "no-referrer",
    "Cross-Origin-Opener-Policy": "same-origin",
    "Cross-Origin-Resource-Policy": "same-origin",
    "X-Frame-Options": "DENY",
}


class PreviewServer(ThreadingHTTPServer):
    """Serves one workshop on a port of the loopback address; port 0 takes a free one."""

    daemon_threads = True
    allow_reuse_address = os.name != "nt"  # on Windows it would let another program share the port

    def __init__(self, workshop: PreviewWorkshop, gate: Gate, port: int = 0) -> None:
        super().__init__((LOOPBACK, port), _Handler)
        self.workshop = workshop
        self.gate = gate
        self.writing = threading.Lock()
        gate.opened(self.server_address[1])

    def handle_error(self, request: Any, client_address: Any) -> None:  # noqa: ARG002  # part of the interface
        """Say nothing of a browser that went away in the middle."""
        if os.environ.get("PRESCRUB_DEBUG") and not isinstance(sys.exception(), OSError):
            traceback.print_exc()


class _Handler(BaseHTTPRequestHandler):
    protocol_version = "HTTP/1.1"
    server_version = "prescrub"
    sys_version = ""
    timeout = _SLOWEST_SECONDS
    disable_nagle_algorithm = True  # an answer is sent in two parts; the second would wait for a receipt of the first

    def do_GET(self) -> None:
        self._answer("GET")

    def do_POST(self) -> None:
        self._answer("POST")

    def log_message(self, format: str, *args: Any) -> None:  # noqa: A002  # the name is the standard library's
        """Log nothing: addresses hold the secret of this run."""

    @property
    def _preview(self) -> PreviewServer:
        return cast(PreviewServer, self.server)

    def _answer(self, method: str) -> None:
        try:
            response = self._response(method)
        except Refusal as refusal:
            # What was sent along has not been read, so nothing more can be understood on this connection.
            self.close_connection = True
            response = refused(refusal.status, str(refusal))
        if response is not None:
            self._send(response)

    def _response(self, method: str) -> Response | None:
        gate = self._preview.gate
        headers = {name: self.headers.get(name) for name in ("Host", "Origin", "Sec-Fetch-Site", "Cookie")}
        known = {name: value for name, value in headers.items() if value is not None}
        gate.check_host(known)
        parts = urlsplit(self.path)
        home, _, inner = parts.path.partition(f"{gate.home}/")
        if home or not parts.path.startswith(f"{gate.home}/"):
            raise Refusal(404, "There is nothing at this address.")
        path = unquote(inner, errors="replace")
        if method == "GET" and path.startswith(ENTER):
            cookie = gate.enter(path.removeprefix(ENTER))
            return entered(gate.home, cookie)
        gate.check(method, known)
        if method == "GET" and path == _NEWS:
            self._tell_news()
            return None
        query = dict(parse_qsl(parts.query, keep_blank_values=True, max_num_fields=50))
        return self._routed(Request(method, path, query))

    def _routed(self, request: Request) -> Response:
        preview = self._preview
        route = next((one for one in ROUTES if _fits(one, request)), None)
        if route is None:
            raise Refusal(404, "There is nothing at this address.")
        try:
            if request.method == "GET":
                return route.handler(preview.workshop, request)
            request = Request("POST", request.path, request.query, self._body(route.most_bytes))
            with preview.writing:
                return route.handler(preview.workshop, request)
        except Refusal:
            raise
        except Exception as error:
            if os.environ.get("PRESCRUB_DEBUG"):
                traceback.print_exc()
            message = f"The preview itself failed here ({type(error).__name__}). This is a fault of prescrub."
            return refused(500, message)

    def _body(self, most: int) -> Any:
        """Return the JSON that was sent. Raises Refusal where it is something else, or too much."""
        if self.headers.get_content_type() != "application/json":
            raise Refusal(415, "Only JSON is taken here.")
        length = self.headers.get("Content-Length", "")
        if not (length.isascii() and length.isdigit()):
            raise Refusal(411, "The length of what was sent is not said.")
        if len(length) > 12 or int(length) > most:
            raise Refusal(413, f"This is too large: at most {most / 1e6:.1f} MB are taken.")
        try:
            # Read as bytes of UTF-8 (RFC 8259, section 8.1); NaN and the like are no JSON.
            return json.loads(self.rfile.read(int(length)).decode("utf-8"), parse_constant=_no_number)
        except (ValueError, RecursionError):
            raise Refusal(400, "What was sent is no JSON.") from None

    def _send(self, response: Response) -> None:
        self.send_response(response.status)
        headers = {"Content-Security-Policy": POLICY, **_ALWAYS, **response.headers}
        headers |= {"Content-Type": response.kind, "Content-Length": str(len(response.body))}
        for name, value in headers.items():
            self.send_header(name, value)
        if self.close_connection:
            self.send_header("Connection", "close")
        self.end_headers()
        self.wfile.write(response.body)

    def _tell_news(self) -> None:
        """Send a line for each new state, as long as the browser listens (WHATWG HTML, server-sent events)."""
        self.close_connection = True
        self.send_response(200)
        headers = {**_ALWAYS, "Content-Security-Policy": POLICY, "Content-Type": "text/event-stream"}
        for name, value in (headers | {"Connection": "close"}).items():
            self.send_header(name, value)
        self.end_headers()
        workshop = self._preview.workshop
        number = 0
        while not workshop.ended:
            state = workshop.wait(number, _BREATH_SECONDS)
            if state is None:
                line = ": still here\n\n"  # where the browser has gone, this is how it is noticed
            else:
                number = state.number
                line = f"data: {json.dumps({'number': number})}\n\n"
            self.wfile.write(line.encode())
            self.wfile.flush()


def _fits(route: Route, request: Request) -> bool:
    return route.method == request.method and request.path.startswith(route.prefix)


def _no_number(word: str) -> Any:
    raise ValueError(word)

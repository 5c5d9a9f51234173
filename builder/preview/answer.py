"""What the browser asks, and how it is answered.

Addresses. Every one begins with ``workshop.home``, which is random; the rules of ``server.py`` stand below it, so the
rule ``/page/<id>`` is written ``{{ home }}/page/example`` in a page. A handler takes the workshop, the request and the
variable parts of its rule by name. The form of a file is at ``edit/`` and the file's path, such as
``edit/content/procedures/example/steps/cut-skin.md``. Files of ``site_templates/preview/`` that end in .js or .css are
at ``static/`` and their name.

Pages. Templates are those of ``site_templates/``; a page extends ``preview/layout.html.j2``. No inline script or style
works (the policy forbids both): scripts are files, values are handed over in ``data-`` attributes.

Threads. GET handlers run side by side and read what is frozen. POST handlers run one at a time.
"""

import json
from html import escape
from typing import Any
from urllib.parse import parse_qsl

from werkzeug.exceptions import (
    BadRequest,
    ClientDisconnected,
    LengthRequired,
    RequestEntityTooLarge,
    UnsupportedMediaType,
)
from werkzeug.routing import Rule
from werkzeug.utils import cached_property
from werkzeug.wrappers import Request as WerkzeugRequest
from werkzeug.wrappers import Response

from builder.compose.reading.found_view import remaining
from builder.preview.state import State
from builder.preview.workshop import Workshop

_PLAIN = "<!doctype html><html lang=en><meta charset=utf-8>"


class Request(WerkzeugRequest):
    """What the browser asked."""

    max_content_length = 1024 * 1024
    takes_forms = False
    """Whether a plain form is taken as well as JSON."""

    @property
    def is_form(self) -> bool:
        """Whether a browser without scripts sent it, where that is taken."""
        return self.takes_forms and self.mimetype == "application/x-www-form-urlencoded"

    @cached_property
    def body(self) -> Any:
        """The JSON that was sent, at most ``max_content_length`` bytes. Raises HTTPException where it is not that."""
        if self.mimetype != "application/json" and not self.is_form:
            raise UnsupportedMediaType("Only JSON is accepted here.")
        if self.content_length is None or not self.headers["Content-Length"].isdecimal():
            raise LengthRequired("The request does not say how long it is.")
        if self.content_length > self.max_content_length:
            most = self.max_content_length / 1e6
            raise RequestEntityTooLarge(f"This is too large: at most {most:.1f} MB are accepted.")
        if self.is_form:
            return dict(parse_qsl(self.get_data(cache=False).decode("utf-8", "replace"), keep_blank_values=True))
        try:
            # Read as bytes of UTF-8 (RFC 8259, section 8.1); NaN and the like are not JSON.
            return json.loads(self.get_data(cache=False).decode(), parse_constant=_refuse_constant)
        except (ValueError, RecursionError, ClientDisconnected):
            raise BadRequest("What was sent is not JSON.") from None

    @property
    def is_unread(self) -> bool:
        """Whether what was sent along still waits on the line, so that nothing behind it can be understood."""
        return "body" not in vars(self) and ("Content-Length" in self.headers or "Transfer-Encoding" in self.headers)

    @property
    def fields(self) -> dict[str, Any]:
        """The fields of the JSON object that was sent; none where it is no object."""
        return self.body if isinstance(self.body, dict) else {}


def _refuse_constant(word: str) -> Any:
    raise ValueError(word)


def get(path: str, handler: Any) -> Rule:
    """Return the rule by which ``handler`` answers a GET of ``path``."""
    return Rule(path, endpoint=handler, methods=["GET"])


def post(path: str, handler: Any) -> Rule:
    """Return the rule by which ``handler`` answers a POST to ``path``: let in by the gate, its body read."""
    return Rule(path, endpoint=handler, methods=["POST"])


def data(values: Any, status: int = 200) -> Response:
    """Return ``values`` as JSON."""
    return Response(json.dumps(values, ensure_ascii=False), status, mimetype="application/json")


def rendered(workshop: Workshop, template: str, state: State, status: int = 200, **values: Any) -> Response:
    """Return the preview's ``template`` as an answer that says which state it shows."""
    said = said_of(workshop, state, str(values.get("procedure", "")))
    shown = {"home": workshop.home, "department": str(state.library.department.name), "said": said}
    html = workshop.renderer.render(f"preview/{template}", **shown, **values)
    headers = {"X-Prescrub-State": str(state.number), "X-Prescrub-Said": said.encode("ascii", "replace").decode()}
    return Response(html, status, headers, mimetype="text/html")


def said_of(workshop: Workshop, state: State, procedure: str = "") -> str:
    """Return what the line at the head of each page says of ``state``: of one ``procedure``, else of all."""
    return workshop.fault or remaining(state.findings, f"content/procedures/{procedure}/" if procedure else "")


def as_plain_form(answer: Response) -> Response:
    """Return a page that has plain forms: else the browser would not say with them that they come from here."""
    answer.headers["Referrer-Policy"] = "same-origin"
    return answer


def refused(status: int, message: str, again: str = "") -> Response:
    """Return the page of a refusal: plain, because it may be shown to a stranger. It tells nothing of the folder.

    ``again`` is the address that has the preview open itself anew, in the browser of whoever started it.
    """
    text = f"{_PLAIN}<title>Not here</title><h1>Not here</h1><p>{escape(message)}</p>"
    if status == 403:
        text += (
            f'<p><a href="{escape(again)}">Open again</a>: it opens in the browser of this computer.</p>'
            if again
            else ""
        )
    return Response(text, status, mimetype="text/html")


def entered(home: str) -> Response:
    """Return the page that lets a browser in; it goes on by itself, as a page of this address and not of another."""
    text = (
        f'{_PLAIN}<meta http-equiv=refresh content="0;url={home}/"><link rel=icon href="{home}/static/mark.svg">'
        f'<title>Preview</title><p><a href="{home}/">To the preview</a></p>'
    )
    return Response(text, mimetype="text/html")

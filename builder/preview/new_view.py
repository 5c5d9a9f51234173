"""A new procedure from an outline, a word-processor file, slides, a talk, or from nothing, without a terminal."""

import base64
import binascii
from dataclasses import replace
from typing import Any

from werkzeug.exceptions import BadRequest
from werkzeug.utils import redirect
from werkzeug.wrappers import Response

from builder.draft import propose
from builder.draft.draft_report import report
from builder.edit.ids import slug
from builder.findings.finding import Refused
from builder.load.told.draft_source import RawPicture, Source
from builder.load.told.source_file import ENDINGS, source_of
from builder.preview.answer import Request, as_plain_form, data, rendered
from builder.preview.workshop import Workshop
from builder.publish.pictures import clean_photograph
from builder.write.draft_files import refuse_existing, write
from builder.write.lock import NotWritten

MOST_BYTES = 40 * 1024 * 1024
"""Of what is sent; a file grows by a third on its way, so about 30 MB of it."""
PICTURES = (".png", ".jpg", ".jpeg")
_PASTED = "pasted.md"
_PASTED_TALK = "pasted.vtt"


def view(workshop: Workshop, _: Request) -> Response:
    """Answer ``new``: what is asked for."""
    return _page(workshop, {})


def _page(workshop: Workshop, given: dict[str, Any], said: str = "", field: str = "", status: int = 200) -> Response:
    filled = {"title": "", "outline": "", "steps": "", **given}
    shown = {"given": filled, "said_wrong": said, "field": field, "endings": ",".join((*ENDINGS, *PICTURES))}
    return as_plain_form(rendered(workshop, "new.html.j2", workshop.state, status, **shown))


def draft(workshop: Workshop, request: Request) -> Response:
    """Answer the POST ``new``: draft and write the procedure, or say in plain words why not, with nothing written.

    The script sends JSON, with a file where there is one; a browser without scripts sends the form itself.
    """
    body = request.fields
    title = " ".join(_text(body, "title").split())
    try:
        if not slug(title):
            raise NotWritten("Write a title in letters, such as Open appendicectomy.")
        refuse_existing(workshop.root, slug(title))
        proposal = propose(title, _told(body), workshop.state.library)
        written = write(workshop.root, proposal, clean_photograph)
    except NotWritten as error:
        return _refused(workshop, request, str(error), "title", 409 if slug(title) else 422)
    except Refused as refusal:
        found = refusal.finding
        return _refused(workshop, request, f"{found.message}. {found.hint} Nothing was written.", "outline", 422)
    number = workshop.saved()
    pictured = next((step.id for step in proposal.steps if step.pictures), "")
    asks = bool(pictured) and _is_picture(body)  # what it shows, whose it is and the consent are asked at once
    screen = f"picture/{proposal.id}/steps/{pictured}.md?n=0" if asks else f"read/{proposal.id}"
    room = f"{workshop.home}/{screen}"
    if request.is_form:
        return redirect(room, 303)
    return data({"said": report(proposal), "page": room, "state": number, "files": list(written)})


def _refused(workshop: Workshop, request: Request, said: str, field: str, status: int) -> Response:
    if request.is_form:
        return _page(workshop, request.fields, said, field, status)
    return data({"said": said, "field": field}, status)


def _told(body: dict[str, Any]) -> Source:
    """Return what to draft from; a picture that was sent goes with the first of what was pasted."""
    if not _is_picture(body):
        return source_of(*_source(body))
    source = source_of(*_source({**body, "name": "", "file": ""}))
    picture = RawPicture(_sent(body), None, "", "the beginning", 0)
    return replace(source, pictures=(*source.pictures, picture))


def _is_picture(body: dict[str, Any]) -> bool:
    return _text(body, "name").lower().endswith(PICTURES)


def _sent(body: dict[str, Any]) -> bytes:
    try:
        return base64.b64decode(_text(body, "file"), validate=True)
    except (binascii.Error, ValueError):
        raise BadRequest("The file did not arrive whole.") from None


def _source(body: dict[str, Any]) -> tuple[str, bytes]:
    """Return name and content of what to draft from: the file, else what was pasted."""
    name = _text(body, "name")
    if name or _text(body, "file"):
        return name, _sent(body)
    text = _text(body, "outline")
    if not text.strip():
        steps = [line.strip() for line in _text(body, "steps").splitlines() if line.strip()]
        text = "".join(f"{number}. {step}\n" for number, step in enumerate(steps, 1))
    return (_PASTED_TALK if text.lstrip().startswith("WEBVTT") else _PASTED), text.encode("utf-8", "replace")


def _text(body: dict[str, Any], key: str) -> str:
    value = body.get(key, "")
    return value if isinstance(value, str) else ""

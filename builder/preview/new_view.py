"""A new procedure from an outline, a file of a word processor, slides or a talk, without a terminal."""

import base64
import binascii
from typing import Any

from werkzeug.exceptions import BadRequest
from werkzeug.wrappers import Response

from builder.draft import propose
from builder.draft.draft_report import report
from builder.edit.ids import slug
from builder.findings.finding import Refused
from builder.load.told.source_file import ENDINGS, source_of
from builder.preview.answer import Request, data, rendered
from builder.preview.workshop import Workshop
from builder.publish.pictures import clean_photograph
from builder.write.draft_files import refuse_existing, write
from builder.write.lock import NotWritten

MOST_BYTES = 40 * 1024 * 1024
"""Of what is sent; a file grows by a third on its way, so about 30 MB of it."""
_PASTED = "pasted.md"
_PASTED_TALK = "pasted.vtt"


def view(workshop: Workshop, _: Request) -> Response:
    """Answer ``new``: what is asked for."""
    return rendered(workshop, "new.html.j2", workshop.state, endings=",".join(ENDINGS))


def draft(workshop: Workshop, request: Request) -> Response:
    """Answer the POST ``new``: draft and write the procedure, or say in plain words why not, with nothing written."""
    body = request.fields
    title = " ".join(_text(body, "title").split())
    if not slug(title):
        return data({"said": "Write a title in letters, such as Open appendicectomy.", "field": "title"}, 422)
    try:
        refuse_existing(workshop.root, slug(title))
        proposal = propose(title, source_of(*_source(body)), workshop.state.library)
        written = write(workshop.root, proposal, clean_photograph)
    except NotWritten as error:
        return data({"said": str(error), "field": "title"}, 409)
    except Refused as refusal:
        found = refusal.finding
        return data({"said": f"{found.message}. {found.hint} Nothing was written.", "field": "outline"}, 422)
    number = workshop.saved()
    page = f"{workshop.home}/page/{proposal.id}"
    return data({"said": report(proposal), "page": page, "state": number, "files": list(written)})


def _source(body: dict[str, Any]) -> tuple[str, bytes]:
    """Return name and content of what to draft from: the file, else what was pasted."""
    name, sent = _text(body, "name"), _text(body, "file")
    if name or sent:
        try:
            return name, base64.b64decode(sent, validate=True)
        except (binascii.Error, ValueError):
            raise BadRequest("The file did not arrive whole.") from None
    text = _text(body, "outline")
    return (_PASTED_TALK if text.lstrip().startswith("WEBVTT") else _PASTED), text.encode("utf-8", "replace")


def _text(body: dict[str, Any], key: str) -> str:
    value = body.get(key, "")
    return value if isinstance(value, str) else ""

"""A new procedure from an outline, a file of a word processor, slides or a talk, without a terminal."""

from __future__ import annotations

import base64
import binascii
from typing import Any

from builder.draft import propose
from builder.draft.draft_report import report
from builder.draft.ids import slug
from builder.findings.finding import Refused
from builder.load.told.source_file import ENDINGS, source_of
from builder.preview.answer import Request, Response, Workshop, data
from builder.preview.answer_pages import rendered
from builder.preview.gate import Refusal
from builder.preview.workshop import real
from builder.publish.pictures.images import clean_photograph
from builder.write.draft_files import refuse_existing, write
from builder.write.whole_file import NotWritten

MOST_BYTES = 40 * 1024 * 1024
"""Of what is sent; a file grows by a third on its way, so about 30 MB of it."""
_PASTED = "pasted.md"
_PASTED_TALK = "pasted.vtt"


def view(workshop: Workshop, request: Request) -> Response:
    """Answer ``new``: what is asked for."""
    if request.path != "new":
        raise Refusal(404, "There is nothing at this address.")
    shop = real(workshop)
    return rendered(shop, "new.html.j2", shop.state(), endings=",".join(ENDINGS))


def draft(workshop: Workshop, request: Request) -> Response:
    """Answer the POST ``new``: draft and write the procedure, or say in plain words why not, with nothing written."""
    shop = real(workshop)
    body: dict[str, Any] = request.body if isinstance(request.body, dict) else {}
    title = " ".join(_text(body, "title").split())
    if not slug(title):
        return data({"said": "Write a title in letters, such as Open appendicectomy.", "field": "title"}, 422)
    try:
        refuse_existing(shop.root, slug(title))
        proposal = propose(title, source_of(*_source(body)), shop.library())
        written = write(shop.root, proposal, clean_photograph)
    except NotWritten as error:
        return data({"said": str(error), "field": "title"}, 409)
    except Refused as refusal:
        found = refusal.finding
        return data({"said": f"{found.message}. {found.hint} Nothing was written.", "field": "outline"}, 422)
    number = shop.saved(written)
    return data(
        {"said": report(proposal), "page": f"{shop.home}/page/{proposal.id}", "state": number, "files": list(written)}
    )


def _source(body: dict[str, Any]) -> tuple[str, bytes]:
    """Return name and content of what to draft from: the file, else what was pasted."""
    name, sent = _text(body, "name"), _text(body, "file")
    if name or sent:
        try:
            return name, base64.b64decode(sent, validate=True)
        except (binascii.Error, ValueError):
            raise Refusal(400, "The file did not arrive whole.") from None
    text = _text(body, "outline")
    return (_PASTED_TALK if text.lstrip().startswith("WEBVTT") else _PASTED), text.encode("utf-8", "replace")


def _text(body: dict[str, Any], key: str) -> str:
    value = body.get(key, "")
    return value if isinstance(value, str) else ""

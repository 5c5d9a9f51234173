"""The committee's copy in the browser: kept, brought back, and taken change by change, without a command."""

import base64
import binascii
from typing import Any

from werkzeug.utils import redirect
from werkzeug.wrappers import Response

from builder.compose.changes.returned import ReturnedItem, ReturnedSort
from builder.edit.file_change import CannotEdit, Unfit
from builder.findings.finding import Refused
from builder.findings.message_words import capital
from builder.pipeline import shared_copy
from builder.preview.answer import Request, as_plain_form, data, get, post, rendered
from builder.preview.procedure_pages import library_of, tabs_of
from builder.preview.workshop import Workshop
from builder.publish.publish_error import PublishError
from builder.write.committee_taking import came_back, notes_to_answer, take_in
from builder.write.lock import NotWritten

MOST_BYTES = 40 * 1024 * 1024
_DOCX = "application/vnd.openxmlformats-officedocument.wordprocessingml.document"
_GROUPS = (
    ("Changes", ReturnedSort.CHANGE, "Each stands at its key. Tick what you take."),
    ("Comments", ReturnedSort.COMMENT, "What you tick is kept in the notes until it is answered."),
    ("Not taken", ReturnedSort.TOLD, "These have no certain place. Put them in by hand, where they are right."),
    ("Already in the module", ReturnedSort.DONE, ""),
)


def show(workshop: Workshop, _: Request, id: str) -> Response:
    """Answer ``committee/<id>``: the way to the copy, and what came back in the one that was brought."""
    return _shown(workshop, id)


def _shown(workshop: Workshop, id: str, said: str = "", taken: str = "") -> Response:
    library = library_of(workshop.state, id)
    groups: list[tuple[str, str, list[ReturnedItem], bool]] = []
    name, content = workshop.returned.get(id, ("", b""))
    if content:
        items = came_back(library, name, content)[1]
        groups = [
            (heading, about, own, sort in (ReturnedSort.CHANGE, ReturnedSort.COMMENT))
            for heading, sort, about in _GROUPS
            if (own := [item for item in items if item.sort is sort])
        ]
    shown: dict[str, Any] = {
        "procedure": id, "title": str(library.by_id[id].title), "tabs": tabs_of(workshop, id, "done"), "came": name,
        "groups": groups, "said_wrong": said, "taken": taken, "notes": notes_to_answer(library, id),
    }  # fmt: skip
    return as_plain_form(rendered(workshop, "committee.html.j2", workshop.state, 409 if said else 200, **shown))


def keep(workshop: Workshop, _: Request, id: str) -> Response:
    """Answer ``copy/<id>``: the committee's copy, as a file to keep and to send."""
    library = library_of(workshop.state, id)
    try:
        content = shared_copy(library, library.by_id[id])
    except PublishError as error:
        return _shown(workshop, id, str(error))
    headers = {"Content-Disposition": f'attachment; filename="{id}-committee.docx"'}
    return Response(content, headers=headers, mimetype=_DOCX)


def bring(workshop: Workshop, request: Request, id: str) -> Response:
    """Answer the POST ``committee/<id>``: a file that is brought back, or what is taken out of it."""
    if request.is_form:
        return _take(workshop, request, id)
    library = library_of(workshop.state, id)
    try:
        name = str(request.fields.get("name") or "")
        content = base64.b64decode(str(request.fields.get("file") or ""), validate=True)
        copy, _ = came_back(library, name, content)
    except (binascii.Error, ValueError):
        return data({"said": "The file did not arrive whole."}, 422)
    except Refused as refusal:
        return data({"said": f"{capital(refusal.finding.message)}. {refusal.finding.hint}"}, 422)
    workshop.returned[copy.procedure] = (name, content)
    return data({"page": f"{workshop.home}/committee/{copy.procedure}"})


def _take(workshop: Workshop, request: Request, id: str) -> Response:
    library = library_of(workshop.state, id)
    name, content = workshop.returned.get(id, ("", b""))
    if not content:
        return _shown(workshop, id, "The file is no longer here. Bring it again.")
    copy, items = came_back(library, name, content)
    takes_all = request.fields.get("do") == "all"
    accepted = {item.number for item in items if takes_all or request.fields.get(f"n{item.number}") == "yes"}
    if not accepted:
        return _shown(workshop, id, "Nothing was ticked, so nothing was taken.")
    try:
        take_in(library, copy, items, accepted)
    except CannotEdit as error:
        return _shown(workshop, id, f"Nothing was taken: {error.reason}. {error.hint}")
    except (Unfit, Refused, NotWritten) as error:
        return _shown(workshop, id, f"Nothing was taken: {error}")
    workshop.saved()
    return redirect(f"{workshop.home}/committee/{id}", 303)


ROUTES = (get("/committee/<id>", show), get("/copy/<id>", keep), post("/committee/<id>", bring))

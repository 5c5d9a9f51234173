"""Approving and the year in the browser: the same as ``prescrub approve`` and ``prescrub year``, without a command."""

from functools import partial
from typing import Any

from werkzeug.utils import redirect
from werkzeug.wrappers import Response

from builder.check.blocking import at_approval
from builder.compose.changes.approval_view import approval_view
from builder.compose.view.words import day
from builder.compose.year.year_page import TITLE, summary_of
from builder.compose.year.year_view import year_tables
from builder.edit.file_change import CannotEdit
from builder.facts.approvals import Approver, may_not_approve, not_ready
from builder.findings.finding import Finding, Refused, Severity
from builder.load.signature import signature_state
from builder.model.library import Library
from builder.preview.answer import Request, as_plain_form, get, post, rendered
from builder.preview.procedure_pages import library_of, tabs_of
from builder.preview.workshop import Workshop
from builder.write.approving import approval_line, as_approved_last, still_missing, write_approval
from builder.write.lock import NotWritten


def show_year(workshop: Workshop, _: Request) -> Response:
    """Answer ``year``: the year at a glance."""
    library = workshop.state.library
    tables = year_tables(library, partial(signature_state, library.root))
    shown: dict[str, Any] = {
        "title": TITLE,
        "summary": summary_of(tables),
        "tables": tables,
        "today": day(library.today),
    }
    return rendered(workshop, "year.html.j2", workshop.state, **shown)


def show_approval(workshop: Workshop, _: Request, id: str) -> Response:
    """Answer ``approve/<id>``: what would be approved, and the form to do it."""
    return _approval(workshop, id)


def _approval(workshop: Workshop, id: str, why: str = "", name: str = "", role: str = "") -> Response:
    state = workshop.state
    library = library_of(state, id)
    procedure = library.by_id[id]
    own = at_approval(library, procedure, state.findings)
    with as_approved_last(library, procedure) as before:
        view = approval_view(library, procedure, own, before)
    roles = [str(role) for role in library.department.approvers]
    shown: dict[str, Any] = {
        "procedure": id,
        "title": view.title,
        "tabs": tabs_of(workshop, id, "done"),
        "view": view,
        "roles": roles,
    }
    shown |= {"missing": still_missing(library, procedure), "stops": _stops(library, id, own)}
    page = rendered(workshop, "approve.html.j2", state, 409 if why else 200, **shown, why=why, person=name, role=role)
    return as_plain_form(page)


def _stops(library: Library, id: str, own: list[Finding]) -> str:
    errors = any(made.severity is Severity.ERROR for made in own)
    why = "What is an error here must be put right before this can be approved." if errors else ""
    return not_ready(library, library.by_id[id]) or why


def approve(workshop: Workshop, request: Request, id: str) -> Response:
    """Answer the POST ``approve/<id>``: write the approval, of the content that was shown and no other."""
    name, role, content = (" ".join(str(request.fields.get(key, "")).split()) for key in ("name", "role", "content"))
    library = library_of(workshop.state, id)
    procedure = library.by_id[id]
    line = approval_line(library, procedure, Approver(name, role))
    why = _stops(library, id, at_approval(library, procedure, workshop.state.findings))
    if not why and line.content != content:
        why = "The procedure was changed while you looked at it. Nothing was approved: look again."
    if not why and not name:
        why = "Write your name: it stands on the approval."
    if not why and request.fields.get("read") != "yes":
        why = "Say that you have read what changed. Nothing was approved."
    why = why or may_not_approve(library, procedure, Approver(name, role))
    try:
        if not why:
            write_approval(library, procedure, line)
    except (CannotEdit, Refused, NotWritten) as error:
        why = str(error)
    if why:
        return _approval(workshop, id, why, name=name, role=role)
    workshop.saved()
    return redirect(f"{workshop.home}/approve/{id}", 303)


ROUTES = (get("/year", show_year), get("/approve/<id>", show_approval), post("/approve/<id>", approve))

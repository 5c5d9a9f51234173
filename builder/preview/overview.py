"""Where the preview begins: every procedure with what was found in it, what was found elsewhere, and each file."""

from collections import defaultdict
from dataclasses import dataclass

from werkzeug.exceptions import NotFound
from werkzeug.utils import redirect
from werkzeug.wrappers import Response

from builder.compose.reading.found_view import remaining
from builder.compose.reading.reading_view import steps_read
from builder.draft.told_file import TOLD
from builder.facts.coverage import silence_of
from builder.findings.finding import Finding, Refused, Severity
from builder.findings.message_words import counted, quoted
from builder.model.pages import Procedure
from builder.place import Place
from builder.preview.answer import Request, as_plain_form, data, rendered
from builder.preview.notes import link_to, notes_elsewhere, numbered, text_lines, title_of
from builder.preview.state import State
from builder.preview.workshop import Workshop
from builder.write.lock import NotWritten
from builder.write.new_department import PAGE, call_of, write_department


@dataclass(frozen=True, slots=True)
class OverviewRow:
    """A procedure in the list; ``said`` counts what was found in its folder and the steps that were not followed,
    ``gravest`` is its gravest kind."""

    id: str
    title: str
    specialty: str
    status: str
    said: str
    gravest: str
    reading: str = ""
    """How far its draft has been read; "" where it is no draft, or all of it was."""


def view(workshop: Workshop, _: Request) -> Response:
    """Answer the address the preview begins at; in a folder that is no department yet, one is begun."""
    if _is_none(workshop):
        return _asked(workshop, {})
    return rendered(workshop, "overview.html.j2", workshop.state)


def begin(workshop: Workshop, request: Request) -> Response:
    """Answer the POST of that page: write the department's first files, or say what is still needed."""
    given = {key: str(request.fields.get(key, "")) for key in ("name", "calls", "approvers")}
    calls, approvers = (
        [line.strip() for line in given[key].splitlines() if line.strip()] for key in ("calls", "approvers")
    )
    name = " ".join(given["name"].split())
    try:
        if not name:
            return _asked(workshop, given, "name", "Write what your department is called.")
        called = [call_of(line) for line in calls]
        write_department(workshop.root, name, called, approvers)
    except ValueError as error:
        return _asked(workshop, given, "calls", str(error))
    except NotWritten as error:
        return _asked(workshop, given, "", str(error))
    except Refused as refusal:
        return _asked(workshop, given, "", f"{refusal.finding.message}. {refusal.finding.hint}")
    workshop.saved()
    return redirect(f"{workshop.home}/new", 303)


def _is_none(workshop: Workshop) -> bool:
    return not (workshop.root / PAGE).exists()


def _asked(workshop: Workshop, given: dict[str, str], field: str = "", said: str = "") -> Response:
    shown = {"given": {"name": "", "calls": "", "approvers": "", **given}, "field": field, "said_wrong": said}
    status = 422 if said else 200
    return as_plain_form(rendered(workshop, "begin.html.j2", workshop.state, status, **shown))


def part(workshop: Workshop, _: Request) -> Response:
    """Answer ``part/overview``: the list itself."""
    state = workshop.state
    notes = notes_elsewhere(workshop, state)
    return rendered(
        workshop,
        "list.html.j2",
        state,
        pane="overview",
        rows=_rows(state),
        notes=notes,
        parent=state.library.department.parent,
    )


def _rows(state: State) -> list[OverviewRow]:
    by_folder: dict[str, list[Finding]] = defaultdict(list)
    for finding in state.findings:
        by_folder["/".join(finding.at.file.split("/")[:3])].append(finding)
    rows = []
    for id, library in {**state.gone, **dict.fromkeys(state.library.by_id, state.library)}.items():
        procedure = library.by_id[id]
        findings = by_folder[f"content/procedures/{id}"]
        status = "no longer in the folder" if id in state.gone else procedure.status.value
        gravest = min((finding.severity for finding in findings), key=list(Severity).index, default=None)
        title, specialty = str(procedure.title), str(procedure.specialty)
        grave = gravest.value if gravest else ""
        said = "; ".join(filter(None, (remaining(findings), silence_of(procedure))))
        rows.append(OverviewRow(id, title, specialty, status, said, grave, _reading(state, procedure)))
    return sorted(rows, key=lambda row: (row.specialty.casefold(), row.title.casefold(), row.id))


def _reading(state: State, procedure: Procedure) -> str:
    read, steps = steps_read(procedure)
    is_told = f"content/procedures/{procedure.id}/{TOLD}" in state.names
    return f"{read} of {counted(steps, 'step')} read" if is_told and read < steps else ""


def file(workshop: Workshop, request: Request, name: str) -> Response:
    """Answer ``file/<path>?line=``: the text of a file, at a line."""
    state = workshop.state
    if name not in state.names:
        raise NotFound(f"{quoted(name)} is not a file of the department that is read.")
    at = Place(name, _number(request.args.get("line", "")), _number(request.args.get("column", "")))
    lines = numbered(text_lines(workshop, name), at.line)
    link = link_to(workshop, state, at)
    return rendered(workshop, "file.html.j2", state, path=name, title=title_of(name), lines=lines, link=link)


def open_in_editor(workshop: Workshop, request: Request) -> Response:
    """Answer the POST ``open``: start the educator's editor at a line of a file."""
    name = request.fields.get("file")
    if not isinstance(name, str) or name not in workshop.state.names:
        raise NotFound("That is not a file of the department that is read.")
    at = Place(name, *(_number(str(request.fields.get(key, 1))) for key in ("line", "column")))
    why_not = workshop.editor.open(workshop.root, at)
    return data({"said": why_not or "Opened in your editor."}, 409 if why_not else 200)


def _number(text: str) -> int:
    return int(text) if text.isascii() and text.isdigit() and len(text) < 9 else 1

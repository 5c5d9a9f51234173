"""Where the preview begins: every procedure with what was found in it, and what was found elsewhere."""

from __future__ import annotations

from dataclasses import dataclass

from werkzeug.exceptions import NotFound
from werkzeug.wrappers import Response

from builder.findings.finding import Severity
from builder.preview.anchors import edited_by_form, title_of
from builder.preview.answer import Request, counted, data, rendered
from builder.preview.notes import notes_elsewhere, text_lines
from builder.preview.state import State
from builder.preview.workshop import Workshop


@dataclass(frozen=True, slots=True)
class OverviewRow:
    """A procedure in the list; ``said`` counts what was found in its folder, ``gravest`` is its gravest kind."""

    id: str
    title: str
    specialty: str
    status: str
    said: str
    gravest: str
    is_gone: bool


def view(workshop: Workshop, _: Request) -> Response:
    """Answer the address the preview begins at."""
    return rendered(workshop, "overview.html.j2", workshop.state())


def part(workshop: Workshop, _: Request) -> Response:
    """Answer ``part/overview``: the list itself."""
    state = workshop.state()
    return rendered(
        workshop,
        "list.html.j2",
        state,
        pane="overview",
        rows=_rows(state),
        notes=notes_elsewhere(workshop, state),
        has_new=True,
    )


def _rows(state: State) -> list[OverviewRow]:
    counts: dict[str, dict[Severity, int]] = {}
    for finding in state.findings:
        parts = finding.at.file.split("/")
        if len(parts) > 3 and parts[1] == "procedures":
            count = counts.setdefault(parts[2], dict.fromkeys(Severity, 0))
            count[finding.severity] += 1
    rows = []
    for id in sorted({*state.library.by_id, *state.gone}):
        holder = state.holder(id)
        assert holder is not None  # it is one of the two
        procedure = holder.by_id[id]
        count = counts.get(id, {})
        gravest = next((one.value for one in Severity if count.get(one)), "")
        row = (id, str(procedure.title), str(procedure.specialty), procedure.status.value, counted(count), gravest)
        rows.append(OverviewRow(*row, id in state.gone))
    return sorted(rows, key=lambda row: (row.specialty.casefold(), row.title.casefold()))


def file(workshop: Workshop, request: Request, name: str) -> Response:
    """Answer ``file/<path>?line=``: the text of a file, at a line."""
    state = workshop.state()
    if name not in state.names:
        raise NotFound(f"{name!r} is no file of the department that is read.")
    line = _number(request.args.get("line", ""))
    editor = workshop.editor
    return rendered(
        workshop,
        "file.html.j2",
        state,
        path=name,
        title=title_of(name),
        lines=text_lines(workshop, name),
        line=line,
        column=_number(request.args.get("column", "")),
        form=f"{workshop.home}/edit/{name}" if edited_by_form(name) else "",
        editor=editor.address(workshop.root, name, line, 1),
        command=bool(editor.how) and not editor.is_address,
    )


def open_in_editor(workshop: Workshop, request: Request) -> Response:
    """Answer the POST ``open``: start the educator's editor at a line of a file."""
    body = request.fields
    name = body.get("file")
    if not isinstance(name, str) or name not in workshop.state().names:
        raise NotFound("That is no file of the department that is read.")
    line, column = (_number(str(body.get(key, 1))) for key in ("line", "column"))
    why = workshop.editor.open(workshop.root, name, line, column)
    return data({"said": why or "Opened in your editor."}, 409 if why else 200)


def _number(text: str) -> int:
    return int(text) if text.isascii() and text.isdigit() and len(text) < 9 else 1

"""Where the preview begins: every procedure with what was found in it, and what was found elsewhere."""

from __future__ import annotations

from dataclasses import dataclass

from builder.findings.finding import Severity
from builder.preview.anchors import edited_by_form, title_of
from builder.preview.answer import Request, Response, Workshop, data
from builder.preview.answer_pages import counted, rendered
from builder.preview.gate import Refusal
from builder.preview.notes import notes_elsewhere, text_lines
from builder.preview.state import State
from builder.preview.workshop import real


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


def view(workshop: Workshop, request: Request) -> Response:
    """Answer the address the preview begins at."""
    if request.path:
        raise Refusal(404, "There is nothing at this address.")
    shop = real(workshop)
    return rendered(shop, "overview.html.j2", shop.state())


def part(workshop: Workshop, request: Request) -> Response:  # noqa: ARG001  # part of the interface
    """Answer ``part/overview``: the list itself."""
    shop = real(workshop)
    state = shop.state()
    return rendered(
        shop,
        "list.html.j2",
        state,
        pane="overview",
        rows=_rows(state),
        notes=notes_elsewhere(shop, state),
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


def file(workshop: Workshop, request: Request) -> Response:
    """Answer ``file/<path>?line=``: the text of a file, at a line."""
    shop = real(workshop)
    state = shop.state()
    name = request.path.removeprefix("file/")
    if name not in state.names:
        raise Refusal(404, f"{name!r} is no file of the department that is read.")
    line = _number(request.query.get("line", ""))
    editor = shop.editor
    return rendered(
        shop,
        "file.html.j2",
        state,
        path=name,
        title=title_of(name),
        lines=text_lines(shop, name),
        line=line,
        column=_number(request.query.get("column", "")),
        form=f"{shop.home}/edit/{name}" if edited_by_form(name) else "",
        editor=editor.address(shop.root, name, line, 1),
        command=bool(editor.how) and not editor.is_address,
    )


def open_in_editor(workshop: Workshop, request: Request) -> Response:
    """Answer the POST ``open``: start the educator's editor at a line of a file."""
    shop = real(workshop)
    body = request.body if isinstance(request.body, dict) else {}
    name = body.get("file")
    if not isinstance(name, str) or name not in shop.state().names:
        raise Refusal(404, "That is no file of the department that is read.")
    why = shop.editor.open(shop.root, name, _number(str(body.get("line", 1))), _number(str(body.get("column", 1))))
    return data({"said": why or "Opened in your editor."}, 409 if why else 200)


def _number(text: str) -> int:
    return int(text) if text.isascii() and text.isdigit() and len(text) < 9 else 1

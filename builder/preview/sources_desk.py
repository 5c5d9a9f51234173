"""Sources in the reading room: added from a record that is pasted, found, and put on what they back. Nothing is looked
up: no request leaves this computer."""

from collections.abc import Callable, Mapping

from werkzeug.utils import redirect
from werkzeug.wrappers import Response

from builder.compose.reading.sources_view import sources_in
from builder.draft.told_desk import Desk
from builder.draft.told_sources import said_to_be_practice, source_put, source_taken_off
from builder.edit.file_change import CannotEdit, Unfit
from builder.edit.forms.form_files import FormEdit
from builder.findings.finding import Refused
from builder.findings.message_words import capital, counted, listed
from builder.load.sources.import_file import read_records
from builder.load.sources.record import ReadRecords
from builder.model.library import Library
from builder.preview.answer import Request, as_plain_form, get, post, rendered
from builder.preview.forms import department_folder
from builder.preview.procedure_pages import library_of, tabs_of
from builder.preview.reading_room import why_not
from builder.preview.workshop import Workshop
from builder.write.lock import NotWritten
from builder.write.sources_file import SourcesNotAdded, add_sources, begun_record
from builder.write.writer import last_edit, write_files

MOST_BYTES = 8 * 1024 * 1024
Fields = Mapping[str, str]


def show(workshop: Workshop, request: Request, id: str) -> Response:
    """Answer ``sources/<id>``: what each page rests on, and the sources there are."""
    return _shown(workshop, id, told=request.args.get("told", ""))


def _shown(workshop: Workshop, id: str, said: str = "", told: str = "", pasted: str = "") -> Response:
    """Show the screen; ``told`` is what was done, ``said`` why it was not, ``pasted`` what stays in its field."""
    library = library_of(workshop.state, id)
    procedure = library.by_id[id]
    answer = rendered(
        workshop, "sources.html.j2", workshop.state, 409 if said else 200,
        procedure=id, title=str(procedure.title), tabs=tabs_of(workshop, id, "sources"), told=told, pasted=pasted,
        view=sources_in(library, procedure), said_wrong=said, undo=last_edit(workshop.root),
    )  # fmt: skip
    return as_plain_form(answer)


def change(workshop: Workshop, request: Request, id: str) -> Response:
    """Answer the POST ``sources/<id>``: add what was pasted, or put a source on a page."""
    library = library_of(workshop.state, id)
    fields = {key: value for key, value in request.fields.items() if isinstance(value, str)}
    word, _, what = fields.get("do", "").partition(":")
    try:
        if word == "add":
            return _added(workshop, library, id, fields.get("pasted", ""))
        edit = _CHANGES[word](Desk(department_folder(workshop), id), library, what, fields)
        write_files(workshop.root, edit.changes, edit.label)
    except (Unfit, CannotEdit, Refused, NotWritten, LookupError) as error:
        return _shown(workshop, id, why_not(error))
    workshop.saved()
    return redirect(f"{workshop.home}/sources/{id}#waiting", 303)


def _added(workshop: Workshop, library: Library, id: str, pasted: str) -> Response:
    read = _read(pasted)
    try:
        merged = add_sources(workshop.root, library.sources, read.records)
    except SourcesNotAdded as refusal:
        return _shown(workshop, id, _of(refusal.findings), pasted=pasted)
    wrong = _of((*read.findings, *merged.findings))
    keys = [key for key, _ in merged.added] + [key for _, key in merged.known]
    if not keys:
        return _shown(workshop, id, wrong or "Nothing was pasted.", pasted=pasted)
    workshop.saved()
    new, known = counted(len(merged.added), "source"), counted(len(merged.known), "source")
    done = f"{new} added, {known} known before: {listed(keys, 'and')}."
    return _shown(workshop, id, told=" ".join(filter(None, (done, wrong))))


def _read(pasted: str) -> ReadRecords:
    """Return the records that were pasted; lines that are DOIs or PubMed numbers alone begin sources."""
    lines = [line.strip() for line in pasted.splitlines() if line.strip()]
    begun = [record for record in map(begun_record, lines) if record]
    return ReadRecords(tuple(begun)) if lines and len(begun) == len(lines) else read_records(pasted, "what was pasted")


def _of(findings: tuple[object, ...]) -> str:
    return " ".join(capital(f"{one.message}. {one.hint}") for one in findings)  # type: ignore[attr-defined]


_CHANGES: Mapping[str, Callable[[Desk, Library, str, Fields], FormEdit]] = {
    "put": lambda desk, library, page, fields: source_put(
        desk, library, page, fields.get("source", "").strip(), " ".join(fields.get("at", "").split())
    ),
    "off": lambda desk, _, what, __: source_taken_off(desk, *what.split(" ", 1)),
    "practice": lambda desk, _, pages, __: said_to_be_practice(desk, pages.split(",")),
}
"""What the buttons do, by the first word of their value."""
ROUTES = (get("/sources/<id>", show), post("/sources/<id>", change))

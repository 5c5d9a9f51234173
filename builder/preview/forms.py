"""The forms: one for each step, caution, aftercare item and procedure, made from the model's schema."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any

from werkzeug.wrappers import Response

from builder.edit.changes import FileChange
from builder.edit.file_text import FileText
from builder.edit.values import CannotEdit, Path, Value, at
from builder.findings.finding import Finding, Refused
from builder.load.files import OpenedFile, open_file
from builder.model.library import Library
from builder.model.pages import Procedure
from builder.model.sequence import StepEntry, every_entry
from builder.preview.answer import Request, data, get, post, rendered
from builder.preview.forms_catalogue import add_entry, entry_forms
from builder.preview.forms_files import FOLDERS, FormFile, safe_path, target_of
from builder.preview.forms_merge import OPENED, shown_prose
from builder.preview.forms_picks import abouts, picks
from builder.preview.forms_remove import remove
from builder.preview.forms_save import done, failed, save
from builder.preview.forms_view import FormSection, Maker, every_field, how_of
from builder.preview.forms_words import KIND_WORDS
from builder.preview.workshop import Workshop
from builder.write.lock import NotWritten
from builder.write.writer import ChangedUnderneath, forget_last, last_edit, write_files
from builder.write.writer import undo as take_back


@dataclass(frozen=True)
class FormLink:
    """One line of the list beside a form."""

    address: str
    title: str
    is_it: bool
    count: int


def form(workshop: Workshop, _request: Request, file: str) -> Response:
    """Show the form of a file; of one that cannot be read as it stands, its text."""
    target = target_of(file)
    if target is None:
        return _nothing(workshop, "There is no form for this file.")
    try:
        opened = open_file(workshop.root, file)
    except Refused as refusal:
        return _nothing(workshop, f"{refusal.finding.message}. {refusal.finding.hint}")
    OPENED.keep(opened.digest, opened.text)
    found = [one for one in workshop.state.findings if one.at.file == file]
    try:
        sheet = FileText.cut(opened.text)
        _ = sheet.root
        held = sheet.data
        if not isinstance(held, dict | None):
            raise CannotEdit("the front matter is no list of `key: value` lines", "Mend it in the text.", 2)
    except CannotEdit as reason:
        return _as_text(workshop, target, opened, reason, found)
    return _form(workshop, target, sheet, opened.digest, found)


def _form(workshop: Workshop, target: FormFile, sheet: FileText, digest: str, found: list[Finding]) -> Response:
    held = sheet.data if isinstance(sheet.data, dict) else {}
    maker = Maker()
    sections = maker.sections(target.kind, held, shown_prose(sheet))
    proposed = _mark_proposed(sections, held)
    placed = [(safe_path(sheet, one), one) for one in found]
    # That a page is proposed is said above it, with the button that confirms it.
    rest = maker.place([(path, one) for path, one in placed if path[-1:] != ("proposed",)])
    shown: dict[str, Any] = {
        "file": target.file,
        "title": str(held.get("title") or held.get("hazard") or target.id),
        "sections": _opened(sections),
        "blanks": maker.blanks,
        "findings": rest,
        "count": len(found),
        "digest": digest,
        "proposed": proposed,
        "is_new": False,
    }
    return _page(workshop, target, shown)


def _opened(sections: list[FormSection]) -> list[FormSection]:
    """Open the sections in which something was found."""
    for section in sections:
        section.is_open = section.is_open or any(one.findings for one in every_field([section]))
    return sections


def _mark_proposed(sections: list[FormSection], held: Mapping[str, Value]) -> bool:
    """Mark what a draft proposed; tell whether there is any."""
    found = bool(held.get("proposed"))
    for one in every_field(sections):
        if one.kind == "action":
            one.is_proposed = _is_proposed(held, one.path)
            found = found or one.is_proposed
    return found


def _is_proposed(held: Mapping[str, Value], path: Path) -> bool:
    try:
        return at(dict(held), (*path, "proposed")) == "true"
    except LookupError:
        return False


def new_form(workshop: Workshop, request: Request, kind: str, procedure: str) -> Response:
    """Show an empty form: ``edit/new/KIND/PROCEDURE``, with ``for`` naming the step that it belongs to."""
    owner = workshop.state.library.by_id.get(procedure)
    if kind not in FOLDERS or owner is None:
        return _nothing(workshop, "There is nothing at this address.")
    step = request.args.get("for", "")
    target = FormFile("", kind, procedure, "")
    values: dict[str, Value] = {"guards": [step]} if kind == "caution" and step in owner.steps else {}
    maker = Maker()
    sections = maker.sections(kind, values, "")
    for one in every_field(sections):
        one.origin = "null"
    steps = [(str(id), str(one.title)) for id, one in _in_order(owner)]
    shown = {
        "file": "",
        "title": f"A new {KIND_WORDS[kind]}{' item' if kind == 'aftercare' else ''}",
        "sections": sections,
        "blanks": maker.blanks,
        "findings": [],
        "count": 0,
        "digest": "",
        "proposed": False,
        "is_new": True,
        "steps": steps if kind == "step" else [],
        "after": step or (steps[-1][0] if steps else ""),
    }
    return _page(workshop, target, shown)


def _page(workshop: Workshop, target: FormFile, shown: Mapping[str, Any]) -> Response:
    library = workshop.state.library
    procedure = library.by_id.get(target.procedure)
    return rendered(
        workshop,
        "form.html.j2",
        workshop.state,
        kind=target.kind,
        kind_word=KIND_WORDS[target.kind],
        procedure=target.procedure,
        procedure_title=str(procedure.title) if procedure else target.procedure or "Shared by many procedures",
        groups=_links(workshop, procedure, target.file) if procedure else [],
        undo=last_edit(workshop.root),
        entries=entry_forms(),
        abouts=abouts(library, procedure),
        how_of=how_of,
        **shown,
    )


def _links(workshop: Workshop, procedure: Procedure, file: str) -> list[tuple[str, str, list[FormLink]]]:
    """Return the list beside the form: heading, kind for a new one, and a line for each part."""
    counts: dict[str, int] = {}
    for one in workshop.state.findings:
        counts[one.at.file] = counts.get(one.at.file, 0) + 1

    def line(name: str, title: str) -> FormLink:
        return FormLink(f"{workshop.home}/edit/{name}", title, name == file, counts.get(name, 0))

    return [
        ("", "", [line(procedure.file, "Details, kit and order")]),
        ("Steps", "step", [line(one.file, str(one.title)) for _, one in _in_order(procedure)]),
        ("Cautions", "caution", [line(one.file, str(one.hazard)) for one in procedure.cautions.values()]),
        ("Aftercare", "aftercare", [line(one.file, str(one.title)) for one in procedure.aftercare_items.values()]),
    ]


def _in_order(procedure: Procedure) -> Iterable[tuple[str, Any]]:
    """Yield the steps in the order of the sequence, those that stand in none at the end."""
    named = [str(one.step) for one in every_entry(procedure.sequence) if isinstance(one, StepEntry)]
    for id in dict.fromkeys([*named, *procedure.steps]):
        if id in procedure.steps:
            yield id, procedure.steps[id]


def _as_text(
    workshop: Workshop, target: FormFile, opened: OpenedFile, reason: CannotEdit, found: list[Finding]
) -> Response:
    library: Library = workshop.state.library
    procedure = library.by_id.get(target.procedure)
    return rendered(
        workshop,
        "form_text.html.j2",
        workshop.state,
        file=target.file,
        kind=target.kind,
        procedure=target.procedure,
        procedure_title=str(procedure.title) if procedure else target.procedure,
        groups=_links(workshop, procedure, target.file) if procedure else [],
        undo=last_edit(workshop.root),
        reason=reason,
        findings=found,
        text=opened.text.removeprefix("\ufeff").replace("\r\n", "\n").replace("\r", "\n"),
        digest=opened.digest,
        abouts={},
    )


def save_text(workshop: Workshop, request: Request) -> Response:
    """Write the whole text of a file that no form can show."""
    body = request.fields
    file, text, digest = (str(body.get(name) or "") for name in ("file", "text", "opened"))
    target = target_of(file)
    if target is None:
        return failed("This was not understood. Load the page again.")
    try:
        before = open_file(workshop.root, file)
        ending = FileText("", before.text, "", "").newline
        mark = "\ufeff" if before.text.startswith("\ufeff") else ""
        written = mark + text.replace("\r\n", "\n").replace("\n", ending)
        write_files(workshop.root, {file: FileChange(written, digest)}, f"{target.id}: text changed")
    except Refused as refusal:
        return failed(f"{refusal.finding.message}. {refusal.finding.hint}")
    except (NotWritten, UnicodeError):
        return failed("The file was changed by another program. Copy your text, then load the page again.", 409)
    return done(workshop, [file], file)


def undo(workshop: Workshop, request: Request) -> Response:
    """Take back the last edit."""
    body = request.fields
    if body.get("forget") is True:
        forget_last(workshop.root)
        return data({"go": ""})
    try:
        label, files = take_back(workshop.root)
    except LookupError:
        return failed("There is nothing to take back.")
    except ChangedUnderneath as changed:
        names = ", ".join(changed.files)
        message = f"{names} was changed by another program since, so the last edit cannot be taken back whole."
        return data({"errors": [{"path": [], "label": "", "message": message}], "forget": True}, 409)
    except NotWritten as error:
        return failed(str(error), 409)
    workshop.saved()
    here = str(body.get("file") or "")
    go = here if here and (workshop.root / here).is_file() else _head_of(here or files[0])
    return data({"go": f"{workshop.home}/edit/{go}", "label": label, "files": files})


def _head_of(file: str) -> str:
    target = target_of(file)
    return f"content/procedures/{target.procedure}/procedure.md" if target and target.procedure else file


def _nothing(workshop: Workshop, message: str) -> Response:
    return rendered(workshop, "form_none.html.j2", workshop.state, 404, message=message)


ROUTES = (
    get("/edit/picks", picks),
    get("/edit/new/<kind>/<procedure>", new_form),
    get("/edit/<path:file>", form),
    post("/edit/save", save),
    post("/edit/text", save_text),
    post("/edit/undo", undo),
    post("/edit/remove", remove),
    post("/edit/catalogue", add_entry),
)

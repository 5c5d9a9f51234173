"""The forms in the browser: addresses and answers. What they ask, show and change is decided in ``edit/forms``."""

import re
import threading
from collections import Counter
from collections.abc import Callable, Iterable
from functools import partial
from typing import Any

from werkzeug.wrappers import Response

from builder.edit.file_change import CannotEdit, FileChange, Path, Unfit, Value
from builder.edit.file_text import plain_ends
from builder.edit.forms.field_words import words_of
from builder.edit.forms.form_fields import how_of, new_page, shown_page
from builder.edit.forms.form_files import FOLDERS, FormEdit, FormFile, FormFolder, target_of
from builder.edit.forms.new_entry import ENTRIES, entry_added, entry_forms
from builder.edit.forms.picks import about, picks
from builder.edit.forms.removing import removed
from builder.edit.forms.saving import FilledForm, TwoVersions, saved
from builder.edit.operations import retyped
from builder.findings.finding import Refused, Severity
from builder.findings.message_words import capital, counted
from builder.load.files import OpenedFile, open_file, walk
from builder.model.pages import Procedure
from builder.model.sequence import StepEntry
from builder.preview.answer import Request, data, get, post, rendered
from builder.preview.workshop import Workshop
from builder.write.lock import NotWritten
from builder.write.writer import ChangedUnderneath, forget_last, last_edit, undo, write_files

_MOST_OPENED = 200
_WITHIN = re.compile(r"[a-z]+/[A-Za-z0-9/_-]*(?:\?use=[0-9]+)?(?:#[A-Za-z0-9_-]+)?")
_NOT_UNDERSTOOD = "This was not understood. Load the page again."


class OpenedForms:
    """The texts that forms were opened with, by digest: what both sides started from. The oldest are forgotten."""

    def __init__(self) -> None:
        self._texts: dict[str, str] = {}
        self._lock = threading.Lock()

    def keep(self, opened: OpenedFile) -> None:
        """Remember a text."""
        with self._lock:
            self._texts.pop(opened.digest, None)
            self._texts[opened.digest] = opened.text
            if len(self._texts) > _MOST_OPENED:
                del self._texts[next(iter(self._texts))]

    def get(self, digest: str) -> str | None:
        """Return the text; None where it is not remembered."""
        return self._texts.get(digest)


_OPENED = OpenedForms()
FormLink = tuple[str, str, bool, int]
"""A line of the list beside a form: its address and title, whether it is the one that is open, how much was found."""


def show_form(workshop: Workshop, request: Request, file: str) -> Response:
    """Show the form of a file; of one that cannot be read as it stands, its text."""
    target = target_of(file)
    if target is None:
        return _nothing(workshop, "There is no form for this file.")
    try:
        opened = open_file(workshop.root, file)
    except Refused as refusal:
        return _nothing(workshop, f"{refusal.finding.message}. {refusal.finding.hint}")
    _OPENED.keep(opened)
    found = [one for one in workshop.state.findings if one.at.file == file]
    try:
        page = shown_page(target, opened.text, found)
    except CannotEdit as reason:
        shown = {"reason": reason, "findings": found, "text": plain_ends(opened.text)}
        return _page(workshop, target, "form_text.html.j2", digest=opened.digest, **shown)
    return _form(workshop, target, digest=opened.digest, page=page, is_new=False, back=_back(request))


def _back(request: Request) -> str:
    """Return where in the preview the form was opened from; "" where that is not said, or is elsewhere."""
    back = request.args.get("back", "")
    return back if _WITHIN.fullmatch(back) else ""


def show_new(workshop: Workshop, request: Request, kind: str, procedure: str) -> Response:
    """Show an empty form: ``edit/new/KIND/PROCEDURE``. ``for`` names its step, ``concerns`` the item that stays."""
    owner = workshop.state.library.by_id.get(procedure)
    if kind not in FOLDERS or owner is None:
        return _nothing(workshop, "There is nothing at this address.")
    step = request.args.get("for", "")
    held: dict[str, Value] = {"guards": [step]} if kind == "caution" and step in owner.steps else {}
    if kind == "aftercare" and (item := request.args.get("concerns", "")):
        held["concerns"] = item
    page = new_page(kind, held)
    steps = [(str(id), str(one.title)) for id, one in _in_order(owner)]
    after = step or (steps[-1][0] if steps else "")
    shown = {"page": page, "steps": steps if kind == "step" else [], "after": after, "back": _back(request)}
    return _form(workshop, FormFile("", kind, procedure, ""), digest="", is_new=True, **shown)


def _form(workshop: Workshop, target: FormFile, **shown: Any) -> Response:
    return _page(workshop, target, "form.html.j2", entries=entry_forms(), how_of=how_of, **shown)


def _page(workshop: Workshop, target: FormFile, template: str, **shown: Any) -> Response:
    library = workshop.state.library
    procedure = library.by_id.get(target.procedure)
    return rendered(
        workshop,
        template,
        workshop.state,
        file=target.file,
        kind=target.kind,
        procedure=target.procedure,
        procedure_title=str(procedure.title) if procedure else target.procedure or "Shared by many procedures",
        groups=_links(workshop, procedure, target.file) if procedure else [],
        undo=last_edit(workshop.root),
        about=partial(about, library, procedure),
        **{"back": "", **shown},
    )


def _links(workshop: Workshop, procedure: Procedure, file: str) -> list[tuple[str, str, list[FormLink]]]:
    """Return the list beside the form: heading, kind for a new one, and a line for each part."""
    counts = Counter(one.at.file for one in workshop.state.findings)

    def line(name: str, title: str) -> FormLink:
        return f"{workshop.home}/edit/{name}", title, name == file, counts[name]

    return [
        ("", "", [line(procedure.file, "Details, kit and order")]),
        ("Steps", "step", [line(one.file, str(one.title)) for _, one in _in_order(procedure)]),
        ("Cautions", "caution", [line(one.file, str(one.hazard)) for one in procedure.cautions.values()]),
        ("Aftercare", "aftercare", [line(one.file, str(one.title)) for one in procedure.aftercare_items.values()]),
    ]


def _in_order(procedure: Procedure) -> Iterable[tuple[str, Any]]:
    """Yield the steps in the order of the sequence, those that stand in none at the end."""
    named = [str(one.step) for one in procedure.entries if isinstance(one, StepEntry)]
    for id in dict.fromkeys([*named, *procedure.steps]):
        if id in procedure.steps:
            yield id, procedure.steps[id]


def _nothing(workshop: Workshop, message: str) -> Response:
    return rendered(workshop, "form_none.html.j2", workshop.state, 404, message=message)


def show_picks(workshop: Workshop, request: Request) -> Response:
    """Answer with what can be chosen from."""
    chosen, catalogue = picks(workshop.state.library, request.args)
    return data({"picks": [{"value": value, "about": said} for value, said in chosen], "catalogue": catalogue})


def save(workshop: Workshop, request: Request) -> Response:
    """Write a form. 200 with where to go next, 409 with both versions, 422 with what is wrong where."""
    form = FilledForm.read(request.fields)
    if form is None:
        return _failed("The form was not understood. Load it again.")
    base = _OPENED.get(form.opened)
    return _written(workshop, form.target.kind, lambda: saved(department_folder(workshop), form, base))


def save_text(workshop: Workshop, request: Request) -> Response:
    """Write the whole text of a file that no form can show."""
    file, text, digest = (str(request.fields.get(name) or "") for name in ("file", "text", "opened"))
    target = target_of(file)
    if target is None:
        return _failed(_NOT_UNDERSTOOD)

    def edit() -> FormEdit:
        now = open_file(workshop.root, file)
        if now.digest != digest:
            raise NotWritten("The file was changed by another program. Copy your text, then load the page again.")
        return FormEdit({file: FileChange(retyped(now.text, text), digest)}, f"{target.id}: text changed", file)

    return _written(workshop, target.kind, edit)


def remove(workshop: Workshop, request: Request) -> Response:
    """Take out what the form of ``file`` shows. 200 with where to go next, 422 with why it cannot be."""
    target = target_of(str(request.fields.get("file") or ""))
    if target is None or target.kind == "procedure" or not target.procedure:
        return _failed("This cannot be taken out here.")
    digest = str(request.fields.get("opened") or "")
    return _written(workshop, target.kind, lambda: removed(department_folder(workshop), target, digest))


def add_entry(workshop: Workshop, request: Request) -> Response:
    """Add an entry to a catalogue. 200 with the name it can be called by, 422 with what is wrong."""
    name, trees = str(request.fields.get("catalogue") or ""), request.fields.get("values")
    if name not in ENTRIES or not isinstance(trees, dict):
        return _failed(_NOT_UNDERSTOOD)
    return _written(
        workshop, name, lambda: entry_added(department_folder(workshop), workshop.state.library, name, trees)
    )


def take_back(workshop: Workshop, request: Request) -> Response:
    """Take back the last edit."""
    if request.fields.get("forget") is True:
        forget_last(workshop.root)
        return data({"go": ""})
    try:
        label, files = undo(workshop.root)
    except LookupError:
        return _failed("There is nothing to take back.")
    except ChangedUnderneath as changed:
        names = ", ".join(changed.files)
        message = f"{names} was changed by another program since, so the last edit cannot be taken back whole."
        return _failed(message, 409, forget=True)
    except NotWritten as error:
        return _failed(str(error), 409)
    workshop.saved()
    forms = [file for file in (str(request.fields.get("file") or ""), *files) if target_of(file)]
    heads = [f"content/procedures/{target.procedure}/procedure.md" for file in forms if (target := target_of(file))]
    go = next((file for file in (*forms[:1], *heads) if (workshop.root / file).is_file()), "")
    return data({"go": f"{workshop.home}/edit/{go}" if go else f"{workshop.home}/", "label": label, "files": files})


def department_folder(workshop: Workshop) -> FormFolder:
    """Return the department's folder as edits see it."""
    names = frozenset(f"content/{name}" for name, is_link in walk(workshop.root / "content") if not is_link)
    return FormFolder(names, partial(open_file, workshop.root))


def _written(workshop: Workshop, kind: str, make: Callable[[], FormEdit | TwoVersions]) -> Response:
    """Write what ``make`` returns, and say where to go; where it cannot be, say in plain words why nothing was."""
    before = _errors(workshop)
    try:
        edit = make()
        if isinstance(edit, TwoVersions):
            return _both(workshop, edit)
        write_files(workshop.root, edit.changes, edit.label)
    except Unfit as unfit:
        return _wrong(kind, unfit.problems)
    except CannotEdit as reason:
        return _failed(f"{capital(reason.reason)}. {reason.hint}")
    except Refused as refusal:
        return _failed(f"{capital(refusal.finding.message)}. {refusal.finding.hint}")
    except NotWritten as error:
        return _failed(str(error), 409)
    state = workshop.saved()
    go = {"go": f"{workshop.home}/edit/{edit.go}", "value": edit.go, "state": state, "files": [*edit.changes]}
    return data({**go, "worse": _worse(sorted(_errors(workshop) - before))})


def _errors(workshop: Workshop) -> set[str]:
    return {str(one.message) for one in workshop.state.findings if one.severity is Severity.ERROR}


def _worse(new: list[str]) -> str:
    """Say which errors a saving has made; "" where there is none."""
    more = f", and {counted(len(new) - 1, 'more error')}" if len(new) > 1 else ""
    return f"That made an error: {new[0]}{more}." if new else ""


def _both(workshop: Workshop, versions: TwoVersions) -> Response:
    """Answer with both versions of each field that differs."""
    _OPENED.keep(versions.opened)
    html = workshop.renderer.render("preview/form_both.html.j2", differences=versions.differences)
    return data({"html": html, "now": versions.opened.digest}, 409)


def _failed(message: str, status: int = 422, **more: Any) -> Response:
    """Answer that nothing was written, and why."""
    return data({"errors": [{"path": [], "label": "", "message": message}], **more}, status)


def _wrong(kind: str, problems: Iterable[tuple[Path, str]]) -> Response:
    """Answer that nothing was written, with each problem at its field."""
    labels = {path: words_of(kind, str(path[0])).label if path else "" for path, _ in problems}
    errors = [{"path": list(path), "label": labels[path], "message": text} for path, text in problems]
    return data({"errors": errors}, 422)


ROUTES = (
    get("/edit/picks", show_picks),
    get("/edit/new/<kind>/<procedure>", show_new),
    get("/edit/<path:file>", show_form),
    post("/edit/save", save),
    post("/edit/text", save_text),
    post("/edit/undo", take_back),
    post("/edit/remove", remove),
    post("/edit/catalogue", add_entry),
)

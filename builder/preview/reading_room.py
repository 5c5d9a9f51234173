"""The reading room: the talk beside its module. What is shown is decided in ``compose/reading``, what is changed in
``draft``; every answer is a plain form, so that it works without scripts, and its change can be taken back."""

from collections.abc import Callable, Mapping
from contextlib import suppress
from functools import partial
from typing import Any

from werkzeug.exceptions import BadRequest
from werkzeug.utils import redirect
from werkzeug.wrappers import Response

from builder.compose.reading.asked_view import asked_of
from builder.compose.reading.found_view import found_in, missing_for_approval
from builder.compose.reading.order_view import order_of
from builder.compose.reading.reading_view import KINDS, ROLES, USES, reading_of
from builder.draft.told_answers import accepted, meant, named, pages_accepted, set_aside
from builder.draft.told_desk import Desk
from builder.draft.told_file import TOLD, Told, read_told
from builder.draft.told_steps import (
    always_done,
    chosen_instead,
    joined,
    one_or_other,
    only_sometimes,
    ordered,
    page_id,
    step_beside,
    way_filled,
    way_taken_out,
)
from builder.draft.told_uses import Use, action_added, action_dropped, moved, split
from builder.edit.file_change import CannotEdit, Unfit
from builder.edit.forms.form_files import FormEdit
from builder.findings.finding import Refused, Severity
from builder.findings.message_words import capital
from builder.load.files import open_file
from builder.model.action import Verb
from builder.model.library import Library
from builder.preview.answer import Request, as_plain_form, get, post, rendered
from builder.preview.forms import department_folder
from builder.preview.procedure_pages import library_of, tabs_of
from builder.preview.workshop import Workshop
from builder.write.fill import fill
from builder.write.lock import NotWritten
from builder.write.writer import ChangedUnderneath, last_edit, undo, write_files

Fields = Mapping[str, str]


def show(workshop: Workshop, request: Request, id: str) -> Response:
    """Answer ``read/<id>``: the talk beside the module; ``use`` names the sentence that is to be moved."""
    return _shown(workshop, id, asked={key: request.args.get(key, "") for key in ("use", "words")})


def _shown(workshop: Workshop, id: str, said: str = "", asked: Fields | None = None) -> Response:
    """Show the screen; ``said`` is why what was ``asked`` for was not done."""
    kept = asked or {}
    use = kept.get("use", "")
    state = workshop.state
    library = library_of(state, id)
    procedure = library.by_id[id]
    view = reading_of(library, procedure, _told(workshop, id))
    things = sorted(
        {str(one) for step in procedure.steps.values() for action in step.actions for one in action.objects}
    )
    answer = rendered(
        workshop, "read.html.j2", state, 409 if said else 200,
        procedure=id, title=str(procedure.title), tabs=tabs_of(workshop, id, "read"), view=view, roles=ROLES, uses=USES,
        kinds=KINDS, verbs=[verb.value for verb in Verb], things=things, said_wrong=said, undo=last_edit(workshop.root),
        use=int(use) if use.isdecimal() else -1, words=kept.get("words", ""),
        kept=kept,
    )  # fmt: skip
    return as_plain_form(answer)


def _told(workshop: Workshop, id: str) -> Told:
    with suppress(Refused, CannotEdit):
        return read_told(open_file(workshop.root, f"content/procedures/{id}/{TOLD}").text)
    return Told()


def show_order(workshop: Workshop, _: Request, id: str) -> Response:
    """Answer ``order/<id>``: the map of the operation, and its steps to be pulled to where they belong."""
    return _ordered(workshop, id)


def _ordered(workshop: Workshop, id: str, said: str = "", _: Fields | None = None) -> Response:
    library = library_of(workshop.state, id)
    view = order_of(library, library.by_id[id])
    return _screen(workshop, id, "order", 409 if said else 200, view=view, said_wrong=said)


def change(workshop: Workshop, request: Request, id: str, screen: str = "read") -> Response:
    """Answer the POST ``read/<id>``: make the change that the pressed button names, and show what comes next."""
    again = _ordered if screen == "order" else _shown
    library = library_of(workshop.state, id)
    fields = {key: value for key, value in request.fields.items() if isinstance(value, str)}
    word, _, what = fields.get("do", "").partition(":")
    if word == "undo":
        return _taken_back(workshop, id, screen)
    make = _CHANGES.get(word)
    if make is None:
        raise BadRequest("This was not understood. Load the page again.")
    try:
        edit = make(Desk(department_folder(workshop), id), library, what, fields)
        write_files(workshop.root, edit.changes, edit.label)
    except (Unfit, CannotEdit, Refused, NotWritten, LookupError, ValueError) as error:
        return again(workshop, id, why_not(error), fields)
    workshop.saved()
    return redirect(f"{workshop.home}/{screen}/{id}#{_anchor(word, what)}", 303)


change_order = partial(change, screen="order")
"""Answers the POST ``order/<id>``."""


def _taken_back(workshop: Workshop, id: str, screen: str = "read") -> Response:
    try:
        undo(workshop.root)
    except LookupError:
        return _shown(workshop, id, said="There is nothing to take back.")
    except ChangedUnderneath:
        said = "A file was changed by another program since, so this cannot be taken back. What stands there stays."
        return _shown(workshop, id, said=said)
    except NotWritten as error:
        return _shown(workshop, id, said=str(error))
    workshop.saved()
    return redirect(
        f"{workshop.home}/{screen}/{id}" if id in workshop.state.library.by_id else f"{workshop.home}/", 303
    )


def why_not(error: Exception) -> str:
    """Return in plain words why a change was not made."""
    if isinstance(error, CannotEdit):
        return f"{capital(error.reason)}. {error.hint}"
    if isinstance(error, Refused):
        return f"{capital(error.finding.message)}. {error.finding.hint}"
    if isinstance(error, Unfit):
        return "Nothing was changed: " + "; ".join(text for _, text in error.problems)
    return str(error) if isinstance(error, NotWritten) else "This was not understood. Load the page again."


def _anchor(word: str, what: str) -> str:
    if word in ("accept", "use", "split"):
        return f"s{what.partition(':')[0]}"
    return f"step-{page_id(what)}" if what.startswith("steps/") else ""


def show_asked(workshop: Workshop, request: Request, id: str) -> Response:
    """Answer ``asked/<id>``: one question of those that are open; ``n`` says which."""
    number = request.args.get("n", "")
    return _asked(workshop, id, int(number) if number.isdecimal() and len(number) < 5 else 0)


def _asked(workshop: Workshop, id: str, number: int, said: str = "", words: str = "") -> Response:
    library = library_of(workshop.state, id)
    view = asked_of(library, library.by_id[id], _told(workshop, id), number)
    return _screen(workshop, id, "asked", 409 if said else 200, view=view, said_wrong=said, words=words)


def _screen(workshop: Workshop, id: str, name: str, status: int = 200, **shown: Any) -> Response:
    title = str(library_of(workshop.state, id).by_id[id].title)
    more = {"procedure": id, "title": title, "tabs": tabs_of(workshop, id, name), "undo": last_edit(workshop.root)}
    return as_plain_form(rendered(workshop, f"{name}.html.j2", workshop.state, status, **more, **shown))


def answer(workshop: Workshop, request: Request, id: str) -> Response:
    """Answer the POST ``asked/<id>``: put the answer where it belongs, or set the question aside with a reason."""
    fields = {key: value for key, value in request.fields.items() if isinstance(value, str)}
    word, _, pick = fields.get("do", "").partition(":")
    file, key, words = fields.get("file", ""), fields.get("key", ""), pick or fields.get("words", "")
    number = int(fields["n"]) if fields.get("n", "").isdecimal() else 0
    words = " ".join(words.split()).lstrip("#> ")
    try:
        if word == "undo":
            return _taken_back(workshop, id, "asked")
        if word == "aside":
            edit = set_aside(Desk(department_folder(workshop), id), f"{file} {key}", words)
            write_files(workshop.root, edit.changes, edit.label)
        elif not words:
            return _asked(workshop, id, number, "Nothing was answered. Write a line, or go on to the next question.")
        else:
            sheet = f"## Answer\n\nFile: `{file}`\n\n### {key}: asked\n\n{words}\n"
            _, found = fill(workshop.root, sheet, "Asked", workshop.state.library)
            wrong = [one for one in found if one.severity is Severity.ERROR]
            if wrong:
                return _asked(workshop, id, number, f"{capital(wrong[0].message)}. {wrong[0].hint}", words)
    except (Unfit, CannotEdit, Refused, NotWritten, LookupError) as error:
        return _asked(workshop, id, number, why_not(error), words)
    workshop.saved()
    return redirect(f"{workshop.home}/asked/{id}?n={number}", 303)


def show_found(workshop: Workshop, request: Request, id: str) -> Response:
    """Answer ``found/<id>``: what remains; ``way`` names the finding whose way is drawn on the map."""
    library, number = library_of(workshop.state, id), request.args.get("way", "")
    way = int(number) if number.isdecimal() and len(number) < 5 else -1
    return _screen(workshop, id, "found", view=found_in(library, library.by_id[id], workshop.state.findings, way))


def show_done(workshop: Workshop, _: Request, id: str) -> Response:
    """Answer ``done/<id>``: what is missing for approval."""
    procedure = library_of(workshop.state, id).by_id[id]
    return _screen(workshop, id, "done", lines=missing_for_approval(procedure, workshop.state.findings))


_Change = Callable[[Desk, Library, str, Fields], FormEdit]


def _use(desk: Desk, library: Library, what: str, fields: Fields) -> FormEdit:
    number, _, role = what.partition(":")
    step, words, kind = (fields.get(key, "") for key in ("step", "words", "kind"))
    return moved(desk, library, Use(int(number), role, step, words, kind))


def _beside(desk: Desk, _: Library, what: str, __: Fields, *, behind: bool) -> FormEdit:
    return ordered(desk, what, step_beside(desk, what, behind=behind), behind=behind)


def _kind(desk: Desk, library: Library, what: str, _: Fields) -> FormEdit:
    group, kind, words = what.split(":", 2)
    return named(desk, library, words, f"{group}:{kind}")


def _add_action(desk: Desk, library: Library, what: str, fields: Fields) -> FormEdit:
    return action_added(desk, library, what, fields)


_CHANGES: Mapping[str, _Change] = {
    "accept": lambda desk, _, what, __: accepted(desk, int(what)),
    "part": lambda desk, _, what, __: pages_accepted(desk, what.split(",")),
    "practice": lambda desk, _, what, __: pages_accepted(desk, what.split(","), as_practice=True),
    "use": _use,
    "split": lambda desk, library, what, _: split(desk, library, int(what)),
    "join": lambda desk, _, what, __: joined(desk, what),
    "up": partial(_beside, behind=False),
    "down": partial(_beside, behind=True),
    "before": lambda desk, _, what, fields: ordered(desk, what, fields["other"], behind=False),
    "after": lambda desk, _, what, fields: ordered(desk, what, fields["other"], behind=True),
    "instead": lambda desk, _, what, fields: chosen_instead(
        desk, what, fields["other"], fields.get("when", "").strip()
    ),
    "always": lambda desk, _, what, __: always_done(desk, what),
    "option": lambda desk, _, what, fields: only_sometimes(desk, what, fields.get("when", "").strip()),
    "choice": lambda desk, _, what, fields: one_or_other(desk, what, fields.get("when", "").strip()),
    "fill": lambda desk, _, what, fields: way_filled(desk, what, fields["other"]),
    "no-way": lambda desk, _, what, __: way_taken_out(desk, what),
    "meant": lambda desk, _, what, __: meant(desk, what, desk.told.misheard[what]),
    "heard": lambda desk, _, what, __: meant(desk, what, ""),
    "named": lambda desk, library, what, fields: named(desk, library, what, fields.get("kind", "")),
    "kind": _kind,
    "no-name": lambda desk, library, what, _: named(desk, library, what, ""),
    "action": _add_action,
    "drop": lambda desk, _, what, __: action_dropped(desk, *what.rsplit(":", 1)),
}
"""What the buttons do, by the first word of their value."""
ROUTES = (
    get("/read/<id>", show),
    post("/read/<id>", change),
    get("/order/<id>", show_order),
    post("/order/<id>", change_order),
    get("/asked/<id>", show_asked),
    post("/asked/<id>", answer),
    get("/found/<id>", show_found),
    get("/done/<id>", show_done),
)

"""The reading room: the talk beside its module. What is shown is decided in ``compose/reading``, what is changed in
``draft``; every answer is a plain form, so that it works without scripts, and its change can be taken back."""

from collections.abc import Callable, Mapping
from contextlib import suppress
from functools import partial
from typing import Any

from werkzeug.exceptions import BadRequest
from werkzeug.utils import redirect
from werkzeug.wrappers import Response

from builder.check.paths.unsaid_deeds import unsaid_deeds
from builder.compose.reading.asked_view import asked_of
from builder.compose.reading.found_view import found_in, missing_for_approval
from builder.compose.reading.order_view import order_of
from builder.compose.reading.reading_view import KINDS, ROLES, USES, reading_of
from builder.draft.told_answers import (
    accepted,
    decided,
    graded,
    meant,
    named,
    pages_accepted,
    said_instead,
    set_aside,
    short_for,
    so_many,
    sure,
)
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
from builder.findings.finding import Refused
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
        kinds=KINDS, verbs=[verb.value for verb in Verb], things=things, said_wrong=said, undo=_undoable(workshop),
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
    again = _SCREENS[screen]
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


def _undoable(workshop: Workshop) -> str:
    """Return what can be taken back here; "" where that is the draft itself."""
    last = last_edit(workshop.root) or ""
    return "" if last.endswith(": drafted") else last


def _taken_back(workshop: Workshop, id: str, screen: str = "read") -> Response:
    again, changed = _SCREENS[screen], "A file was changed by another program since, so this cannot be taken back."
    try:
        undo(workshop.root)
    except LookupError:
        return again(workshop, id, said="There is nothing to take back.")
    except ChangedUnderneath:
        return again(workshop, id, said=f"{changed} What stands there stays.")
    except NotWritten as error:
        return again(workshop, id, said=str(error))
    workshop.saved()
    is_there = id in workshop.state.library.by_id
    return redirect(f"{workshop.home}/{screen}/{id}" if is_there else f"{workshop.home}/", 303)


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
    if word in ("accept", "use", "split", "said") and what.partition(":")[0].isdecimal():
        return f"s{what.partition(':')[0]}"
    return f"step-{page_id(what)}" if what.startswith("steps/") else ""


def show_asked(workshop: Workshop, request: Request, id: str) -> Response:
    """Answer ``asked/<id>``: one question of those that are open; ``n`` says which."""
    return _asked(workshop, id, asked=request.args)


def _asked(workshop: Workshop, id: str, said: str = "", asked: Fields | None = None) -> Response:
    library, asked = library_of(workshop.state, id), asked or {}
    view = asked_of(library, library.by_id[id], _told(workshop, id), _number(asked.get("n", ""), 0))
    words = asked.get("words", "") if said else ""
    return _screen(workshop, id, "asked", 409 if said else 200, view=view, said_wrong=said, words=words)


def _number(words: str, otherwise: int) -> int:
    return int(words) if words.isdecimal() and len(words) < 5 else otherwise


def _screen(workshop: Workshop, id: str, name: str, status: int = 200, **shown: Any) -> Response:
    title = str(library_of(workshop.state, id).by_id[id].title)
    more = {"procedure": id, "title": title, "tabs": tabs_of(workshop, id, name), "undo": _undoable(workshop)}
    return as_plain_form(rendered(workshop, f"{name}.html.j2", workshop.state, status, **more, **shown))


def answer(workshop: Workshop, request: Request, id: str, screen: str = "asked") -> Response:
    """Answer the POST ``asked/<id>``: put the answer where it belongs, or set the question aside with a reason."""
    again, before = _SCREENS[screen], workshop.state
    fields = {key: value for key, value in request.fields.items() if isinstance(value, str)}
    word, _, pick = fields.get("do", "").partition(":")
    file, key, words = fields.get("file", ""), fields.get("key", ""), pick or fields.get("words", "")
    words = " ".join(words.split()).lstrip("#> ")
    try:
        if word == "undo":
            return _taken_back(workshop, id, screen)
        if word in ("aside", "told"):
            desk = Desk(department_folder(workshop), id)
            edit = (
                set_aside(desk, f"{file} {key}", words)
                if word == "aside"
                else moved(desk, before.library, Use(int(pick), key, file.removeprefix(f"{desk.home}/")))
            )
            write_files(workshop.root, edit.changes, edit.label)
        elif not words:
            return again(workshop, id, "Nothing was answered. Write a line, or go on to the next question.")
        else:
            sheet = f"## Answer\n\nFile: `{file}`\n\n### {key}: asked\n\n{words}\n"
            _, found = fill(workshop.root, sheet, "Asked", workshop.state.library)
            if found:  # also where an answer was there already: what was typed is not lost
                return again(workshop, id, f"{capital(found[0].message)}. {found[0].hint}", {**fields, "words": words})
    except (Unfit, CannotEdit, Refused, NotWritten, LookupError, ValueError) as error:
        return again(workshop, id, why_not(error), {**fields, "words": words})
    workshop.saved()
    asked = _deeds_asked(before.library, id, file)
    if (
        word not in ("aside", "told")
        and key in asked
        and asked[key] in _deeds_asked(workshop.state.library, id, file).values()
    ):
        undo(workshop.root)
        workshop.saved()
        return again(workshop, id, f"“{words}” does not settle it, so nothing was changed. Choose another.", fields)
    return redirect(f"{workshop.home}/{screen}/{id}?n={_number(fields.get('n', ''), 0)}", 303)


def _deeds_asked(library: Library, id: str, file: str) -> Mapping[str, str]:
    """Return what is asked about the actions of ``file``, by key: the words stay the same when actions move."""
    asked = unsaid_deeds(library, library.by_id[id]) if id in library.by_id else ()
    return {f"{deed.key}.{deed.number}": deed.asked for deed in asked if deed.step.file == file}


def show_found(workshop: Workshop, request: Request, id: str) -> Response:
    """Answer ``found/<id>``: what remains; ``way`` names the finding whose way is drawn on the map."""
    return _found(workshop, id, asked=request.args)


def _found(workshop: Workshop, id: str, said: str = "", asked: Fields | None = None) -> Response:
    library, way = library_of(workshop.state, id), _number((asked or {}).get("way", ""), -1)
    view = found_in(library, library.by_id[id], workshop.state.findings, _told(workshop, id), way)
    return _screen(workshop, id, "found", 409 if said else 200, view=view, said_wrong=said)


def put_right(workshop: Workshop, request: Request, id: str) -> Response:
    """Answer the POST ``found/<id>``: an answer that puts a finding right, or an action that is taken out."""
    is_answer = str(request.fields.get("do", "")).startswith("pick:")
    return (answer if is_answer else change)(workshop, request, id, "found")


def show_done(workshop: Workshop, _: Request, id: str) -> Response:
    """Answer ``done/<id>``: what is missing for approval."""
    return _done(workshop, id)


def _done(workshop: Workshop, id: str, said: str = "", _: Fields | None = None) -> Response:
    lines = missing_for_approval(library_of(workshop.state, id).by_id[id], workshop.state.findings)
    return _screen(workshop, id, "done", 409 if said else 200, lines=lines, said_wrong=said)


_SCREENS: Mapping[str, Callable[..., Response]] = {
    "read": _shown, "order": _ordered, "asked": _asked, "found": _found, "done": _done,
}  # fmt: skip
"""Each screen as it is shown again, with why something was not done and what was asked for."""


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
    "told": lambda desk, library, what, fields: moved(
        desk, library, Use(int(fields["told"]), what.rpartition(":")[2], what.rpartition(":")[0])
    ),
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
    "meant": lambda desk, library, what, _: meant(desk, library, what, desk.told.misheard[what]),
    "said": lambda desk, library, what, fields: said_instead(desk, library, fields.get("was", what), fields["words"]),
    "heard": lambda desk, library, what, _: meant(desk, library, what, ""),
    "short": lambda desk, library, what, _: short_for(desk, library, *what.split(":", 1)),
    "many": lambda desk, library, what, fields: so_many(desk, library, what, fields.get("number", "").strip()),
    "named": lambda desk, library, what, fields: named(desk, library, what, fields.get("kind", "")),
    "kind": _kind,
    "no-name": lambda desk, library, what, _: named(desk, library, what, ""),
    "action": _add_action,
    "drop": lambda desk, _, what, __: action_dropped(desk, *what.rsplit(":", 1)),
    "sure": lambda desk, _, what, __: sure(desk, *what.split(":", 2)),
    "grave": lambda desk, _, what, __: graded(desk, *what.rsplit(":", 1)),
    "decide": lambda desk, _, what, fields: decided(desk, what, fields.get("words", "")),
}
"""What the buttons do, by the first word of their value."""
ROUTES = (
    get("/read/<id>", show),
    post("/read/<id>", change),
    get("/order/<id>", show_order),
    post("/order/<id>", partial(change, screen="order")),
    get("/asked/<id>", show_asked),
    post("/asked/<id>", answer),
    get("/found/<id>", show_found),
    post("/found/<id>", put_right),
    get("/done/<id>", show_done),
    post("/done/<id>", partial(change, screen="done")),
)

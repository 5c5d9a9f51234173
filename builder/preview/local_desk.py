"""What is local over the parent, in the browser: both texts side by side, the choice between them, and a new change."""

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from datetime import date
from typing import Any

from werkzeug.exceptions import NotFound
from werkzeug.utils import redirect
from werkzeug.wrappers import Response

from builder.compose.view.local_view import changed_name, names_of, rests_on
from builder.edit.file_change import CannotEdit
from builder.edit.forms.field_words import words_of
from builder.findings.finding import Finding, Refused
from builder.findings.register import LOCAL_ERRORS
from builder.model.library import Library
from builder.model.local_layers import DEPARTMENT
from builder.model.local_page import LocalChange
from builder.model.local_values import digest_of
from builder.model.pages import Procedure, is_shared
from builder.preview.answer import Request, as_plain_form, get, post, rendered
from builder.preview.local_parts import (
    DEEDS,
    CannotChangePart,
    changed_part,
    pages_of,
    part_words,
    parts_of_parent,
)
from builder.preview.procedure_pages import library_of
from builder.preview.workshop import Workshop
from builder.write.local_choice import add_entries, keep_ours, take_theirs
from builder.write.lock import NotWritten

_CHOICES = {"keep": keep_ours, "take": take_theirs}
_SEEN = "A text was changed while you looked at it. Nothing was written: look again."
_KEYS = {
    "step": ("title", "cue", "if_not", "error", "recovery", "why", "call", "minutes"),
    "caution": ("hazard", "consequence", "avoid", "sign", "if_it_happens", "call"),
    "aftercare": ("title", "who", "patient_text"),
}
"""What one line of a form can replace; anything else is written into the file."""
_WHY = ("because", "document", "date")
_LINES = ("which", "with", *_WHY)
_OF_PART = ("part", "deed", "title", *_WHY)


@dataclass(frozen=True, slots=True)
class LocalRow:
    """One change as it is listed: ``where`` names it to the form, ``seen`` is the parent's text that is shown."""

    where: str
    seen: str
    what: str
    why: str
    rests: str
    ours: str
    theirs: str
    waits: bool
    was_chosen: bool


@dataclass(frozen=True, slots=True)
class ReplaceableText:
    """A text of the parent that can be replaced: ``name`` for the form, the part and key in words, and the text."""

    name: str
    part: str
    key: str
    text: str


def show_local(workshop: Workshop, _: Request) -> Response:
    """Answer ``local``: everything that is changed here in what the parent wrote."""
    return _local(workshop)


def _local(workshop: Workshop, why: str = "") -> Response:
    state = workshop.state
    rows = sorted(_rows(state.library), key=lambda row: not row.waits)
    wrong: list[Finding] = [made for made in state.findings if made.name in LOCAL_ERRORS]
    procedures = [(str(one.id), str(one.title)) for one in state.library.procedures if one.file in state.library.lent]
    shown: dict[str, Any] = {"rows": rows, "wrong": wrong, "procedures": procedures, "why": why}
    return as_plain_form(rendered(workshop, "local.html.j2", state, 409 if why else 200, **shown))


def _rows(library: Library) -> Iterator[LocalRow]:
    for change in library.local:
        procedure = library.by_id.get(change.procedure)
        title = f"{procedure.title}: " if procedure else ""
        yield LocalRow(
            f"{change.procedure or DEPARTMENT} {change.number}",
            change.digest,
            f"{title}{changed_name(change, names_of(procedure) if procedure else {})}",
            change.because,
            rests_on(change),
            change.ours or "Left out.",
            change.theirs or "Nothing.",
            waits=not change.is_chosen,
            was_chosen=bool(change.was),
        )


def choose(workshop: Workshop, request: Request) -> Response:
    """Answer the POST ``local``: keep ours or take theirs, over the parent's text that was shown and no other."""
    change = _asked(workshop.state.library, str(request.fields.get("where", "")))
    choice = _CHOICES.get(str(request.fields.get("do", "")))
    if choice is None or change is None or change.digest != request.fields.get("seen"):
        return _local(workshop, _SEEN)
    return _written(workshop, lambda: choice(workshop.state.library, change)) or redirect(f"{workshop.home}/local", 303)


def _asked(library: Library, where: str) -> LocalChange | None:
    return next((one for one in library.local if f"{one.procedure or DEPARTMENT} {one.number}" == where), None)


def _written(workshop: Workshop, write: Callable[[], None]) -> Response | None:
    """Write, and return what to show where that cannot be done."""
    try:
        write()
    except (CannotEdit, Refused, NotWritten) as error:
        return _local(workshop, str(error))
    workshop.saved()
    return None


def show_new(workshop: Workshop, _: Request, id: str) -> Response:
    """Answer ``local/<id>``: the texts of a procedure of the parent, each to be replaced by one of ours."""
    return _new(workshop, id)


def _new(workshop: Workshop, id: str, why: str = "", **filled: str) -> Response:
    library = library_of(workshop.state, id)
    procedure = library.by_id[id]
    if procedure.file not in library.lent:
        raise NotFound("This procedure is the department's own. Change it where it stands.")
    texts = list(_texts(library, procedure))
    told: dict[str, Any] = {"id": id, "title": str(procedure.title), "texts": texts, "why": why, "deeds": DEEDS}
    told["parts"] = list(parts_of_parent(library, procedure))
    told["filled"] = dict.fromkeys((*_LINES, *_OF_PART), "") | filled
    page = rendered(workshop, "local_new.html.j2", workshop.state, 409 if why else 200, **told)
    return as_plain_form(page)


def _texts(library: Library, procedure: Procedure) -> Iterator[ReplaceableText]:
    changed = {(change.kind, change.id, change.key) for change in library.local_of(procedure)}
    for (kind, id, title), page in pages_of(procedure).items():
        part = part_words(procedure, kind, id, title)
        for key in _KEYS[kind] if page.file in library.lent and not is_shared(page) else ():
            if not {(kind, id, key), (kind, id, "")} & changed:
                value = getattr(page, key)
                text = "" if value is None else str(value)
                yield ReplaceableText(f"{kind} {id} {key}", part, words_of(kind, key).label, text)


def add(workshop: Workshop, request: Request, id: str) -> Response:
    """Answer the POST ``local/<id>``: write a new change, with its reason, document and day."""
    filled = {key: " ".join(str(request.fields.get(key, "")).split()) for key in _LINES}
    library = library_of(workshop.state, id)
    text = next((one for one in _texts(library, library.by_id[id]) if one.name == filled["which"]), None)
    why = _SEEN if text is None else "" if all(filled.values()) else "Fill in every line: a reader is shown all of it."
    why = why or _wrong_day(filled["date"])
    if why or text is None:
        return _new(workshop, id, why, **filled)
    target, _, key = text.name.rpartition(" ")
    entry = {"replace" if text.text else "add": target, "key": key, **{name: filled[name] for name in _LINES[1:]}}
    entry |= {"was": digest_of(text.text)} if text.text else {}
    return _written(workshop, lambda: add_entries(library, id, [entry])) or redirect(f"{workshop.home}/local", 303)


def add_part(workshop: Workshop, request: Request, id: str) -> Response:
    """Answer the POST ``local/<id>/part``: leave a whole part out, or write or add one, and go on to its form."""
    filled = {key: " ".join(str(request.fields.get(key, "")).split()) for key in _OF_PART}
    library = library_of(workshop.state, id)
    procedure = library.by_id[id]
    part = next((one for one in parts_of_parent(library, procedure) if one.name == filled["part"]), None)
    why = "" if all(filled[key] for key in _WHY) else "Say why, and which document says so: a reader sees it."
    why = _SEEN if part is None else why or _wrong_day(filled["date"])
    if why or part is None:
        return _new(workshop, id, why, **filled)
    try:
        entries, files = changed_part(library, procedure, part, filled["deed"], filled["title"])
    except CannotChangePart as reason:
        return _new(workshop, id, str(reason), **filled)
    entries = [entry | {key: filled[key] for key in _WHY} for entry in entries]
    to = next((f"edit/{name}" for name in files), "local")
    return _written(workshop, lambda: add_entries(library, id, entries, files)) or redirect(
        f"{workshop.home}/{to}", 303
    )


def _wrong_day(words: str) -> str:
    try:
        date.fromisoformat(words)
    except ValueError:
        return f"“{words}” is not a day. Write year-month-day, such as 2028-05-31."
    return ""


ROUTES = (
    get("/local", show_local), post("/local", choose), get("/local/<id>", show_new), post("/local/<id>", add),
    post("/local/<id>/part", add_part),
)  # fmt: skip

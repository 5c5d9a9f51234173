"""A picture of a step: put on it, described, cropped, and pointed at, by click or by numbers."""

import base64
import binascii
from collections.abc import Callable, Mapping
from contextlib import suppress
from typing import Any

from werkzeug.exceptions import NotFound
from werkzeug.utils import redirect
from werkzeug.wrappers import Response

from builder.draft.told_desk import Desk
from builder.draft.told_pictures import (
    area_of,
    figures_of,
    picture_added,
    picture_cropped,
    picture_described,
    picture_dropped,
    pointer_dropped,
    pointer_set,
    pointers_of,
)
from builder.edit.file_change import CannotEdit, FileChange
from builder.edit.forms.form_files import FormEdit
from builder.edit.forms.picks import picks
from builder.findings.finding import Refused
from builder.load.files import read_bytes
from builder.load.limits import MAX_FIGURE_BYTES
from builder.model.pages import Step
from builder.preview.answer import Request, as_plain_form, get, post, rendered
from builder.preview.forms import department_folder
from builder.preview.procedure_pages import library_of, tabs_of
from builder.preview.reading_room import why_not
from builder.preview.workshop import Workshop
from builder.publish.pictures import clean_photograph
from builder.write.lock import NotWritten
from builder.write.writer import digest_now, last_edit, write_files

MOST_BYTES = 40 * 1024 * 1024
Fields = Mapping[str, str]
_SAID = ("alt", "caption", "credit", "consent")


def show(workshop: Workshop, request: Request, id: str, page: str) -> Response:
    """Answer ``picture/<id>/<page>``: picture ``n`` of a step, or the form that puts one on it."""
    return _shown(workshop, id, page, {"n": request.args.get("n", "")})


def _shown(workshop: Workshop, id: str, page: str, given: Fields, said: str = "") -> Response:
    """Show the screen; what was ``given`` stands in its fields, ``said`` is why what was asked for was not done."""
    number = given["n"]
    state = workshop.state
    library = library_of(state, id)
    step = next((one for one in library.by_id[id].steps.values() if str(one.file).endswith(f"/{page}")), None)
    desk = Desk(department_folder(workshop), id)
    if step is None or not desk.has(page):
        raise NotFound("This step is not there, or its text is kept by the department above.")
    figures = figures_of(desk, page)
    at = int(number) if number.isdecimal() and int(number) < len(figures) else -1
    figure = figures[at] if at >= 0 else {}
    shown: dict[str, Any] = {
        "procedure": id, "page": page, "number": at, "many": len(figures), "title": str(step.title),
        "tabs": tabs_of(workshop, id, "read"), "said_wrong": said, "undo": last_edit(workshop.root),
        "figure": {**dict.fromkeys(_SAID, ""), **figure, **{key: given[key] for key in _SAID if key in given}},
        "area": area_of(figure), "pointers": pointers_of(figure), "size": _size(workshop, id, figure),
        "structures": _structures_of(step), "anchor": f"step-{step.id}",
        "consents": picks(library, {"for": "consents", "procedure": id})[0],
    }  # fmt: skip
    return as_plain_form(rendered(workshop, "picture.html.j2", state, 409 if said else 200, **shown))


def _size(workshop: Workshop, id: str, figure: Mapping[str, Any]) -> tuple[int, int]:
    """Return width and height of a picture in points, so that nothing moves when it arrives; of a drawing, 4 by 3."""
    with suppress(Refused):
        head = read_bytes(workshop.root, f"content/procedures/{id}/figures/{figure.get('file')}", MAX_FIGURE_BYTES)
        if head.startswith(b"\x89PNG"):
            return int.from_bytes(head[16:20]), int.from_bytes(head[20:24])  # IHDR stands first (PNG 3rd ed., 11.2.1)
    return 4, 3


def _structures_of(step: Step) -> list[str]:
    """Return the names that a pointer on a picture of ``step`` can have: those of the step itself."""
    named = [str(name) for action in step.actions for name in action.objects]
    return list(dict.fromkeys([*named, *map(str, step.at_risk)]))


def change(workshop: Workshop, request: Request, id: str, page: str) -> Response:
    """Answer the POST ``picture/<id>/<page>``: make the change that the pressed button names."""
    fields = {key: value for key, value in request.fields.items() if isinstance(value, str)}
    word, _, what = fields.get("do", "").partition(":")
    number = fields.get("n", "")
    desk = Desk(department_folder(workshop), id)
    try:
        edit = _CHANGES[word](desk, page, int(number) if number.isdecimal() else -1, {**fields, "what": what})
        gone = _unused(workshop, desk, page, int(number)) if word == "off" else {}
        write_files(workshop.root, {**edit.changes, **gone}, edit.label)
    except (CannotEdit, Refused, NotWritten, LookupError, ValueError) as error:
        return _shown(workshop, id, page, {**fields, "n": number}, why_not(error))
    workshop.saved()
    if word == "off":
        return redirect(f"{workshop.home}/read/{id}#step-{page.rpartition('/')[2].removesuffix('.md')}", 303)
    new = len(figures_of(Desk(department_folder(workshop), id), page)) - 1
    return redirect(f"{workshop.home}/picture/{id}/{page}?n={new if word == 'put' else number}", 303)


def _unused(workshop: Workshop, desk: Desk, page: str, number: int) -> dict[str, FileChange]:
    """Return what takes away the file of a picture that no other place shows."""
    file = str(figures_of(Desk(department_folder(workshop), desk.procedure), page)[number].get("file"))
    uses = [one for one in library_of(workshop.state, desk.procedure).by_id[desk.procedure].figures if one.file == file]
    name = f"{desk.home}/figures/{file}"
    digest = digest_now(workshop.root, name)
    return {name: FileChange(None, digest)} if len(uses) < 2 and name.endswith(".png") and digest else {}


def _put(desk: Desk, page: str, _: int, fields: Fields) -> FormEdit:
    try:
        content = base64.b64decode(fields.get("file", ""), validate=True)
    except (binascii.Error, ValueError):
        raise NotWritten("The picture did not arrive whole. Nothing was changed.") from None
    if not content:
        raise CannotEdit("no picture was chosen", "Choose one, or drop it on the page.")
    return picture_added(desk, page, clean_photograph("The picture", content), fields)


def _numbers(fields: Fields, *keys: str) -> list[float]:
    try:
        return [float(fields[key]) for key in keys]
    except (KeyError, ValueError):
        raise CannotEdit(
            "a place on the picture is a number from 0 to 100", "Click on the picture, or write it."
        ) from None


def _crop(desk: Desk, page: str, number: int, fields: Fields) -> FormEdit:
    left, top, right, bottom = _numbers(fields, "left", "top", "right", "bottom")
    return picture_cropped(desk, page, number, (left, top, right, bottom))


def _point(desk: Desk, page: str, number: int, fields: Fields) -> FormEdit:
    across, down = _numbers(fields, "x", "y")
    return pointer_set(desk, page, number, (across, down), fields.get("structure", ""))


_CHANGES: Mapping[str, Callable[[Desk, str, int, Fields], FormEdit]] = {
    "put": _put,
    "say": picture_described,
    "crop": _crop,
    "point": _point,
    "unpoint": lambda desk, page, number, fields: pointer_dropped(desk, page, number, int(fields["what"])),
    "off": lambda desk, page, number, _: picture_dropped(desk, page, number),
}
"""What the buttons do, by the first word of their value."""
ROUTES = (get("/picture/<id>/<path:page>", show), post("/picture/<id>/<path:page>", change))

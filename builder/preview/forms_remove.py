"""Takes a step, caution or aftercare item out: its file, and its name wherever it is listed; this can be undone."""

from __future__ import annotations

from werkzeug.wrappers import Response

from builder.edit.changes import Drop, Edit, FileChange
from builder.edit.file_text import FileText
from builder.edit.operations import edited
from builder.edit.values import CannotEdit, Value
from builder.load.files import open_file
from builder.preview.answer import Request
from builder.preview.forms_files import FormFile, problems_of, sequence_place, target_of
from builder.preview.forms_save import done, failed, writing
from builder.preview.workshop import Workshop
from builder.write.writer import write_files

_LISTED = {
    "step": (("caution", "guards"),),
    "caution": (("step", "cautions"),),
    "aftercare": (("aftercare", "goes_with"), ("procedure", "aftercare")),
}
"""In which lists of which files a part is named, beside the sequence."""


def remove(workshop: Workshop, request: Request) -> Response:
    """Take out what the form of ``file`` shows. 200 with where to go next, 422 with why it cannot be."""
    body = request.fields
    target = target_of(str(body.get("file") or ""))
    if target is None or target.kind == "procedure" or not target.procedure:
        return failed("This cannot be taken out here.")
    opened = str(body.get("opened") or "")
    return writing(lambda: _removed(workshop, target, opened), target.kind)


def _removed(workshop: Workshop, target: FormFile, opened: str) -> Response:
    now = open_file(workshop.root, target.file)
    if now.digest != opened:
        reason = "the file was changed by another program since this page was opened"
        raise CannotEdit(reason, "Load the page again, look at it, then take it out.")
    changes = {target.file: FileChange(None, now.digest)}
    for path in sorted((workshop.root / f"content/procedures/{target.procedure}").rglob("*.md")):
        file = path.relative_to(workshop.root).as_posix()
        other = target_of(file)
        if other is not None and file != target.file:
            change = _without(workshop, other, target)
            if change is not None:
                changes[file] = change
    write_files(workshop.root, changes, f"{target.id}: taken out")
    return done(workshop, list(changes), f"content/procedures/{target.procedure}/procedure.md")


def _without(workshop: Workshop, other: FormFile, gone: FormFile) -> FileChange | None:
    """Return the file of ``other`` without the name of ``gone``; None where it does not have it."""
    opened = open_file(workshop.root, other.file)
    text = opened.text
    try:
        while edits := _edits(other, FileText.cut(text).data, gone):
            text = edited(text, other.kind, edits)
    except CannotEdit as reason:
        if gone.id in text:
            raise CannotEdit(f"{other.file}: {reason.reason}", reason.hint, reason.line) from None
        return None
    if text == opened.text:
        return None
    problems = problems_of(text, other)
    if problems and not problems_of(opened.text, other):
        hint = "Take out first what holds it, in the order of the steps."
        raise CannotEdit(f"without it nothing would be left where it stands in {other.file}", hint)
    return FileChange(text, opened.digest)


def _edits(other: FormFile, data: Value, gone: FormFile) -> list[Edit]:
    """Return the edit that takes the name out of one list; nothing where it stands in none."""
    if not isinstance(data, dict):
        return []
    if gone.kind == "step" and other.kind == "procedure":
        place = sequence_place(data.get("sequence"), gone.id)
        return [Drop((*place[0], place[1]))] if place else []
    for kind, key in _LISTED[gone.kind]:
        held = data.get(key)
        if kind == other.kind and isinstance(held, list) and gone.id in held:
            return [Drop((key,) if len(held) == 1 else (key, held.index(gone.id)))]
    return []

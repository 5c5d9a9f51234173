"""What is to be written to take a step, caution or aftercare item out: its file, and its name wherever it is listed."""

from builder.edit.file_change import CannotEdit, Drop, Edit, FileChange, Value
from builder.edit.file_text import FileText
from builder.edit.forms.form_files import FormEdit, FormFile, FormFolder, place_in_sequence, problems_of, target_of
from builder.edit.operations import edited

_LISTED = {
    "step": (("caution", "guards"),),
    "caution": (("step", "cautions"),),
    "aftercare": (("aftercare", "goes_with"), ("procedure", "aftercare")),
}
"""In which lists of which files a part is named, beside the sequence."""


def removed(folder: FormFolder, target: FormFile, digest: str) -> FormEdit:
    """Return what takes ``target`` out; ``digest`` is that of its file when its form was opened. Raises CannotEdit."""
    now = folder.open(target.file)
    if now.digest != digest:
        reason = "the file was changed by another program since this page was opened"
        raise CannotEdit(reason, "Load the page again, look at it, then take it out.")
    changes = {target.file: FileChange(None, now.digest)}
    place = f"content/procedures/{target.procedure}/"
    for other in (target_of(name) for name in sorted(folder.names) if name.startswith(place)):
        change = _without(folder, other, target) if other and other.file != target.file else None
        if other and change:
            changes[other.file] = change
    return FormEdit(changes, f"{target.id}: taken out", f"{place}procedure.md")


def _without(folder: FormFolder, other: FormFile, gone: FormFile) -> FileChange | None:
    """Return the file of ``other`` without the name of ``gone``; None where it does not have it."""
    opened = folder.open(other.file)
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
        where = "the order of the steps" if other.kind == "procedure" else f"“{other.id}”"
        raise CannotEdit(f"without it nothing would be left where it stands in {where}", hint)
    return FileChange(text, opened.digest)


def _edits(other: FormFile, data: Value, gone: FormFile) -> list[Edit]:
    """Return the edit that takes the name out of one list; nothing where it stands in none."""
    if not isinstance(data, dict):
        return []
    if gone.kind == "step" and other.kind == "procedure":
        place = place_in_sequence(data.get("sequence"), gone.id)
        return [Drop((*place[0], place[1]))] if place else []
    for kind, key in _LISTED[gone.kind]:
        held = data.get(key)
        if kind == other.kind and isinstance(held, list) and gone.id in held:
            return [Drop((key,) if len(held) == 1 else (key, held.index(gone.id)))]
    return []

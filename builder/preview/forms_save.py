"""Takes what a form was filled in with, and writes it: all that belongs together, or nothing."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from typing import Any

from werkzeug.wrappers import Response

from builder.edit.changes import Add, Drop, Edit, FileChange, ProseEdit, Put, settled
from builder.edit.file_text import FileText
from builder.edit.new_page import id_for, new_text
from builder.edit.operations import edited
from builder.edit.values import CannotEdit, Path, Value
from builder.findings.finding import Refused
from builder.load.files import open_file
from builder.preview.answer import Request, data
from builder.preview.forms_files import FOLDERS, FormFile, label_of, problems_of, sequence_place, target_of
from builder.preview.forms_merge import OPENED, bare, differences, shown_prose, trees_of
from builder.preview.forms_shapes import shape_of
from builder.preview.forms_trees import Unclear, wanted_of
from builder.preview.workshop import Workshop
from builder.write.lock import NotWritten
from builder.write.writer import write_files


@dataclass(frozen=True)
class Asked:
    """What the browser sent. ``opened`` is the digest of the file when the form was opened, "" for a new file.

    ``take`` says for each field that two people changed whose version is meant; ``now`` is the digest of the file that
    was shown beside it. ``after`` is the step behind which a new one comes.
    """

    target: FormFile
    opened: str
    values: Mapping[str, Any]
    take: Mapping[str, str] = field(default_factory=dict)
    now: str = ""
    after: str = ""
    confirms: bool = False

    @classmethod
    def read(cls, body: Any) -> Asked | None:
        """Return what was asked; None where it was not understood."""
        if not isinstance(body, dict) or not isinstance(body.get("values"), dict):
            return None
        file, kind, procedure = (str(body.get(name) or "") for name in ("file", "kind", "procedure"))
        if file:
            target = target_of(file)
        else:
            fits = kind in FOLDERS and target_of(f"content/procedures/{procedure}/procedure.md")
            target = FormFile("", kind, procedure, "") if fits else None
        take = body.get("take")
        if target is None:
            return None
        return cls(
            target,
            str(body.get("opened") or ""),
            body["values"],
            {str(key): str(value) for key, value in take.items()} if isinstance(take, dict) else {},
            str(body.get("now") or ""),
            str(body.get("after") or ""),
            body.get("confirm") is True,
        )


def save(workshop: Workshop, request: Request) -> Response:
    """Write a form. 200 with where to go next, 409 with both versions, 422 with what is wrong where."""
    asked = Asked.read(request.body)
    if asked is None:
        return failed("The form was not understood. Load it again.")
    return writing(
        lambda: _new(workshop, asked) if not asked.target.file else _changed(workshop, asked), asked.target.kind
    )


def writing(write: Callable[[], Response], kind: str) -> Response:
    """Answer what ``write`` answers; where it cannot, say in plain words why nothing was written."""
    try:
        return write()
    except Unclear as unclear:
        return wrong(kind, [(unclear.path, f"{_capital(str(unclear))}.")])
    except CannotEdit as reason:
        return failed(f"{_capital(reason.reason)}. {reason.hint}")
    except Refused as refusal:
        return failed(f"{_capital(refusal.finding.message)}. {refusal.finding.hint}")
    except NotWritten as error:
        return failed(str(error), 409)


def _capital(words: str) -> str:
    return words[:1].upper() + words[1:]


def failed(message: str, status: int = 422) -> Response:
    """Answer that nothing was written, and why."""
    return data({"errors": [{"path": [], "label": "", "message": message}]}, status)


def wrong(kind: str, problems: list[tuple[Path, str]]) -> Response:
    """Answer that nothing was written, with each problem at its field."""
    errors = [{"path": list(path), "label": label_of(kind, path), "message": text} for path, text in problems]
    return data({"errors": errors}, 422)


def _changed(workshop: Workshop, asked: Asked) -> Response:
    target = asked.target
    opened = open_file(workshop.root, target.file)
    base = OPENED.get(asked.opened)
    clash = opened.digest != asked.opened
    if clash and asked.now != opened.digest:
        return _both(workshop, asked, opened.text, opened.digest)
    edits = _merging(asked, opened.text, base) if clash else _edits(target.kind, opened.text, asked.values)
    if asked.confirms:
        edits = [*edits, *_confirming(opened.text, edits)]
    text = edited(opened.text, target.kind, edits)
    problems = problems_of(text, target)
    if problems:
        return wrong(target.kind, problems)
    if text != opened.text:
        label = f"{_title(asked.values) or target.id}: {'confirmed' if asked.confirms else 'edited'}"
        write_files(workshop.root, {target.file: FileChange(text, opened.digest)}, label)
    return done(workshop, [target.file], target.file)


def done(workshop: Workshop, files: list[str], go: str) -> Response:
    """Answer that all is written, and where to go: the form of the file ``go``."""
    state = workshop.saved()
    return data({"go": f"{workshop.home}/edit/{go}", "state": state, "files": files})


def _title(values: Mapping[str, Any]) -> str:
    return str(values.get("title") or values.get("hazard") or "").strip()


def _edits(kind: str, text: str, values: Mapping[str, Any]) -> list[Edit]:
    sheet = FileText.cut(text)
    held = sheet.data if isinstance(sheet.data, dict) else {}
    found: list[Edit] = []
    for part in shape_of(kind).parts:
        path: Path = (part.key,)
        if part.key not in values:
            continue
        old = held.get(part.key)
        wanted = wanted_of(part.shape, values[part.key], held, path, path)
        if wanted is None:
            found += [Drop(path)] if old else []
        elif wanted is not old:
            found.append(Put(path, wanted))
    return found + _prose_edit(sheet, values)


def _prose_edit(sheet: FileText, values: Mapping[str, Any]) -> list[Edit]:
    prose = values.get("prose")
    if not isinstance(prose, str):
        return []
    prose = prose.replace("\r\n", "\n").strip("\n")
    if prose.strip() == shown_prose(sheet).strip():
        return []
    lead = len(sheet.body) - len(sheet.body.lstrip("\r\n"))
    return [ProseEdit(sheet.body[:lead].replace("\r\n", "\n").replace("\r", "\n") + prose + ("\n" if prose else ""))]


def _confirming(text: str, edits: list[Edit]) -> list[Edit]:
    """Take away ``proposed`` of the page and of its actions, as they are after ``edits``."""
    held = FileText.cut(text).data
    put = next((one.wanted for one in edits if isinstance(one, Put) and one.path == ("actions",)), None)
    dropped = any(isinstance(one, Drop) and one.path == ("actions",) for one in edits)
    if not isinstance(held, dict):
        return []
    actions = settled(put) if put is not None else None if dropped else held.get("actions")
    listed = actions if isinstance(actions, list) else []
    found: list[Edit] = [
        Drop(("actions", number, "proposed"))
        for number, one in enumerate(listed)
        if isinstance(one, dict) and "proposed" in one
    ]
    return found + ([Drop(("proposed",))] if "proposed" in held else [])


def _both(workshop: Workshop, asked: Asked, text: str, digest: str) -> Response:
    """Answer with both versions of each field that differs."""
    try:
        found = differences(asked.target.kind, text, asked.values, OPENED.get(asked.opened))
    except CannotEdit as reason:
        return failed(f"The file was changed by another program, and {reason.reason}. {reason.hint}", 409)
    if not found:  # somebody else wrote the same
        return done(workshop, [asked.target.file], asked.target.file)
    OPENED.keep(digest, text)
    html = workshop.renderer.render("preview/form_both.html.j2", differences=found)
    return data({"html": html, "now": digest}, 409)


def _merging(asked: Asked, text: str, base: str | None) -> list[Edit]:
    """Return the edits of the fields for which the form's version was chosen."""
    kind = asked.target.kind
    mine = {key: value for key, value in asked.values.items() if asked.take.get(key) == "mine"}
    now, before = trees_of(kind, text), trees_of(kind, base) if base is not None else {}
    same = {key: value for key, value in mine.items() if key in before and bare(before[key]) == bare(now.get(key))}
    others = _edits(kind, text, {key: value for key, value in mine.items() if key not in same})
    # Where rows came from means nothing in a list that somebody else has changed.
    rest: list[Edit] = [Put(one.path, settled(one.wanted)) if isinstance(one, Put) else one for one in others]
    return _edits(kind, text, same) + rest


def _new(workshop: Workshop, asked: Asked) -> Response:
    kind, procedure = asked.target.kind, asked.target.procedure
    values: dict[str, Value] = {}
    for part in shape_of(kind).parts:
        wanted = wanted_of(part.shape, asked.values.get(part.key), {}, (part.key,), None)
        if wanted is not None:
            values[part.key] = settled(wanted)
    folder = f"content/procedures/{procedure}/{FOLDERS[kind]}"
    title = _title(asked.values)
    taken = {path.stem for path in (workshop.root / folder).glob("*.md")}
    name = id_for(title, taken, kind)
    target = FormFile(f"{folder}/{name}.md", kind, procedure, name)
    text = new_text(kind, values, str(asked.values.get("prose") or ""))
    problems = problems_of(text, target)
    if problems:
        return wrong(kind, problems)
    changes = {target.file: FileChange(text, None), **_links(workshop, target, values, asked.after)}
    write_files(workshop.root, changes, f"{title or name}: added")
    return done(workshop, list(changes), target.file)


def _links(workshop: Workshop, target: FormFile, values: Mapping[str, Value], after: str) -> dict[str, FileChange]:
    """Return the changes that link a new file in: a step into the sequence, a caution into the steps it guards."""
    folder = f"content/procedures/{target.procedure}"
    if target.kind == "step":
        return {f"{folder}/procedure.md": _in_sequence(workshop, f"{folder}/procedure.md", target.id, after)}
    found: dict[str, FileChange] = {}
    guards = values.get("guards")
    for step in guards if target.kind == "caution" and isinstance(guards, list) else ():
        file = f"{folder}/steps/{step}.md"
        if target_of(file) is not None and (workshop.root / file).is_file():
            opened = open_file(workshop.root, file)
            data_of = FileText.cut(opened.text).data
            held = data_of.get("cautions") if isinstance(data_of, dict) else None
            number = len(held) if isinstance(held, list) else 1 if held else 0
            text = edited(opened.text, "step", [Add(("cautions",), number, target.id)])
            found[file] = FileChange(text, opened.digest)
    return found


def _in_sequence(workshop: Workshop, file: str, step: str, after: str) -> FileChange:
    opened = open_file(workshop.root, file)
    held = FileText.cut(opened.text).data
    sequence = held.get("sequence") if isinstance(held, dict) else None
    place = sequence_place(sequence, after) if after else None
    path, number = (place[0], place[1] + 1) if place else (("sequence",), len(sequence or []))
    return FileChange(edited(opened.text, "procedure", [Add(path, number, step)]), opened.digest)

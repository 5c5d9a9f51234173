"""Writes a draft: the whole folder of a new procedure, or nothing; what exists is never touched."""

import os
from collections.abc import Callable, Iterable, Iterator
from dataclasses import replace
from pathlib import Path
from typing import Any

from builder.draft.draft_pages import catalogue_pages, pages
from builder.draft.proposal import Proposal
from builder.edit.file_change import CannotEdit, FileChange
from builder.edit.forms.form_files import FormFile, target_of
from builder.edit.operations import confirmed
from builder.load.files import open_file, walk
from builder.write.lock import NotWritten
from builder.write.writer import ChangedUnderneath, write_files

CleanPicture = Callable[[str, bytes, tuple[float, float, float, float] | None], bytes]
"""Told what the picture is, its bytes, and left, top, right and bottom of what is shown, in per cent."""


def write(root: Path, proposal: Proposal, clean: CleanPicture) -> tuple[str, ...]:
    """Write ``proposal`` as ``content/procedures/<id>/`` of the department in ``root``; return the paths written.

    Names that its actions need become catalogue files of their own.

    Pictures get neutral names, and ``clean`` makes each anew from the points that are shown; one that cannot be read
    (NotWritten) is left out and named in the notes. Raises NotWritten where the folder exists or cannot be made. Then
    nothing is left behind.
    """
    folder = refuse_existing(root, proposal.id)
    figures, pictures, left_out = _figures(proposal, clean)
    proposal = replace(proposal, left_out=(*proposal.left_out, *left_out))
    files = {name: text.encode() for name, text in pages(proposal, figures).items()}
    files |= {f"figures/{name}": content for name, content in pictures.items()}
    changes = {f"{folder}/{name}": FileChange(content, None) for name, content in files.items()}
    changes |= {name: FileChange(text.encode(), None) for name, text in catalogue_pages(proposal).items()}
    try:
        write_files(root, changes, f"{proposal.title}: drafted")
    except ChangedUnderneath:
        raise NotWritten(_exists(folder)) from None
    return tuple(changes)


def refuse_existing(root: Path, id: str) -> str:
    """Return the folder of the new procedure ``id``. Raises NotWritten where nothing can be written there."""
    folder = f"content/procedures/{id}"
    if not (root / "content").is_dir():
        raise NotWritten(f"{root} is no department's folder: it holds no content/. Name the folder that does.")
    if os.path.lexists(root / folder):
        raise NotWritten(_exists(folder))
    return folder


def _exists(folder: str) -> str:
    return f"{folder} exists already. Choose another title, or move that folder away."


def _figures(
    proposal: Proposal, clean: CleanPicture
) -> tuple[dict[str, list[dict[str, Any]]], dict[str, bytes], list[str]]:
    figures: dict[str, list[dict[str, Any]]] = {}
    pictures: dict[str, bytes] = {}
    left_out: list[str] = []
    for step in proposal.steps:
        for picture in step.pictures:
            try:
                content = clean(f"the picture at {picture.at}", picture.content, picture.crop)
            except NotWritten as error:
                left_out.append(str(error))
                continue
            same = [name for name, other in pictures.items() if other == content]
            name = same[0] if same else f"picture-{len(pictures) + 1}.png"
            pictures[name] = content
            entry = {"file": name, **({"alt": picture.alt} if picture.alt else {})}
            if entry not in figures.setdefault(step.id, []):
                figures[step.id].append(entry)
    return figures, pictures, left_out


def confirm(root: Path, names: Iterable[str]) -> dict[str, int]:
    """Take the marks out of the files ``names`` (paths below ``root``; a procedure's folder means all of its files).

    Return how many were taken out of which file. All files are changed, or none. Raises NotWritten where a name is no
    page or a page cannot be edited, and Refused where one cannot be read.
    """
    changes: dict[str, FileChange] = {}
    counts: dict[str, int] = {}
    for target in dict.fromkeys(target for given in names for target in _pages(root, given)):
        opened = open_file(root, target.file)
        try:
            text, marks = confirmed(opened.text, target.kind)
        except CannotEdit as reason:
            raise NotWritten(f"{target.file}: {reason.reason}. {reason.hint}") from None
        if marks:
            changes[target.file] = FileChange(text, opened.digest)
            counts[target.file] = marks
    write_files(root, changes, f"{', '.join(changes)}: confirmed")
    return counts


def _pages(root: Path, given: str) -> Iterator[FormFile]:
    top = root.absolute()
    paths = [path for path in (Path(given).absolute(), top / given) if path.is_relative_to(top) and path.exists()]
    if not paths:
        raise NotWritten(f"There is no {given} in {root}. Name the file, then the department's folder.")
    name = paths[0].relative_to(top).as_posix()
    inside = [name] if paths[0].is_file() else [f"{name}/{one}" for one, _ in walk(root / name)]
    pages = [target for target in map(target_of, inside) if target and target.kind != "department"]
    if not pages or (len(inside) > 1 and name.count("/") != 2):
        raise NotWritten(f"{given} is not a page of a procedure. Name a step, a caution, or a procedure's folder.")
    yield from pages

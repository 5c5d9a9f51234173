"""Writes a draft: the whole folder of a new procedure, or nothing; what exists is never touched."""

from __future__ import annotations

import os
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

from builder.draft.draft_pages import pages
from builder.draft.proposal import Proposal
from builder.edit.changes import FileChange
from builder.write.lock import NotWritten
from builder.write.writer import ChangedUnderneath, write_files

CleanPicture = Callable[[str, bytes, tuple[float, float, float, float] | None], bytes]
"""Told what the picture is, its bytes, and left, top, right and bottom of what is shown, in per cent."""


def write(root: Path, proposal: Proposal, clean: CleanPicture) -> tuple[str, ...]:
    """Write ``proposal`` as ``content/procedures/<id>/`` of the department in ``root``; return the paths written.

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

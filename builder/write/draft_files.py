"""Writes a draft: the whole folder of a new procedure, or nothing; what exists is never touched."""

from __future__ import annotations

import os
import shutil
import tempfile
from collections.abc import Callable
from contextlib import suppress
from dataclasses import replace
from pathlib import Path
from typing import Any

from builder.draft.draft_pages import pages
from builder.draft.proposal import Proposal
from builder.write.whole_file import NotWritten

CleanPicture = Callable[[str, bytes, tuple[float, float, float, float] | None], bytes]
"""Told what the picture is, its bytes, and left, top, right and bottom of what is shown, in per cent."""


def write(root: Path, proposal: Proposal, clean: CleanPicture) -> tuple[str, ...]:
    """Write ``proposal`` as ``content/procedures/<id>/`` of the department in ``root``; return the paths written.

    Pictures get neutral names, and ``clean`` makes each anew from the points that are shown; one that cannot be read
    (NotWritten) is left out and named in the notes. Raises NotWritten where the folder exists or cannot be made. Then
    nothing is left behind.
    """
    target = refuse_existing(root, proposal.id)
    parent = target.parent
    work: Path | None = None
    try:
        parent.mkdir(exist_ok=True)
        work = Path(tempfile.mkdtemp(dir=parent, prefix=".draft-"))
        names = _fill(work, proposal, clean)
        work.chmod(0o755)
        # A rename onto a folder that came in between fails, unless that is empty: then nothing is lost.
        work.rename(target)
    except FileExistsError:
        raise NotWritten(_exists(proposal.id)) from None
    except OSError as error:
        if target.exists():
            raise NotWritten(_exists(proposal.id)) from None
        raise NotWritten(f"{target} cannot be written ({error.strerror}). Ask whoever keeps the folder.") from None
    finally:
        if work is not None:
            with suppress(OSError):
                shutil.rmtree(work)
    return tuple(f"content/procedures/{proposal.id}/{name}" for name in names)


def refuse_existing(root: Path, id: str) -> Path:
    """Return the folder of the new procedure ``id``. Raises NotWritten where nothing can be written there."""
    parent = root / "content" / "procedures"
    if not (root / "content").is_dir() or parent.is_symlink() or (root / "content").is_symlink():
        raise NotWritten(f"{root} is no department's folder: it holds no content/. Name the folder that does.")
    if os.path.lexists(parent / id):
        raise NotWritten(_exists(id))
    return parent / id


def _exists(id: str) -> str:
    return f"content/procedures/{id} exists already. Choose another title, or move that folder away."


def _fill(work: Path, proposal: Proposal, clean: CleanPicture) -> list[str]:
    figures, pictures, left_out = _figures(proposal, clean)
    proposal = _saying(proposal, left_out)
    names: list[str] = []
    for name, content in [
        *((name, text.encode("utf-8")) for name, text in pages(proposal, figures).items()),
        *((f"figures/{name}", content) for name, content in pictures.items()),
    ]:
        path = work / name
        path.parent.mkdir(exist_ok=True)
        path.write_bytes(content)
        names.append(name)
    return names


def _saying(proposal: Proposal, left_out: list[str]) -> Proposal:
    return replace(proposal, left_out=(*proposal.left_out, *left_out)) if left_out else proposal


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

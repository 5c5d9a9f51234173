"""Which place on a page or paper a place in a file is: both are named by the id of the part."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import PurePosixPath

from builder.load.folder import kind_of
from builder.model.pages import Procedure
from builder.place import Place

_PARTS = ("step", "caution", "aftercare", "figure")
_KEYS = {
    "before_you_start": "before", "kit": "kit", "sequence": "steps", "aftercare": "aftercare", "evidence": "why",
    "figure": "why",
}  # fmt: skip
"""Where on the page the keys of procedure.md are shown; the rest stands in its head."""


def concerns(file: str, procedure: Procedure) -> bool:
    """Tell whether ``file`` is one of ``procedure``: its own, or a shared one that it uses."""
    return file.startswith(f"content/procedures/{procedure.id}/") or file in parts_of(procedure).values()


def parts_of(procedure: Procedure) -> Mapping[str, str]:
    """Return the file of each part of ``procedure`` by the id that it has on page and papers."""
    parts = {"step": procedure.steps, "caution": procedure.cautions, "aftercare": procedure.aftercare_items}
    return {f"{kind}-{id}": part.file for kind, by_id in parts.items() for id, part in by_id.items()}


def anchor_of(procedure: Procedure, at: Place) -> str:
    """Return the id that the part has on page and papers in which ``at`` stands; "" where it has none."""
    kind, _, id = kind_of(at.file)
    if kind in _PARTS:
        return f"{kind}-{PurePosixPath(id).stem}"
    if kind != "procedure":
        return ""
    if procedure.body.source.strip() and at.line >= procedure.body.at.line:
        return "why"
    lines = {key: procedure.where.key(key).line for key in type(procedure).model_fields}
    before = [key for key, line in lines.items() if procedure.where.start.line < line <= at.line]
    return _KEYS.get(max(before, key=lines.__getitem__), "") if before else ""


def place_on(anchors: Mapping[str, float], anchor: str) -> float | None:
    """Return how far down (0 to 1) the part ``anchor`` lies, of the ``anchors`` of one side; None where it does not."""
    if not anchor:
        return None
    if anchor in anchors:
        return anchors[anchor]
    longer = [name for name in anchors if name.startswith(f"{anchor}-") or name.endswith(f"-{anchor}")]
    return min((anchors[name] for name in longer), default=None)

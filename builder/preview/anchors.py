"""Which place on a page or paper a place in a file is: both are named by the id of the part."""

from __future__ import annotations

import re
from collections.abc import Mapping

from builder.model.pages import Procedure
from builder.place import Place

_FILE = re.compile(
    r"content/(?:procedures/[^/]+|shared)/(?P<folder>steps|cautions|aftercare|figures)/(?P<id>[^/.]+)\.[a-z]+"
)
_PROCEDURE = re.compile(r"content/procedures/[^/]+/procedure\.md")
_KINDS = {"steps": "step", "cautions": "caution", "aftercare": "aftercare", "figures": "figure"}
_KEYS = {
    "before_you_start": "before", "kit": "kit", "sequence": "steps", "aftercare": "aftercare", "evidence": "why",
    "figure": "why",
}  # fmt: skip
"""Where on the page the keys of procedure.md are shown; the rest stands in its head."""


def concerns(file: str, procedure: Procedure) -> bool:
    """Tell whether ``file`` is one of ``procedure``: its own, or a shared one that it uses."""
    if file.startswith(f"content/procedures/{procedure.id}/"):
        return True
    if not file.startswith("content/shared/"):
        return False
    shared = (*procedure.cautions.values(), *procedure.aftercare_items.values())
    return any(part.file == file for part in shared)


def anchor_of(procedure: Procedure, at: Place) -> str:
    """Return the id that the part has on page and papers in which ``at`` stands; "" where it has none."""
    match = _FILE.fullmatch(at.file)
    if match:
        return f"{_KINDS[match['folder']]}-{match['id']}"
    return _of_procedure(procedure, at) if _PROCEDURE.fullmatch(at.file) else ""


def _of_procedure(procedure: Procedure, at: Place) -> str:
    if procedure.body.source.strip() and at.line >= procedure.body.at.line:
        return "why"
    start = procedure.where.start
    found, best = "", 0
    for key in type(procedure).model_fields:
        place = procedure.where.key(key)
        if place != start and best < place.line <= at.line:
            found, best = _KEYS.get(key, ""), place.line
    return found


def parts_of(procedure: Procedure) -> Mapping[str, str]:
    """Return the file of each part of ``procedure`` by the id that it has on page and papers."""
    found = {f"step-{id}": step.file for id, step in procedure.steps.items()}
    found |= {f"caution-{id}": caution.file for id, caution in procedure.cautions.items()}
    return found | {f"aftercare-{id}": item.file for id, item in procedure.aftercare_items.items()}


def edited_by_form(file: str) -> bool:
    """Tell whether there is a form for ``file``: for procedures, steps, cautions and aftercare items."""
    match = _FILE.fullmatch(file)
    return bool(_PROCEDURE.fullmatch(file)) or (match is not None and match["folder"] != "figures")


def title_of(file: str) -> str:
    """Return a short name for ``file``, as its reader knows it."""
    return re.sub(r"^content/(?:procedures/[^/]+/)?", "", file) or "the folder"


def on_paper(anchor: str, anchors: Mapping[str, float]) -> float | None:
    """Return how far down (0 to 1) the part ``anchor`` lies among ``anchors`` of one side; None where it does not."""
    if not anchor:
        return None
    if anchor in anchors:
        return anchors[anchor]
    longer = [name for name in anchors if name.startswith(f"{anchor}-") or name.endswith(f"-{anchor}")]
    return min((anchors[name] for name in longer), default=None)

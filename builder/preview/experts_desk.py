"""Several experts in the browser: the drafts of one operation side by side, and one draft out of them."""

from typing import Any

from werkzeug.utils import redirect
from werkzeug.wrappers import Response

from builder.draft.experts import Expert, SideBySide, laid
from builder.edit.ids import slug
from builder.findings.finding import Refused
from builder.findings.message_words import listed
from builder.preview.answer import Request, as_plain_form, get, post, rendered
from builder.preview.workshop import Workshop
from builder.write.lock import NotWritten
from builder.write.merged_draft import write_merged


def show(workshop: Workshop, request: Request) -> Response:
    """Answer ``lay``: the drafts to choose from, and those that ``of`` names side by side."""
    return _shown(workshop, request.args.getlist("of"))


def _shown(workshop: Workshop, ids: list[str], title: str = "", said: str = "") -> Response:
    library = workshop.state.library
    chosen = [id for id in dict.fromkeys(ids) if id in library.by_id]
    side = _laid(workshop, chosen) if len(chosen) > 1 else None
    shown: dict[str, Any] = {
        "drafts": [(id, str(page.title), id in chosen) for id, page in library.by_id.items()], "chosen": chosen,
        "rows": _rows(side) if side else [],
        "others": _others(side) if side else [], "gaps": side.gap_list() if side else [], "given": title,
        "said_wrong": said,
    }  # fmt: skip
    return as_plain_form(rendered(workshop, "lay.html.j2", workshop.state, 409 if said else 200, **shown))


def _laid(workshop: Workshop, ids: list[str]) -> SideBySide:
    library = workshop.state.library
    return laid(Expert(id, library, library.by_id[id]) for id in ids)


def _rows(side: SideBySide) -> list[tuple[str, list[str], list[tuple[str, str]]]]:
    """Return each row: its title, what each has for it, and what only some of them say."""
    return [
        (
            row.title,
            [" + ".join(str(step.title) for step in row.steps.get(name, ())) for name in side.names],
            [(listed(point.who), point.words) for point in side.said_by_some(number)],
        )
        for number, row in enumerate(side.rows)
    ]


def _others(side: SideBySide) -> list[tuple[str, str, str]]:
    """Return the cautions and aftercare that not all have: who has it, what it is, its words."""
    kinds = {"caution", "aftercare item"}
    points = (point for point in side.points if point.kind in kinds and point.who != side.names)
    return [(listed(point.who), point.kind, point.words) for point in points]


def merge(workshop: Workshop, request: Request) -> Response:
    """Answer the POST ``lay``: write one draft out of those that were chosen."""
    library = workshop.state.library
    title, ids = str(request.fields.get("title", "")), str(request.fields.get("of", "")).split()
    if len(ids) < 2 or any(id not in library.by_id for id in ids):
        return _shown(workshop, ids, title, "Choose two drafts or more. Nothing was written.")
    try:
        write_merged(library, _laid(workshop, ids), title)
    except (NotWritten, Refused) as error:
        return _shown(workshop, ids, title, str(error))
    workshop.saved()
    return redirect(f"{workshop.home}/page/{slug(title)}", 303)


ROUTES = (get("/lay", show), post("/lay", merge))

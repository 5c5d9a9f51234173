"""What changed since an earlier state, in the browser: the same as ``prescrub changes``, and its page to pin up."""

from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

from werkzeug.wrappers import Response

from builder.compose.changes.change_notice import ChangeNotice, notices_between, shown_changes, summary_of
from builder.compose.site.status import in_order
from builder.compose.view.words import day
from builder.findings.finding import Refused
from builder.load.past import NotFoundInPast, past
from builder.model.library import Library
from builder.pipeline import library_at, write_notice
from builder.preview.answer import Request, get, rendered
from builder.preview.procedure_pages import library_of, tabs_of
from builder.preview.workshop import Workshop
from builder.publish.publish_error import PublishError


def show(workshop: Workshop, request: Request, id: str) -> Response:
    """Answer ``changed/<id>``: the issued editions, and what changed since the one that was asked for."""
    since = _since(request)
    try:
        notice = _notice(workshop, id, since) if since else None
        return _shown(workshop, id, since, notice)
    except NotFoundInPast as error:
        return _shown(workshop, id, since, why=str(error))


def keep(workshop: Workshop, request: Request, id: str) -> Response:
    """Answer ``changed/<id>/paper``: the same as a PDF to pin up."""
    since = _since(request)
    try:
        notice = _notice(workshop, id, since)
        if notice is None:
            raise NotFoundInPast("Nothing that a reader sees has changed, so there is nothing to pin up.")
        with TemporaryDirectory() as work:
            paper = Path(work) / "changes.pdf"
            write_notice(library_of(workshop.state, id), notice, paper)
            content = paper.read_bytes()
    except (NotFoundInPast, PublishError) as error:
        return _shown(workshop, id, since, why=str(error))
    except Refused as refusal:
        return _shown(workshop, id, since, why=f"{refusal.finding.message}. {refusal.finding.hint}")
    headers = {"Content-Disposition": f'attachment; filename="{id}-changes.pdf"'}
    return Response(content, headers=headers, mimetype="application/pdf")


def _since(request: Request) -> str:
    return (request.args.get("revision", "") or request.args.get("since", "")).strip()


def _notice(workshop: Workshop, id: str, since: str) -> ChangeNotice | None:
    """Return what changed in a procedure since the state ``since``. Raises NotFoundInPast."""
    library = library_of(workshop.state, id)
    with past(workshop.root, since, id) as folder:
        return next(iter(notices_between(library_at(folder), library, id)), None)


def _shown(workshop: Workshop, id: str, since: str, notice: ChangeNotice | None = None, why: str = "") -> Response:
    library = library_of(workshop.state, id)
    shown: dict[str, Any] = {
        "procedure": id, "title": str(library.by_id[id].title), "tabs": tabs_of(workshop, id, "done"), "since": since,
        "editions": _editions(library, id), "why": why, "summary": summary_of(notice) if notice else "",
        "groups": shown_changes(notice)[0] if notice else [],
    }  # fmt: skip
    return rendered(workshop, "changed.html.j2", workshop.state, 409 if why else 200, **shown)


def _editions(library: Library, id: str) -> list[tuple[str, str]]:
    """Return code and words of each edition that was issued, the newest first."""
    lines = in_order(library.ledger.of(id))
    return [(line.code, f"Edition {line.edition}, issued on {day(line.on)} ({line.code})") for line in lines][::-1]


ROUTES = (get("/changed/<id>", show), get("/changed/<id>/paper", keep))

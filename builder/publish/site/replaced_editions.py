"""What changed since each edition that was replaced, as far as git still has its text."""

from collections.abc import Mapping
from contextlib import ExitStack, suppress

from builder.compose.changes.change_notice import ChangeNotice, notices_between
from builder.compose.site.status import REPLACED, standings
from builder.load.folder import load
from builder.load.ledger import Issued
from builder.load.past import NotFoundInPast, past
from builder.model.build import build
from builder.model.edition import edition_of
from builder.model.library import Library


def replaced_editions(origin: Library) -> Mapping[str, ChangeNotice]:
    """Return, by code, what changed from each replaced edition to the current one; ``origin`` is the department as it
    lies in its folder. A code whose text git does not have is left out: its status page names the parts that changed.
    """
    notices: dict[str, ChangeNotice] = {}
    for standing in standings(origin):
        if standing.kind != REPLACED or standing.latest is None:
            continue
        with suppress(NotFoundInPast), ExitStack() as opened:
            old = _as_issued(origin, standing.line, opened)
            new = _as_issued(origin, standing.latest, opened)
            for notice in notices_between(old, new, standing.line.procedure):
                notices[standing.line.code] = notice
    return notices


def _as_issued(origin: Library, line: Issued, opened: ExitStack) -> Library:
    """Return the department as it was when ``line`` was issued. Raises NotFoundInPast."""
    if (now := origin.by_id.get(line.procedure)) and edition_of(origin, now).code == line.code:
        return origin
    library = build(load(opened.enter_context(past(origin.root, line.code, line.procedure)), origin.today))[0]
    then = library.by_id.get(line.procedure)
    if then is None or edition_of(library, then).code != line.code:
        raise NotFoundInPast(f"The revision that issued {line.code} has another text.")
    return library

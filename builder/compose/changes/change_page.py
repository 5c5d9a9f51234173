"""The page that tells what changed since a copy that was replaced, beside the page of its status."""

from builder.compose.changes.change_notice import ChangeNotice, shown_changes, summary_of
from builder.compose.code_mark import FOLDER
from builder.compose.document import Must, Renderer
from builder.compose.site.web import WebPage
from builder.load.ledger import Issued

CHANGES_PAGE = "changes.html"


def compose_change_page(renderer: Renderer, line: Issued, notice: ChangeNotice) -> WebPage:
    """Return the page of ``notice``: what changed from the copy that ``line`` issued to the current edition."""
    title = f"{line.code}: what has changed since"
    groups, musts = shown_changes(notice)
    text = renderer.render(
        "changes/change_page.html.j2",
        title=title,
        procedure=line.title,
        summary=summary_of(notice),
        groups=groups,
    )
    return WebPage(
        kind="change-notice",
        procedure=line.procedure,
        edition=line.edition,
        title=title,
        name=f"{FOLDER}/{line.code}/{CHANGES_PAGE}",
        text=text,
        description=f"What has changed in {line.title}",
        musts=(Must("summary", line.code, summary_of(notice)), *musts),
    )

"""The first page of the site: procedures by specialty, the state of their review, and the department's prose."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

from builder.compose.document import Must, Renderer
from builder.compose.site.book import DEPARTMENT
from builder.compose.site.status import changes_of, in_order
from builder.compose.site.web import FRONT, Offer, WebPage, first_of
from builder.compose.view.head import is_overdue
from builder.compose.view.rendered_prose import LinkTarget, ProseWriter, References
from builder.compose.view.words import day, status_word
from builder.grouping import grouped
from builder.load.ledger import Issued
from builder.load.program_words import gettext
from builder.model.library import Library
from builder.model.pages import Procedure

_MOST_LATELY = 6
_MOST_CHANGES = 4


@dataclass(frozen=True, slots=True)
class ListedProcedure:
    """A ``procedure`` as the list shows it; ``state`` is its status for the style sheet, ``status`` in words."""

    procedure: Procedure
    href: str
    state: str
    status: str
    review_by: str
    overdue: bool
    offers: tuple[Offer, ...]


def compose(library: Library, renderer: Renderer, offers: Mapping[str, Sequence[Offer]]) -> WebPage:
    """Return the first page, which offers the ``offers`` of each procedure by its id."""
    department = library.department

    def find(kind: str, id: str) -> LinkTarget | None:
        procedure = library.by_id.get(id) if kind == "procedure" else None
        return LinkTarget(f"{id}/index.html", procedure.title) if procedure else None

    # The front page has no list of references, so a source cited in it leaves no number.
    body = ProseWriter(find, References({})).html(department.body, heading=2)
    groups = _groups(library, offers)
    has_books = sum(offer.href.endswith(".epub") for many in offers.values() for offer in many) > 1
    values = {
        "department": str(department.name),
        "groups": groups,
        "book": DEPARTMENT if has_books else "",
        "lately": [*_lately(library)],
        "body_html": body,
    }
    html = renderer.render("site/front.html.j2", **values)
    return WebPage(
        kind="page",
        title=department.name,
        name=FRONT,
        text=html,
        description=gettext("Procedures of the %(name)s", name=department.name),
        musts=tuple(Must("procedure", listed.href, listed.procedure.title) for _, many in groups for listed in many),
    )


def _groups(library: Library, offers: Mapping[str, Sequence[Offer]]) -> tuple[tuple[str, list[ListedProcedure]], ...]:
    """Return the procedures of each specialty by title, the specialties in order."""
    procedures = sorted(library.procedures, key=lambda procedure: procedure.title.casefold())
    by_specialty = grouped(
        (" ".join(procedure.specialty.casefold().split()), _listed(library, procedure, offers))
        for procedure in procedures
    )
    return tuple((name.capitalize(), by_specialty[name]) for name in sorted(by_specialty))


def _listed(library: Library, procedure: Procedure, offers: Mapping[str, Sequence[Offer]]) -> ListedProcedure:
    return ListedProcedure(
        procedure,
        href=f"{procedure.id}/index.html",
        state=procedure.status.value.replace(" ", "-"),
        status=status_word(procedure.status),
        review_by=day(procedure.review_by) if procedure.review_by else "",
        overdue=is_overdue(library, procedure),
        offers=first_of(offers.get(procedure.id, ())),
    )


def _lately(library: Library) -> Iterator[tuple[str, Issued, str, str]]:
    """Yield the last few editions that were issued, the newest first: the day, the line, the address of its page (""
    where it is gone), and what is not as it was before."""
    issues: list[tuple[Issued, Issued | None]] = []
    for procedure in {line.procedure for line in library.ledger.issued}:
        lines = in_order(library.ledger.of(procedure))
        issues.extend(zip(lines, (None, *lines), strict=False))
    newest = sorted(issues, key=lambda pair: (pair[0].on, pair[0].title, pair[0].code), reverse=True)[:_MOST_LATELY]
    for line, before in newest:
        href = f"{line.procedure}/index.html" if line.procedure in library.by_id else ""
        yield day(line.on), line, href, _changed(before, line)


def _changed(before: Issued | None, line: Issued) -> str:
    if before is None:
        return gettext("First edition issued.")
    names = [f"{change.name} ({change.what})" for change in changes_of(before.parts, line.parts)]
    if not names:
        return gettext("No step, caution or aftercare changed.")
    shown, more = "; ".join(names[:_MOST_CHANGES]), len(names) - _MOST_CHANGES
    return gettext("%(changes)s and %(more)s more.", changes=shown, more=more) if more > 0 else f"{shown}."

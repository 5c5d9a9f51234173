"""The first page of the site: procedures by specialty, the state of their review, and the department's prose."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from builder.compose.render import Renderer
from builder.compose.site.lately import lately
from builder.compose.site.offers import Offer, first_of
from builder.compose.site.web import WebPage, as_markdown
from builder.compose.view.procedure_view import is_overdue
from builder.compose.view.references import References
from builder.compose.view.rendered_prose import LinkTarget, ProseWriter
from builder.compose.view.view import Must
from builder.compose.view.words import day
from builder.model.library import Library
from builder.model.pages import Procedure

NAME = "index.html"
FRAME = "front"


@dataclass(frozen=True, slots=True)
class ListedProcedure:
    """A procedure as the list shows it; ``state`` is its status as one word."""

    title: str
    href: str
    summary: str
    edition: str
    state: str
    status: str
    review_by: str
    overdue: bool
    offers: tuple[Offer, ...]


@dataclass(frozen=True, slots=True)
class SpecialtyGroup:
    """The procedures of one specialty, by title."""

    name: str
    anchor: str
    procedures: tuple[ListedProcedure, ...]


def compose(library: Library, renderer: Renderer, offers: Mapping[str, Sequence[Offer]]) -> WebPage:
    """Return the first page, which offers the ``offers`` of each procedure by its id."""
    department = library.department
    targets = {("procedure", str(one.id)): LinkTarget(f"{one.id}/index.html", one.title) for one in library.procedures}
    # The front page has no list of references, so a source cited in it leaves no number.
    body = ProseWriter(targets, References({})).html(department.body, heading=2)
    groups = _groups(library, offers)
    values = {"department": str(department.name), "groups": groups, "lately": lately(library), "body_html": body}
    html = renderer.render("site/front.html.j2", **values)
    return WebPage(
        kind="page",
        procedure="",
        edition="",
        title=department.name,
        name=NAME,
        text=as_markdown(department.name, f"Procedures of the {department.name}", html, FRAME),
        musts=tuple(Must("procedure", one.href, one.title) for group in groups for one in group.procedures),
    )


def _groups(library: Library, offers: Mapping[str, Sequence[Offer]]) -> tuple[SpecialtyGroup, ...]:
    by_specialty: dict[str, list[Procedure]] = {}
    for procedure in sorted(library.procedures, key=lambda one: one.title.casefold()):
        by_specialty.setdefault(" ".join(procedure.specialty.casefold().split()), []).append(procedure)
    return tuple(
        SpecialtyGroup(
            name.capitalize(), f"specialty-{number}", tuple(_listed(library, one, offers) for one in by_specialty[name])
        )
        for number, name in enumerate(sorted(by_specialty), start=1)
    )


def _listed(library: Library, procedure: Procedure, offers: Mapping[str, Sequence[Offer]]) -> ListedProcedure:
    return ListedProcedure(
        title=procedure.title,
        href=f"{procedure.id}/index.html",
        summary=procedure.summary or "",
        edition=procedure.edition,
        state=procedure.status.value.replace(" ", "-"),
        status=procedure.status.value.capitalize(),
        review_by=day(procedure.review_by) if procedure.review_by else "",
        overdue=is_overdue(library, procedure),
        offers=first_of(offers.get(procedure.id, ())),
    )

"""The sources of a department with everything that rests on each, what to review first, and all tables as CSV."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace

from builder.compose.document import Document
from builder.compose.evidence.evidence import (
    EvidenceRow,
    RestingRow,
    ReviewRow,
    Row,
    cells,
    csv_of,
    due,
    resting_table,
    review_table,
)
from builder.compose.evidence.evidence_pages import FOLDER, Evidence, age_words, evidence_of, list_names, mark_of
from builder.compose.render import Renderer
from builder.compose.site.offers import Offer
from builder.compose.site.web import WebPage, as_markdown
from builder.compose.view.view import Must
from builder.facts.claims import Claim
from builder.facts.source_register import RegisteredSource, WeighedClaim
from builder.model.library import Library
from builder.model.pages import Procedure

_INDEX_TITLE = "Sources and what rests on them"
_REVIEW_TITLE = "What to look at again first"
_MOST_SHOWN = 200
RISKS = {5: "very high", 4: "high", 3: "moderate", 2: "low", 1: "very low"}
"""How much harm a wrong statement can do, in words."""

Links = tuple[tuple[str, str], ...]


@dataclass(frozen=True, slots=True)
class Resting:
    """A claim that rests on a source, with where it stands: ``(title, address)`` of each procedure."""

    kind: str
    claim: str
    where: str
    procedures: Links

    @property
    def words(self) -> str:
        """The claim as it stands in the list."""
        return f"{self.kind}: {self.claim}" + (f" ({self.where})" if self.where else "")


@dataclass(frozen=True, slots=True)
class ShownSource:
    """A source of the index."""

    key: str
    anchor: str
    html: str
    text: str
    notices: tuple[str, ...]
    resting: tuple[Resting, ...]


@dataclass(frozen=True, slots=True)
class Due:
    """A statement of the review list; ``sum`` shows how its figure came about."""

    kind: str
    id: str
    claim: str
    procedures: Links
    risk: str
    age: str
    sum: str
    withdrawn: str

    @property
    def words(self) -> str:
        """The figures as they stand in the row."""
        return f"{self.risk} {self.age}{f' {self.withdrawn}' if self.withdrawn else ''} {self.sum}"


def index(evidence: Evidence, renderer: Renderer) -> WebPage:
    """Return the index of all sources of the department."""
    titles = _titles(evidence)
    sources = tuple(_shown(evidence, one, titles) for one in evidence.register.sources.values())
    values = {
        "sources": sources,
        "lists": list_names(evidence.library),
        "tables": tuple((title, f"../{id}/evidence.html") for id, title in titles.items()),
    }
    musts = tuple(must for one in sources for must in _musts(one))
    return _page(
        evidence, renderer, ("index", _INDEX_TITLE, "Every source with each statement it backs"), values, musts
    )


def review(evidence: Evidence, renderer: Renderer) -> WebPage:
    """Return the review list."""
    titles = _titles(evidence)
    found = due(evidence.register)
    shown = tuple(_due(one, titles) for one in found[:_MOST_SHOWN])
    values = {"rows": shown, "left": len(found) - len(shown)}
    musts = tuple(must for one in shown for must in (Must("claim", one.id, one.claim), Must("due", one.id, one.words)))
    return _page(evidence, renderer, ("review", _REVIEW_TITLE, "Statements by risk and age of source"), values, musts)


def _page(
    evidence: Evidence,
    renderer: Renderer,
    named: tuple[str, str, str],
    values: Mapping[str, object],
    musts: tuple[Must, ...],
) -> WebPage:
    name, title, description = named
    html = renderer.render(f"evidence/{'sources' if name == 'index' else name}.html.j2", title=title, **values)
    return WebPage(
        kind="evidence-table",
        procedure="",
        edition="",
        title=title,
        name=f"{FOLDER}/{name}.html",
        text=as_markdown(f"{title} · {evidence.library.department.name}", description, html),
        musts=musts,
    )


def compose(library: Library, procedure: Procedure, _renderer: Renderer, _offers: Sequence[Offer] = ()) -> Document:
    """Return the evidence table of ``procedure`` as CSV."""
    title = f"Evidence table: {procedure.title}"
    table = _table(f"{procedure.id}/evidence.csv", title, evidence_of(library).rows(procedure), EvidenceRow)
    return replace(table, procedure=procedure.id, edition=procedure.edition)


def overviews(evidence: Evidence) -> tuple[Document, ...]:
    """Return the tables of the whole department as CSV: what rests on each source, and what to look at again."""
    return (
        _table(f"{FOLDER}/sources.csv", _INDEX_TITLE, resting_table(evidence.register), RestingRow),
        _table(f"{FOLDER}/review.csv", _REVIEW_TITLE, review_table(evidence.register), ReviewRow),
    )


def _table(name: str, title: str, rows: Iterable[Row], kind: type[Row]) -> Document:
    held = cells(rows, kind)
    return Document(
        kind="evidence-table",
        procedure="",
        edition="",
        title=title,
        name=name,
        # Without the mark a spreadsheet takes UTF-8 for the code page of the machine (RFC 4180 does not say).
        text="\ufeff" + csv_of(held),
        musts=tuple(Must("row", str(number), "\t".join(row)) for number, row in enumerate(held)),
    )


def _titles(evidence: Evidence) -> dict[str, str]:
    return {str(one.id): str(one.title) for one in evidence.library.procedures}


def _links(claim: Claim, titles: dict[str, str]) -> Links:
    return tuple((titles[id], f"../{id}/index.html{mark_of(claim)}") for id in claim.procedures if id in titles)


def _shown(evidence: Evidence, source: RegisteredSource, titles: dict[str, str]) -> ShownSource:
    resting = dict.fromkeys(
        Resting(claim.name.capitalize(), claim.words, use.locator, _links(claim, titles)) for claim, use in source.uses
    )
    notices = tuple(
        f"{one.kind.value.capitalize()} {one.date}" + (f"; replaced by {one.successor}" if one.successor else "")
        for one in source.notices
    )
    anchor = evidence.anchors[source.key]
    return ShownSource(source.key, anchor, source.html, source.text, notices, tuple(resting))


def _due(one: WeighedClaim, titles: dict[str, str]) -> Due:
    claim, age = one.claim, one.age
    return Due(
        kind=claim.name.capitalize(),
        id=claim.id,
        claim=claim.words,
        procedures=_links(claim, titles),
        risk=f"{RISKS[claim.risk]} ({claim.risk})",
        age="no source that stands" if age is None else age_words(str(age), str(one.newest)),
        sum=f"{claim.risk} × {age} = {one.weight}" if age is not None else "first",
        withdrawn=f"rests on withdrawn: {', '.join(one.doubted)}" if one.doubted else "",
    )


def _musts(source: ShownSource) -> tuple[Must, ...]:
    return (
        Must("source", source.key, source.text),
        *(Must("notice", source.key, notice) for notice in source.notices),
        *(Must("claim", source.key, one.words) for one in source.resting),
    )

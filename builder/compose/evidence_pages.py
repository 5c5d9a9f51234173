"""Evidence for a committee: the table of a procedure, and the index of sources with everything that rests on each."""

from __future__ import annotations

from dataclasses import dataclass, replace
from itertools import groupby

from builder.check.claims import Claim, ClaimKind
from builder.check.register import RegisteredSource, register
from builder.compose.evidence import EvidenceRow, RestingRow, as_csv, evidence_table, resting_table
from builder.compose.procedure_view import is_overdue
from builder.compose.render import Renderer
from builder.compose.view import Must
from builder.compose.web import WebPage, as_markdown
from builder.compose.words import STATUS_MARKS, day
from builder.model.library import Library
from builder.model.pages import Procedure

FOLDER = "sources"
_INDEX_TITLE = "Sources and what rests on them"


@dataclass(frozen=True, slots=True)
class Resting:
    """A claim that rests on a source, with where it stands: ``(title, address)`` of each procedure."""

    kind: str
    claim: str
    where: str
    procedures: tuple[tuple[str, str], ...]


@dataclass(frozen=True, slots=True)
class Shown:
    """A source of the index."""

    anchor: str
    html: str
    notices: tuple[str, ...]
    resting: tuple[Resting, ...]


class Evidence:
    """The register of a department, its claims sorted by procedure once: a search for each grows as the square."""

    def __init__(self, library: Library) -> None:
        self.library = library
        self.register = register(library)
        self._claims: dict[str, list[Claim]] = {}
        for claim in self.register.claims:
            for id in claim.procedures:
                self._claims.setdefault(id, []).append(claim)

    def rows(self, procedure: Procedure) -> tuple[EvidenceRow, ...]:
        """Return the evidence table of ``procedure``."""
        own = replace(self.register, claims=tuple(self._claims.get(procedure.id, ())))
        return evidence_table(own, procedure.id, self.library.today.year)


def of_procedure(evidence: Evidence, procedure: Procedure, renderer: Renderer) -> WebPage:
    """Return the evidence table of ``procedure``."""
    library = evidence.library
    rows = evidence.rows(procedure)
    shown = _by_kind(rows)
    due = procedure.review_by
    overdue = f"Review was due by {day(due)}" if due and is_overdue(library, procedure) else ""
    html = renderer.render(
        "site/evidence.html.j2",
        procedure=procedure,
        groups=[(name.capitalize(), tuple(members)) for name, members in groupby(shown, lambda row: row.kind)],
        marks=[mark for mark in (STATUS_MARKS[procedure.status], overdue) if mark],
        scheme={"ocebm": "OCEBM", "grade": "GRADE"}[library.department.levels.value],
        sourced=len({row.claim for row in rows if row.key}),
        claims=len({row.claim for row in rows}),
    )
    title = f"Evidence table: {procedure.title}"
    return WebPage(
        kind="evidence-table",
        procedure=procedure.id,
        edition=procedure.edition,
        title=title,
        name=f"{procedure.id}/evidence.html",
        text=as_markdown(f"{title} · {library.department.name}", "Each statement with what backs it", html),
        musts=tuple(Must("claim", row.key, row.claim) for row in shown),
        explained={"rows": len(shown)},
    )


def index(evidence: Evidence, renderer: Renderer) -> WebPage:
    """Return the index of all sources of the department."""
    library = evidence.library
    titles = {str(one.id): str(one.title) for one in library.procedures}
    sources = tuple(
        _shown(number, one, titles) for number, one in enumerate(evidence.register.sources.values(), start=1)
    )
    lists = sorted(name.rpartition("/")[2] for name in library.notices)
    html = renderer.render("site/sources.html.j2", title=_INDEX_TITLE, sources=sources, lists=lists)
    return WebPage(
        kind="evidence-table",
        procedure="",
        edition="",
        title=_INDEX_TITLE,
        name=f"{FOLDER}/index.html",
        text=as_markdown(
            f"{_INDEX_TITLE} · {library.department.name}", "Every source with each statement it backs", html
        ),
        explained={"sources": len(sources)},
    )


def tables(evidence: Evidence) -> dict[str, str]:
    """Return the same tables as CSV, by path."""
    procedures = evidence.library.procedures
    found = {f"{one.id}/evidence.csv": as_csv(evidence.rows(one), EvidenceRow) for one in procedures}
    return {**found, f"{FOLDER}/sources.csv": as_csv(resting_table(evidence.register), RestingRow)}


def _by_kind(rows: tuple[EvidenceRow, ...]) -> list[EvidenceRow]:
    """Return the rows by kind, what needs backing first; a source cited twice for one statement stands once."""
    once: dict[tuple[str, ...], EvidenceRow] = {}
    for row in rows:
        once.setdefault((row.kind, row.claim, row.key, row.where, row.level), row)
    kinds = [kind.value for kind in ClaimKind]
    return sorted(once.values(), key=lambda row: kinds.index(row.kind))


def _shown(number: int, source: RegisteredSource, titles: dict[str, str]) -> Shown:
    resting = dict.fromkeys(
        Resting(
            claim.kind.value,
            claim.words,
            use.locator,
            tuple((titles[id], f"../{id}/index.html") for id in claim.procedures if id in titles),
        )
        for claim, use in source.uses
    )
    notices = tuple(
        f"{one.kind.value.capitalize()} {one.date}" + (f"; replaced by {one.successor}" if one.successor else "")
        for one in source.notices
    )
    return Shown(f"source-{number}", source.html, notices, tuple(resting))

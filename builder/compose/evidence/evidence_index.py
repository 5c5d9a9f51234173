"""The sources of a department with everything that rests on each, what to review first, and all tables as CSV."""

import csv
import io
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass

from builder.compose.document import Document, Must, Renderer, promised
from builder.compose.evidence.evidence_pages import (
    FOLDER,
    Evidence,
    EvidenceRow,
    age_words,
    evidence_of,
    list_names,
    mark_of,
    told_of,
)
from builder.compose.site.web import Offer, WebPage
from builder.facts.claims import Claim
from builder.facts.source_register import Register, RegisteredSource, WeighedClaim
from builder.findings.message_words import capital
from builder.load.program_words import gettext, noted
from builder.model.library import Library
from builder.model.pages import Procedure

_INDEX_TITLE = noted("Sources and what rests on them")
_REVIEW_TITLE = noted("What to look at again first")
_MOST_SHOWN = 200
RISKS = {5: noted("very high"), 4: noted("high"), 3: noted("moderate"), 2: noted("low"), 1: noted("very low")}
"""How much harm a wrong statement can do, in words."""

RESTING = ("key", "source", "notices", "kind", "claim", "procedures", "place")
"""The head of the table of what rests on each source."""
REVIEW = ("weight", "kind", "id", "claim", "risk", "newest", "age", "withdrawn", "procedures", "place")
"""The head of the review list: ``weight`` is ``risk`` (1 to 5) times ``age`` in years of the ``newest`` source that
still stands; ``withdrawn`` names those that do not."""
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
    """A ``source`` of the index."""

    source: RegisteredSource
    anchor: str
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
    sources = tuple(_shown(evidence, source, titles) for source in evidence.register.sources.values())
    lists = list_names(evidence.library)
    tables = tuple((title, f"../{id}/evidence.html") for id, title in titles.items())
    html = renderer.render(
        "evidence/sources.html.j2", title=gettext(_INDEX_TITLE), sources=sources, lists=lists, tables=tables
    )
    musts: list[Must] = []
    for shown in sources:
        musts.append(Must("source", shown.source.key, shown.source.text))
        musts.extend(promised("notice", shown.source.key, *shown.notices))
        musts.extend(promised("claim", shown.source.key, *(claim.words for claim in shown.resting)))
    told = gettext("Every source with each statement it backs")
    name = f"{FOLDER}/index.html"
    return WebPage("evidence-table", gettext(_INDEX_TITLE), name, html, musts=tuple(musts), description=told)


def review(evidence: Evidence, renderer: Renderer) -> WebPage:
    """Return the review list."""
    titles = _titles(evidence)
    weighed = due(evidence.register)
    rows = tuple(_due(claim, titles) for claim in weighed[:_MOST_SHOWN])
    html = renderer.render(
        "evidence/review.html.j2", title=gettext(_REVIEW_TITLE), rows=rows, left=len(weighed) - len(rows)
    )
    musts = [must for row in rows for must in (Must("claim", row.id, row.claim), Must("due", row.id, row.words))]
    told = gettext("Statements by risk and age of source")
    return WebPage(
        "evidence-table", gettext(_REVIEW_TITLE), f"{FOLDER}/review.html", html, musts=tuple(musts), description=told
    )


def compose(library: Library, procedure: Procedure, _renderer: Renderer, _offers: Sequence[Offer] = ()) -> Document:
    """Return the evidence table of ``procedure`` as CSV."""
    rows = cells(EvidenceRow._fields, evidence_of(library).table(procedure))
    title = gettext("Evidence table: %(title)s", title=procedure.title)
    return Document.about(procedure, "evidence-table", "evidence.csv", _csv(rows), title=title, musts=_row_musts(rows))


def overviews(evidence: Evidence) -> tuple[Document, ...]:
    """Return the tables of the whole department as CSV: what rests on each source, and what to look at again."""
    resting = cells(RESTING, resting_table(evidence.register))
    weighed = cells(REVIEW, review_table(evidence.register))
    return tuple(
        Document("evidence-table", title, f"{FOLDER}/{name}.csv", _csv(rows), musts=_row_musts(rows))
        for name, title, rows in (
            ("sources", gettext(_INDEX_TITLE), resting),
            ("review", gettext(_REVIEW_TITLE), weighed),
        )
    )


def _csv(rows: list[list[str]]) -> str:
    # Without the mark a spreadsheet takes UTF-8 for the code page of the machine (RFC 4180 does not say).
    return f"\ufeff{csv_of(rows)}"


def _row_musts(rows: list[list[str]]) -> tuple[Must, ...]:
    return tuple(Must("row", str(number), "\t".join(row)) for number, row in enumerate(rows))


def _titles(evidence: Evidence) -> dict[str, str]:
    return {str(procedure.id): str(procedure.title) for procedure in evidence.library.procedures}


def _links(claim: Claim, titles: dict[str, str]) -> Links:
    return tuple((titles[id], f"../{id}/index.html{mark_of(claim)}") for id in claim.procedures if id in titles)


def _shown(evidence: Evidence, source: RegisteredSource, titles: dict[str, str]) -> ShownSource:
    resting = dict.fromkeys(
        Resting(capital(gettext(claim.name)), claim.words, use.locator, _links(claim, titles))
        for claim, use in source.uses
    )
    notices = tuple(
        f"{capital(gettext(notice.kind.value))} {notice.date}"
        + (gettext("; replaced by %(successor)s", successor=notice.successor) if notice.successor else "")
        for notice in source.notices
    )
    return ShownSource(source, evidence.anchors[source.key], notices, tuple(resting))


def _due(weighed: WeighedClaim, titles: dict[str, str]) -> Due:
    claim, age = weighed.claim, weighed.age
    return Due(
        kind=capital(gettext(claim.name)),
        id=claim.id,
        claim=claim.words,
        procedures=_links(claim, titles),
        risk=f"{gettext(RISKS[claim.risk])} ({claim.risk})",
        age=gettext("no source that stands") if age is None else age_words(str(age), str(weighed.newest)),
        sum=f"{claim.risk} × {age} = {weighed.weight}" if age is not None else "first",
        withdrawn=gettext("rests on withdrawn: %(doubted)s", doubted=", ".join(weighed.doubted))
        if weighed.doubted
        else "",
    )


def resting_table(register: Register) -> Iterator[tuple[str, ...]]:
    """Yield, source by source, every claim that rests on it; a source that nothing cites has one row without claim."""
    for source in register.sources.values():
        named = (source.key, source.text, told_of(source.notices))
        if not source.uses:
            yield (*named, "", "", "", "")
        for claim, use in source.uses:
            yield (*named, claim.kind.value, claim.words, ", ".join(claim.procedures), str(use.source.at))


def due(register: Register) -> tuple[WeighedClaim, ...]:
    """Return what is due to be looked at again, most due first: what rests on a source that is withdrawn or not new."""
    return tuple(weighed for weighed in register.review if weighed.weight or weighed.doubted)


def review_table(register: Register) -> Iterator[tuple[str, ...]]:
    """Yield the review list, most due first."""
    for weighed in due(register):
        claim, age = weighed.claim, "" if weighed.age is None else str(weighed.age)
        named = (str(weighed.weight), claim.kind.value, claim.id, claim.words)
        why = (str(claim.risk), str(weighed.newest or ""), age, ", ".join(weighed.doubted))
        yield (*named, *why, ", ".join(claim.procedures), str(claim.at))


def cells(names: tuple[str, ...], rows: Iterable[tuple[str, ...]]) -> list[list[str]]:
    """Return the cells of ``rows`` as a spreadsheet may see them, below a head of their names."""
    return [list(names), *(list(map(_inert, row)) for row in rows)]


def csv_of(lines: Iterable[list[str]]) -> str:
    """Return ``lines`` of cells as CSV after RFC 4180."""
    out = io.StringIO()
    csv.writer(out).writerows(lines)
    return out.getvalue()


def _inert(value: str) -> str:
    """A cell that begins like a formula would be run by a spreadsheet (OWASP, "CSV injection"): a quote goes first."""
    return f"'{value}" if value.startswith(("=", "+", "-", "@", "\t", "\r")) else value

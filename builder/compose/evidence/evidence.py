"""The evidence table of a procedure, the reverse (each source with everything that rests on it), and what to review.

As rows and as CSV.
"""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable, Iterator, Mapping
from typing import NamedTuple

from builder.facts.claims import Claim, SourceUse
from builder.facts.source_register import Register, RegisteredSource, WeighedClaim
from builder.load.sources.notices import Notice


class EvidenceRow(NamedTuple):
    """One use of a source by a claim of a procedure; without a source, ``source`` says common practice or nothing.

    ``age`` is in years on the day of the register, "" where it is not known.
    """

    kind: str
    id: str
    claim: str
    key: str
    source: str
    where: str
    level: str
    year: str
    age: str
    notices: str
    place: str


RESTING = ("key", "source", "notices", "kind", "claim", "procedures", "place")
"""The head of the table of what rests on each source."""
REVIEW = ("weight", "kind", "id", "claim", "risk", "newest", "age", "withdrawn", "procedures", "place")
"""The head of the review list: ``weight`` is ``risk`` (1 to 5) times ``age`` in years of the ``newest`` source that
still stands; ``withdrawn`` names those that do not."""


def evidence_rows(sources: Mapping[str, RegisteredSource], claim: Claim, this_year: int) -> Iterator[EvidenceRow]:
    """Yield a row for each use of a source by ``claim``; one that says what else backs it where it cites none."""
    if not claim.uses:
        backing = "common practice" if claim.common_practice else "as the item it belongs to" if claim.backed else ""
        yield EvidenceRow(claim.kind.value, claim.id, claim.words, "", backing, "", "", "", "", "", str(claim.at))
    for use in claim.uses:
        source = sources.get(str(use.source))
        if source is not None:
            yield _row(claim, use, source, this_year)


def _row(claim: Claim, use: SourceUse, source: RegisteredSource, this_year: int) -> EvidenceRow:
    return EvidenceRow(
        kind=claim.kind.value,
        id=claim.id,
        claim=claim.words,
        key=source.key,
        source=source.text,
        where=use.locator,
        level=str(use.level or ""),
        year=str(source.year or ""),
        age=str(max(0, this_year - source.year)) if source.year else "",
        notices=_told(source.notices),
        place=str(use.source.at),
    )


def resting_table(register: Register) -> Iterator[tuple[str, ...]]:
    """Yield, source by source, every claim that rests on it; a source that nothing cites has one row without claim."""
    for source in register.sources.values():
        named = (source.key, source.text, _told(source.notices))
        if not source.uses:
            yield (*named, "", "", "", "")
        for claim, use in source.uses:
            yield (*named, claim.kind.value, claim.words, ", ".join(claim.procedures), str(use.source.at))


def _told(notices: Iterable[Notice]) -> str:
    return "; ".join(
        f"{notice.kind.value} {notice.date}" + (f" by {notice.successor}" if notice.successor else "")
        for notice in notices
    )


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

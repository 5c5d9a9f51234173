"""The evidence table of a procedure, the reverse (each source with everything that rests on it), and what to review.

As rows and as CSV.
"""

from __future__ import annotations

import csv
import io
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass, fields
from operator import attrgetter
from typing import TypeVar

from builder.facts.claims import NEED_BACKING, Claim, SourceUse
from builder.facts.source_register import Register, RegisteredSource, WeighedClaim
from builder.load.sources.notices import Notice


@dataclass(frozen=True, slots=True)
class EvidenceRow:
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


@dataclass(frozen=True, slots=True)
class RestingRow:
    """One claim that rests on a source."""

    key: str
    source: str
    notices: str
    kind: str
    claim: str
    procedures: str
    place: str


@dataclass(frozen=True, slots=True)
class ReviewRow:
    """One claim of the review list.

    ``weight`` is ``risk`` (1 to 5) times ``age`` in years of the ``newest`` source that still stands; ``withdrawn``
    names those that do not.
    """

    weight: str
    kind: str
    id: str
    claim: str
    risk: str
    newest: str
    age: str
    withdrawn: str
    procedures: str
    place: str


def evidence_table(register: Register, procedure: str, this_year: int) -> tuple[EvidenceRow, ...]:
    """Return the rows of ``procedure``: every caution, dose and aftercare item, and whatever else cites a source."""
    return tuple(
        row
        for claim in register.claims
        if procedure in claim.procedures and (claim.uses or claim.kind in NEED_BACKING)
        for row in _rows(register, claim, this_year)
    )


def _rows(register: Register, claim: Claim, this_year: int) -> Iterator[EvidenceRow]:
    if not claim.uses:
        backing = "common practice" if claim.common_practice else "as the item it belongs to" if claim.backed else ""
        yield EvidenceRow(claim.kind.value, claim.id, claim.words, "", backing, "", "", "", "", "", str(claim.at))
    for use in claim.uses:
        source = register.sources.get(str(use.source))
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


def resting_table(register: Register) -> tuple[RestingRow, ...]:
    """Return, source by source, every claim that rests on it; a source that nothing cites has one row without claim."""
    return tuple(row for source in register.sources.values() for row in _resting(source))


def _resting(source: RegisteredSource) -> Iterator[RestingRow]:
    told = _told(source.notices)
    if not source.uses:
        yield RestingRow(source.key, source.text, told, "", "", "", "")
    for claim, use in source.uses:
        procedures = ", ".join(claim.procedures)
        yield RestingRow(source.key, source.text, told, claim.kind.value, claim.words, procedures, str(use.source.at))


def _told(notices: Iterable[Notice]) -> str:
    return "; ".join(
        f"{one.kind.value} {one.date}" + (f" by {one.successor}" if one.successor else "") for one in notices
    )


def due(register: Register) -> tuple[WeighedClaim, ...]:
    """Return what is due to be looked at again, most due first: what rests on a source that is withdrawn or not new."""
    return tuple(one for one in register.review if one.weight or one.doubted)


def review_table(register: Register) -> tuple[ReviewRow, ...]:
    """Return the review list, most due first."""
    return tuple(
        ReviewRow(
            weight=str(one.weight),
            kind=one.claim.kind.value,
            id=one.claim.id,
            claim=one.claim.words,
            risk=str(one.claim.risk),
            newest=str(one.newest or ""),
            age="" if one.age is None else str(one.age),
            withdrawn=", ".join(one.doubted),
            procedures=", ".join(one.claim.procedures),
            place=str(one.claim.at),
        )
        for one in due(register)
    )


Row = TypeVar("Row", EvidenceRow, RestingRow, ReviewRow)


def cells(rows: Iterable[Row], kind: type[Row]) -> list[list[str]]:
    """Return the cells of ``rows`` as a spreadsheet may see them, below a head of their names."""
    names = [field.name for field in fields(kind)]
    values: Callable[[Row], tuple[str, ...]] = attrgetter(*names)
    return [names, *(list(map(_inert, values(row))) for row in rows)]


def csv_of(lines: Iterable[list[str]]) -> str:
    """Return ``lines`` of cells as CSV."""
    out = io.StringIO()
    csv.writer(out).writerows(lines)
    return out.getvalue()


def _inert(value: str) -> str:
    """A cell that begins like a formula would be run by a spreadsheet (OWASP, "CSV injection"): a quote goes first."""
    return f"'{value}" if value.startswith(("=", "+", "-", "@", "\t", "\r")) else value

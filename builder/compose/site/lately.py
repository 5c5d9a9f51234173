"""What was issued lately, for the first page: from the ledger, with what changed since the edition before."""

from __future__ import annotations

from dataclasses import dataclass

from builder.compose.site.status import changes_of, in_order
from builder.compose.view.words import day
from builder.load.ledger import Issued
from builder.model.library import Library

_MOST = 6
_NAMED = 4


@dataclass(frozen=True, slots=True)
class Lately:
    """One issue; ``href`` leads to its page ("" where it is gone), ``changed`` says what is not as it was before."""

    day: str
    title: str
    edition: str
    href: str
    changed: str


def lately(library: Library) -> tuple[Lately, ...]:
    """Return the last few editions that were issued, the newest first."""
    published = {str(one.id) for one in library.procedures}
    found: list[tuple[Issued, Issued | None]] = []
    for procedure in {one.procedure for one in library.ledger.issued}:
        lines = in_order(library.ledger.of(procedure))
        found.extend(zip(lines, (None, *lines), strict=False))
    newest = sorted(found, key=lambda pair: (pair[0].on, pair[0].title, pair[0].code), reverse=True)[:_MOST]
    return tuple(
        Lately(
            day(line.on),
            line.title,
            line.edition,
            f"{line.procedure}/index.html" if line.procedure in published else "",
            _changed(before, line),
        )
        for line, before in newest
    )


def _changed(before: Issued | None, line: Issued) -> str:
    if before is None:
        return "First edition issued."
    names = [f"{one.name} ({one.what})" for one in changes_of(before, line)]
    if not names:
        return "No step, caution or aftercare changed."
    more = f" and {len(names) - _NAMED} more" if len(names) > _NAMED else ""
    return f"{'; '.join(names[:_NAMED])}{more}."

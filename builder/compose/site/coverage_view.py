"""What was checked of a procedure, in sentences that claim no more than was there to be looked at."""

from __future__ import annotations

from dataclasses import dataclass

from builder.facts.coverage import ProcedureCoverage, excuses, silence, words_of
from builder.findings.message_words import listed


@dataclass(frozen=True, slots=True)
class CheckedView:
    """``proved``: what was checked, with how much of it; ``gaps``: what was not, and what is excused."""

    proved: tuple[str, ...]
    gaps: tuple[str, ...]


def coverage_view(found: ProcedureCoverage) -> CheckedView:
    """Return what a page says of what was checked."""
    proved = (
        f"{things.proves.rstrip('.')}: {words_of(things.name, things.number, things.steps, found.steps)}."
        for things in found.checked
    )
    gaps = [f"{told}." for told in (silence(found), excuses(found)) if told]
    if found.empty:
        gaps.append(f"There was no {listed((things.name for things in found.empty), 'or')} to check.")
    return CheckedView(tuple(proved), tuple(gaps))

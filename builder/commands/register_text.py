"""The register of sources as text for a terminal: all sources, or one with everything that rests on it."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from difflib import get_close_matches

from builder.commands.formats.plain import one_line
from builder.facts.claims import Claim, ClaimKind, SourceUse
from builder.facts.source_register import Coverage, Register, RegisteredSource, WeighedClaim
from builder.findings.message_words import counted
from builder.load.sources.notices import Notice

_MOST_REVIEWED = 20
_NAMES = {
    ClaimKind.CAUTION: "cautions",
    ClaimKind.DOSE: "doses",
    ClaimKind.AFTERCARE: "aftercare items",
    ClaimKind.STEP: "steps",
}


def register_text(register: Register) -> str:
    """Return every source with what rests on it in numbers, the coverage, and the first of the review list."""
    lines = [line for source in register.sources.values() for line in _source_line(source)]
    lines += ["", "Coverage"] + [f"  {_covered(coverage)}" for coverage in register.coverage]
    due = [claim for claim in register.review if claim.weight or claim.doubted][:_MOST_REVIEWED]
    if due:
        lines += ["", "To review first (risk 1 to 5, times years since the newest source that stands)"]
        lines += [f"  {_due(claim)}" for claim in due]
    return "\n".join(lines) + "\n"


def _source_line(source: RegisteredSource) -> Iterator[str]:
    count = len(source.uses)
    used = "not cited" if not count else f"cited {counted(count, 'time')}"
    yield f"{source.key}  ({used})"
    yield f"    {one_line(source.text)}"
    for notice in source.notices:
        yield f"    ! {_noticed(notice)}"


def _noticed(notice: Notice) -> str:
    successor = f"; see {notice.successor}" if notice.successor else ""
    why = f": {one_line(notice.note)}" if notice.note else ""
    return f"{notice.kind.value} {notice.date}{why}{one_line(successor)} ({notice.at})"


def _covered(coverage: Coverage) -> str:
    words = f"{coverage.all} {_NAMES[coverage.kind]}: {coverage.sourced} with a source, "
    words += f"{coverage.common_practice} common practice"
    words += f", {coverage.bare} with neither" if coverage.bare else ""
    return words + (f"; {coverage.without_level} without a level of evidence" if coverage.without_level else "")


def _due(weighed: WeighedClaim) -> str:
    claim = weighed.claim
    age = f"newest source {weighed.newest}" if weighed.newest else "no source that stands"
    doubted = f", withdrawn: {', '.join(weighed.doubted)}" if weighed.doubted else ""
    why = f"(risk {claim.risk}, {age}{doubted})"
    return f"{weighed.weight:>4}  {claim.at}  {claim.kind.value}: {one_line(claim.words)} {why}"


def source_text(register: Register, key: str, outputs: Mapping[str, Sequence[str]] | None = None) -> str | None:
    """Return everything that rests on the source ``key``, or None where there is no such source.

    ``outputs`` says, by procedure, which outputs and issued copies of it rest on the source.
    """
    source = register.sources.get(key)
    if source is None:
        return None
    lines = list(_source_line(source))
    lines += [_use_line(claim, use) for claim, use in source.uses]
    procedures = sorted({name for claim, _ in source.uses for name in claim.procedures})
    if procedures:
        lines += ["", f"Procedures: {', '.join(procedures)}"]
    for name in procedures if outputs else ():
        lines += ["", name, *(f"  {one_line(output)}" for output in (outputs or {}).get(name, ()))]
    return "\n".join(lines) + "\n"


def _use_line(claim: Claim, use: SourceUse) -> str:
    where = f", {one_line(use.locator)}" if use.locator else ""
    level = f", level {use.level}" if use.level else ""
    return f"  {use.source.at}  {claim.kind.value} {claim.id}: {one_line(claim.words)}{where}{level}"


def nearest_keys(register: Register, key: str) -> list[str]:
    """Return up to three keys that look like ``key``."""
    return get_close_matches(key, list(register.sources), n=3, cutoff=0.5)

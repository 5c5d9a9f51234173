"""``prescrub check``: does everything hold together? And the interview sheet for what is not written yet."""

import argparse
import sys
from collections.abc import Iterator
from pathlib import Path
from typing import Any

from builder.commands.common import (
    ERRORS_FOUND,
    NOTHING_BLOCKS,
    CalledWrongly,
    department,
    examined,
    read_given,
    show,
    shown_in,
)
from builder.commands.formats import coverage_text
from builder.findings.finding import Finding, exit_code
from builder.findings.register import FAMILIES, REGISTER
from builder.load.clock import this_day
from builder.load.kept.check_cache import CheckCache, fingerprint

_EXPLAINED = """What each finding blocks. What blocks a draft blocks review, an approval and an issue too, and so on.
A department may accept a finding of its own pages, with a reason (`accept:`).
"""


def run(arguments: argparse.Namespace) -> int:
    """Check the folder and print the findings; or print the interview sheet; or put its answers back."""
    asked = {"--fill": _fill, "--ask": _ask, "--mend": _mend}
    chosen = [flag for flag in asked if getattr(arguments, flag.strip("-"))]
    if len(chosen) > 1:
        raise CalledWrongly(f"{' and '.join(chosen)} do not go together. Run one, then the other.")
    if chosen:
        return asked[chosen[0]](arguments)
    if arguments.explain:
        sys.stdout.write(_EXPLAINED + "".join(_blocking()))
        return NOTHING_BLOCKS
    findings, coverage = _findings(arguments.folder, None if arguments.fresh else CheckCache.of_user())
    show(findings, arguments.format, coverage, department(arguments.folder))
    if arguments.format in (None, "text"):
        sys.stdout.write((coverage_text.whole if arguments.coverage else coverage_text.gaps)(coverage))
    return exit_code(findings)


def _blocking() -> Iterator[str]:
    """Yield every finding with its severity and what it blocks, by family."""
    widest = max(map(len, REGISTER))
    for family in FAMILIES:
        yield f"\n{family.name}\n"
        for kind in REGISTER.values():
            if kind.family is family:
                but = kind.but and f"; {kind.but}"
                yield f"  {kind.name:<{widest}}  {kind.severity.value:<7}  blocks {kind.blocks.value}{but}\n"


def _findings(folder: str, cache: CheckCache | None) -> tuple[list[Finding], dict[str, Any]]:
    """Return what a check of ``folder`` finds and its coverage, from ``cache`` where nothing has changed."""
    today = this_day()
    before = fingerprint(department(folder), today) if cache else None
    kept = cache.findings(before) if cache and before else None
    if kept is not None:
        return kept
    from builder.facts.coverage import coverage, data_of  # noqa: PLC0415  # not needed for findings that are kept

    library, findings = examined(folder, today)
    findings = shown_in(library, findings)
    found = {str(procedure.id): data_of(coverage(library, procedure)) for procedure in library.procedures}
    # Somebody may have saved a file while the check ran: then nobody knows which text was checked.
    if cache and before and fingerprint(department(folder), today) == before:
        cache.keep(before, findings, found)
    return findings, found


def _ask(arguments: argparse.Namespace) -> int:
    from builder.edit.interview_sheet import ask  # noqa: PLC0415  # not needed for findings that are kept

    sys.stdout.write(ask(examined(arguments.folder)[0]))
    return NOTHING_BLOCKS


def _fill(arguments: argparse.Namespace) -> int:
    from builder.write.fill import fill  # noqa: PLC0415  # not needed for findings that are kept

    changes, findings = fill(department(arguments.folder), read_given(arguments.fill), Path(arguments.fill).name)
    for change in changes:
        sys.stdout.write(f"{change.file}: {change.key} written\n")
    if findings:
        show(findings, arguments.format)
    if not changes:
        sys.stdout.write("Nothing was changed.\n")
    return ERRORS_FOUND if exit_code(findings) else NOTHING_BLOCKS


def _mend(arguments: argparse.Namespace) -> int:
    from builder.write.mend import apply, diff, mends  # noqa: PLC0415  # not needed for findings that are kept

    library, _ = examined(arguments.folder)
    edits = mends(library)
    if not edits:
        sys.stdout.write("Nothing can be mended safely.\n")
        return NOTHING_BLOCKS
    sys.stdout.write(diff(library.root, edits))
    if not (arguments.yes or _agreed()):
        sys.stdout.write("Nothing was changed. Add --yes to make these changes.\n")
        return NOTHING_BLOCKS
    sys.stdout.write("".join(f"{name}: mended\n" for name in apply(library.root, edits)))
    return NOTHING_BLOCKS


def _agreed() -> bool:
    """Ask on a terminal; without one, nobody can agree."""
    if not (sys.stdin.isatty() and sys.stdout.isatty()):
        return False
    return input("Make these changes? [y/N] ").strip().lower() in ("y", "yes")

"""``prescrub sources``: the register of sources, what rests on one of them, and adding more."""

import argparse
import sys
from collections.abc import Iterator, Mapping, Sequence
from difflib import get_close_matches
from pathlib import Path
from typing import Any

from builder.commands.common import NOTHING_BLOCKS, CalledWrongly, examined, is_department, read_given, show
from builder.commands.formats.terminal import one_line
from builder.compose.document import Renderer
from builder.facts.claims import Claim, ClaimKind, SourceUse
from builder.facts.source_register import Coverage, Register, RegisteredSource, WeighedClaim, register
from builder.findings.finding import Finding, Severity, exit_code
from builder.findings.message_words import counted, quoted
from builder.load.folder import load
from builder.load.sources.import_file import read_import
from builder.load.sources.notices import Notice
from builder.load.sources.notices_export import read_export
from builder.load.templates import load_templates
from builder.model.build import build
from builder.model.library import Library
from builder.model.styles.registry import style_names
from builder.resting import resting_outputs
from builder.write.sources_file import SourcesNotAdded, add_notices, add_sources

_NEEDED = {"list": "", "show": " KEY", "add": " FILE", "notices": " FILE"}


def meant(words: list[str], given: Mapping[str, Any]) -> tuple[str, list[str]]:
    """Return the command that ``words`` name in full, else in short, and the words left for it.

    Raises CalledWrongly where they could name two.
    """
    first, rest = (words[0], words[1:]) if words else ("list", [])
    if first == "list" or (first in _NEEDED and rest):
        return first, rest
    is_folder = not rest and "folder" not in given and is_department(first)
    if first not in _NEEDED and not is_folder:
        return "show", words
    readings = [f"{first}{_NEEDED[first]}"] if first in _NEEDED else []
    readings += [f"list {first}"] if is_folder else []
    folder = given.get("folder", ".")
    readings += [f"show {first}"] if is_department(folder) and first in _library(folder).sources else []
    if len(readings) > 1:
        called = " or ".join(f"`prescrub sources {reading}`" for reading in readings)
        raise CalledWrongly(f"`prescrub sources {first}` could mean two things. Write {called}.")
    return (first, []) if first in _NEEDED else ("list", words)


def run_list(arguments: argparse.Namespace) -> int:
    """Print the register."""
    sys.stdout.write(register_text(register(_library(arguments.folder), _style(arguments))))
    return NOTHING_BLOCKS


def _one_sheet(_: str) -> tuple[Mapping[str, float], ...]:
    """Measure nothing: what a document promises to show is the same in any size of type."""
    return ({},)


def run_show(arguments: argparse.Namespace) -> int:
    """Print everything that rests on one source."""
    _refuse_other(arguments.folder)
    style, key = _style(arguments), arguments.key
    library, findings = examined(arguments.folder)
    held = register(library, style)
    whole = not exit_code(findings)
    renderer = Renderer(load_templates(library.root), _one_sheet)
    outputs = resting_outputs(library, key, renderer) if whole else None
    text = source_text(held, key, outputs)
    if text is None:
        near = [f"`prescrub sources {name}`" for name in get_close_matches(key, _NEEDED, n=1)]
        near += get_close_matches(key, list(held.sources), n=3, cutoff=0.5)
        raise CalledWrongly(f"There is no source {quoted(key)}." + (f" Near: {', '.join(near)}." if near else ""))
    sys.stdout.write(text)
    if not whole:
        sys.stdout.write("\nOutputs are not worked out while there are errors: run `prescrub check`.\n")
    return NOTHING_BLOCKS


def run_add(arguments: argparse.Namespace) -> int:
    """Add sources from a file, and show all that was found in them."""
    library, read = _library(arguments.folder), read_import(Path(arguments.file))
    try:
        merged = add_sources(library.root, library.sources, read.records)
    except SourcesNotAdded as refusal:
        return _told([*refusal.findings, *read.findings], ["Nothing was written."])
    lines = [f"added    {key}" for key, _ in merged.added]
    lines += [f"known    {key}" for _, key in merged.known]
    lines += [f"{key} lacks what this file has: {', '.join(fields)}" for key, fields in merged.more.items()]
    counted = f"{len(merged.added)} added, {len(merged.known)} known already."
    lines.append(counted if merged.added or merged.known else "Nothing was written.")
    findings = [*read.findings, *merged.findings, *_of_entries(arguments.folder, [key for key, _ in merged.added])]
    if merged.added and exit_code(findings):
        lines.append("Put the errors right, then add the file again: nothing is added twice.")
    return _told(findings, lines)


def _of_entries(folder: str, keys: list[str]) -> list[Finding]:
    """Return what a check says of the entries ``keys``, just written to the end of the file of sources."""
    if not keys:
        return []
    library, findings = examined(folder)
    begin = library.sources[keys[0]].key.at
    # That nothing cites them yet is no news.
    return [one for one in findings if one.at >= begin and one.at.file == begin.file and one.name != "source-unused"]


def run_notices(arguments: argparse.Namespace) -> int:
    """Keep what concerns the department of a list of retractions."""
    library, file = _library(arguments.folder), Path(arguments.file)
    export = read_export(read_given(str(file)), file.name, library.sources, library.today)
    try:
        name = add_notices(library.root, file, export)
    except SourcesNotAdded as refusal:
        return _told(list(refusal.findings), ["Nothing was written."])
    kept = f"{len(export.kept)} of {export.read} rows concern this department; written to {name}."
    return _told(list(export.faults), [kept])


def _told(findings: list[Finding], lines: list[str]) -> int:
    """Print what was found, retractions first and then the gravest, and what was done; return the exit code."""
    if findings:
        show(sorted(findings, key=_gravity))
        sys.stdout.write("\n")
    sys.stdout.write("".join(f"{line}\n" for line in lines))
    return exit_code(findings)


def _gravity(found: Finding) -> tuple[Any, ...]:
    return not found.name.endswith("-retracted"), list(Severity).index(found.severity), found.sort_key()


def _style(arguments: argparse.Namespace) -> str:
    style = arguments.style or ""
    if style and style not in style_names():
        raise CalledWrongly(f"There is no style {quoted(style)}. Name one of: {', '.join(style_names())}.")
    return style


def _library(folder: str) -> Library:
    _refuse_other(folder)
    return build(load(Path(folder)))[0]


def _refuse_other(folder: str) -> None:
    if not is_department(folder):
        raise CalledWrongly(f"{folder} is not a department's folder: it holds no content/.")


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

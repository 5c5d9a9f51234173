"""``prescrub sources``: the register of sources, what rests on one of them, and adding more."""

from __future__ import annotations

import argparse
import sys
from collections.abc import Mapping
from difflib import get_close_matches
from pathlib import Path
from typing import Any

from builder.commands.common import (
    NOTHING_BLOCKS,
    CalledWrongly,
    examined,
    is_department,
    read_given,
    show,
)
from builder.commands.register_text import nearest_keys, register_text, source_text
from builder.compose.render import Renderer
from builder.facts.source_register import register
from builder.findings.finding import Finding, Severity, exit_code
from builder.findings.message_words import quoted
from builder.load.folder import load
from builder.load.sources.import_file import read_import
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


def run_show(arguments: argparse.Namespace) -> int:
    """Print everything that rests on one source."""
    _refuse_other(arguments.folder)
    style, key = _style(arguments), arguments.key
    library, findings = examined(arguments.folder)
    held = register(library, style)
    whole = not exit_code(findings)
    outputs = resting_outputs(library, key, Renderer(load_templates(library.root))) if whole else None
    text = source_text(held, key, outputs)
    if text is None:
        names = get_close_matches(key, _NEEDED, n=1)
        near = [*(f"`prescrub sources {name}`" for name in names), *nearest_keys(held, key)]
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

"""``prescrub sources``: the register of sources, what rests on one of them, and adding more."""

from __future__ import annotations

import argparse
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any

from builder.commands.common import ERRORS_FOUND, NOTHING_BLOCKS, CalledWrongly, examined, read_given, show
from builder.commands.register_text import nearest_keys, register_text, source_text
from builder.compose.render import Renderer
from builder.facts.source_register import register
from builder.findings.finding import exit_code
from builder.load.folder import load
from builder.load.sources.import_file import read_import
from builder.load.sources.notices_export import read_export
from builder.load.templates import load_templates
from builder.model.build import build
from builder.model.library import Library
from builder.model.styles.registry import style_names
from builder.publish.resting import resting_outputs
from builder.write.notices_file import add_notices
from builder.write.sources_file import SourcesNotAdded, add_sources

EXAMPLE = """examples:
  prescrub sources                               the register of the department in this folder
  prescrub sources my-department                 the register of another
  prescrub sources hernia-guidelines-2018        everything that rests on this source
  prescrub sources add export.ris                add sources from .bib, .ris, .nbib or CSL-JSON
  prescrub sources notices retractions.csv       keep what concerns us of a public list of retractions"""


def add(parsers: Any) -> None:
    """Say how the command is called."""
    parser = parsers.add_parser(
        "sources",
        help="print the register of sources, or add to it",
        epilog=EXAMPLE,
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    parser.add_argument("words", metavar="KEY | add FILE | notices FILE", nargs="*", help="see the examples")
    parser.add_argument("--in", dest="folder", metavar="FOLDER", help="the department's folder (default: this folder)")
    parser.add_argument("--style", choices=style_names(), help="the style of references (default: the department's)")
    parser.set_defaults(run=run)


def run(arguments: argparse.Namespace) -> int:
    """Print the register, print what rests on one source, or add sources or notices."""
    words = list(arguments.words)
    adding = {"add": _add, "notices": _notices}.get(words[0]) if words else None
    if adding:
        return _added(adding, words[1:], arguments.folder)
    folder = arguments.folder
    if folder is None and words and _is_department(words[-1]):
        folder = words.pop()
    if len(words) > 1:
        raise CalledWrongly("Name one source, or none for the whole register.")
    if words:
        return _one(folder or ".", words[0], arguments.style or "")
    sys.stdout.write(register_text(register(_library(folder or "."), arguments.style or "")))
    return NOTHING_BLOCKS


def _one(folder: str, key: str, style: str) -> int:
    """Print everything that rests on the source ``key``."""
    _refuse_other(folder)
    library, findings = examined(folder)
    found = register(library, style)
    whole = not exit_code(findings)
    outputs = resting_outputs(library, key, Renderer(load_templates(library.root))) if whole else None
    text = source_text(found, key, outputs)
    if text is None:
        near = nearest_keys(found, key)
        raise CalledWrongly(f"There is no source {key!r}." + (f" Near: {', '.join(near)}." if near else ""))
    sys.stdout.write(text)
    if not whole:
        sys.stdout.write("\nOutputs are not worked out while there are errors: run `prescrub check`.\n")
    return NOTHING_BLOCKS


def _is_department(word: str) -> bool:
    return (Path(word) / "content").is_dir()


def _library(folder: str) -> Library:
    _refuse_other(folder)
    return build(load(Path(folder)))[0]


def _refuse_other(folder: str) -> None:
    if not _is_department(folder):
        raise CalledWrongly(f"{folder} is no department's folder: it holds no content/.")


_Adding = Callable[[Library, Path], str]


def _added(adding: _Adding, words: list[str], folder: str | None) -> int:
    if not words or len(words) > 2:
        raise CalledWrongly("Name one file, for instance: prescrub sources add export.ris")
    library = _library(folder or (words[1] if len(words) > 1 else "."))
    try:
        sys.stdout.write(adding(library, Path(words[0])))
    except SourcesNotAdded as refusal:
        show(list(refusal.findings), "text")
        sys.stdout.write("Nothing was written.\n")
        return ERRORS_FOUND
    return NOTHING_BLOCKS


def _add(library: Library, file: Path) -> str:
    merged = add_sources(library.root, library.sources, read_import(file))
    lines = [f"added    {key}" for key, _ in merged.added]
    lines += [f"known    {key}" for _, key in merged.known]
    lines += [f"the record has more than {key}: {', '.join(fields)}" for key, fields in merged.more.items()]
    return "\n".join([*lines, f"{len(merged.added)} added, {len(merged.known)} known already."]) + "\n"


def _notices(library: Library, file: Path) -> str:
    export = read_export(read_given(str(file)), file.name, library.sources, library.today)
    name = add_notices(library.root, file, export)
    return f"{len(export.kept)} of {export.read} rows concern this department; written to {name}.\n"

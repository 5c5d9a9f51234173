"""``prescrub check`` against the bare engines: CSafe compose, Python-Markdown and pybtex on the same files."""

from __future__ import annotations

from pathlib import Path

import markdown
import yaml
from pybtex.database import parse_string

from bench.measure import Measured, measure
from builder.check.engine import examine
from builder.load.folder import load


def bare(folder: Path) -> None:
    """Parse every file of the department with its engine and keep nothing."""
    engine = markdown.Markdown(extensions=["tables", "sane_lists", "smarty"], output_format="html")
    for file in sorted(folder.glob("content/**/*.md")):
        _, front, body = file.read_text(encoding="utf-8").split("---\n", 2)
        yaml.compose(front, Loader=yaml.CSafeLoader)
        engine.reset().convert(body)
    for file in sorted(folder.glob("content/catalogue/*.yml")):
        yaml.compose(file.read_text(encoding="utf-8"), Loader=yaml.CSafeLoader)
    for file in sorted(folder.glob("references/*.bib")):
        parse_string(file.read_text(encoding="utf-8"), "bibtex")


def ours(folder: Path) -> None:
    """Check the department as the command does."""
    examine(load(folder))


def compare(folder: Path) -> tuple[Measured, Measured]:
    """Return what our check and the bare engines took."""
    return measure(ours, folder), measure(bare, folder)

"""``prescrub publish`` against the bare engines: mkdocs and WeasyPrint on the same composed pages.

Pages are the finished ones, as mkdocs builds them in a lean frame; papers are what WeasyPrint gets. The bare run sets
each paper once and builds the site once; it composes, measures, proves and hashes nothing, and makes no other file.
"""

from __future__ import annotations

import os
import shutil
from pathlib import Path

from mkdocs.commands.build import build as mkdocs_build
from mkdocs.config import load_config

from bench import paper
from bench.measure import Measured, measure
from bench.site import keep
from builder.check.engine import examine
from builder.load.folder import load
from builder.load.templates import load_templates
from builder.pipeline import publish
from builder.publish.publishing import Means


def ours(folder: Path, to: Path) -> None:
    """Check and publish as the command does, into a folder that is not there yet, with nothing kept from before."""
    shutil.rmtree(to, ignore_errors=True)
    library, _ = examine(load(folder))
    publish(library, to, load_templates(folder), means=Means(cache=None))


def bare_site(work: Path) -> None:
    """Build the kept site once with mkdocs."""
    kept = work / "site"
    os.chdir(kept)
    mkdocs_build(load_config(str(kept / "mkdocs.yml"), docs_dir=str(kept / "docs"), site_dir=str(work / "bare")))


def compare(folder: Path, work: Path) -> tuple[Measured, Measured, Measured]:
    """Return what our publish, the bare typesetter and the bare site engine took, each once."""
    paper.keep_pages(folder, work)
    made = measure(ours, folder, work / "public", runs=1)
    keep(work / "public", work / "site")
    return made, measure(paper.bare, folder, work, runs=1), measure(bare_site, work, runs=1)

"""``prescrub publish`` against the bare engines: mkdocs and WeasyPrint on the same composed pages.

The pages are taken from a real publish: finished ones as mkdocs builds them in a lean frame, papers as WeasyPrint got
them. The bare run sets each paper once, on as many processes, and builds the site once; it composes, measures, proves
and hashes nothing.
"""

from __future__ import annotations

import os
import shutil
from concurrent.futures import ProcessPoolExecutor
from pathlib import Path

from mkdocs.commands.build import build as mkdocs_build
from mkdocs.config import load_config
from weasyprint import HTML

from bench.measure import Measured, measure
from bench.site import keep
from builder.check.engine import examine
from builder.compose.document import Document
from builder.load.folder import load
from builder.load.templates import load_templates
from builder.pipeline import publish
from builder.publish.paper import pdf
from builder.publish.paper.pdf import ProjectFetcher


def ours(folder: Path, to: Path) -> None:
    """Check and publish as the command does, into a folder that is not there yet."""
    shutil.rmtree(to, ignore_errors=True)
    library, _ = examine(load(folder))
    publish(library, to, load_templates(folder))


def keep_pages(folder: Path, work: Path) -> None:
    """Publish once and keep in ``work`` what the engines were given: ``site/`` and ``papers/*.html``."""
    papers = work / "papers"
    papers.mkdir(parents=True)
    printed = pdf.Typesetter.pdf

    def typeset(self: pdf.Typesetter, document: Document) -> bytes:
        (papers / f"{document.name.replace('/', '--')}.html").write_text(document.text, encoding="utf-8")
        return printed(self, document)

    pdf.Typesetter.pdf = typeset  # type: ignore[method-assign]  # put back below
    try:
        ours(folder, work / "public")
    finally:
        pdf.Typesetter.pdf = printed  # type: ignore[method-assign]
    keep(work / "public", work / "site")


def bare_papers(folder: Path, work: Path) -> None:
    """Set every kept paper once with WeasyPrint, on all processors."""
    papers = sorted((work / "papers").iterdir())
    with ProcessPoolExecutor(len(os.sched_getaffinity(0))) as workers:
        list(workers.map(_set, [folder] * len(papers), papers))


def _set(folder: Path, paper: Path) -> int:
    html = HTML(string=paper.read_text(encoding="utf-8"), url_fetcher=ProjectFetcher(folder))
    return len(html.write_pdf(pdf_variant="pdf/ua-1"))


def bare_site(work: Path) -> None:
    """Build the kept site once with mkdocs."""
    kept = work / "site"
    os.chdir(kept)
    mkdocs_build(load_config(str(kept / "mkdocs.yml"), docs_dir=str(kept / "docs"), site_dir=str(work / "bare")))


def compare(folder: Path, work: Path) -> tuple[Measured, Measured, Measured]:
    """Return what our publish, the bare typesetter and the bare site engine took, each once."""
    keep_pages(folder, work)
    return (
        measure(ours, folder, work / "public", runs=1),
        measure(bare_papers, folder, work, runs=1),
        measure(bare_site, work, runs=1),
    )

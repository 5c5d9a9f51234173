"""The papers of a department against bare WeasyPrint: the same HTML, the same number of processes.

Ours composes, fits the cards, sets, tags, lays cards on sheets and writes; then the same with every proof, which reads
each file back and renders each page. The bare run only sets each document's HTML once. Then what the cache saves:
nothing changed, and one caution changed.
"""

from __future__ import annotations

import os
import shutil
from concurrent.futures import ProcessPoolExecutor
from dataclasses import replace
from pathlib import Path

from weasyprint import HTML

from bench.measure import Measured, measure
from builder.check.engine import examine
from builder.compose.document import Document, Renderer
from builder.load.folder import load
from builder.load.templates import load_templates
from builder.outputs import OUTPUTS
from builder.publish.build_report import FileRead
from builder.publish.cache import Cache
from builder.publish.jobs import Processes
from builder.publish.output import Output, Outputs, Proof, Publication
from builder.publish.paper.pdf import ProjectFetcher, Typesetter
from builder.publish.publishing import printed

_PROCESSES = 2
_CAUTION = "content/procedures/synthetic-0001/cautions/toxic-dose.md"


def keep_pages(folder: Path, work: Path) -> list[str]:
    """Keep the HTML of every paper in ``work/papers`` and return the names of the outputs that are papers."""
    papers = work / "papers"
    papers.mkdir(parents=True)
    library, _ = examine(load(folder))
    renderer = Renderer(load_templates(folder), Typesetter(folder).measure)
    names = []
    for row in OUTPUTS.files:
        if row.format.viewable and not row.session:
            jobs = [(job, one) for one in library.procedures for job in row.documents_of(one)]
            made: list[Document] = [row.composed(job, library, one, renderer) for job, one in jobs]
            names.append(row.name)
            for document in made:
                (papers / f"{document.name.replace('/', '--')}.html").write_text(document.text, encoding="utf-8")
    return names


def _believed(document: Document, path: Path) -> FileRead:  # noqa: ARG001  # in place of a proof
    return FileRead((), 0, 0.0)


def _unproved(table: Outputs) -> Outputs:
    believed = Proof((), _believed)
    rows = (
        replace(row, format=replace(row.format, proof=believed)) if isinstance(row, Output) else row
        for row in table.rows
    )
    return replace(table, rows=tuple(rows))


def ours(folder: Path, to: Path, outputs: list[str], table: Outputs, cache: Path | None = None) -> None:
    """Print ``outputs`` of every procedure as ``table`` says, on as many processors as the bare run."""
    os.sched_setaffinity(0, sorted(os.sched_getaffinity(0))[:_PROCESSES])
    shutil.rmtree(to, ignore_errors=True)
    to.mkdir(parents=True)
    library, _ = examine(load(folder))
    publication = Publication(library, load_templates(folder), table, to, Cache(cache) if cache else None)
    with Processes(publication) as workers:
        made = sum(1 for _ in printed(publication, workers, outputs))
    assert made == sum(1 for one in library.procedures for _ in OUTPUTS.documents_of(one, outputs))


def bare(folder: Path, work: Path) -> None:
    """Set every kept paper once with WeasyPrint."""
    papers = sorted((work / "papers").iterdir())
    with ProcessPoolExecutor(_PROCESSES) as workers:
        list(workers.map(_set, [folder] * len(papers), papers))


def _set(folder: Path, paper: Path) -> int:
    html = HTML(string=paper.read_text(encoding="utf-8"), url_fetcher=ProjectFetcher(folder))
    return len(html.write_pdf(pdf_variant="pdf/ua-1"))


def compare(folder: Path, work: Path) -> dict[str, Measured]:
    """Return what each run took, by its name; each once, for all are long."""
    outputs = keep_pages(folder, work)
    to, cache = work / "made", work / "cache"
    found = {
        "bare": measure(bare, folder, work, runs=1),
        "made": measure(ours, folder, to, outputs, _unproved(OUTPUTS), runs=1),
        "made and proved, and kept": measure(ours, folder, to, outputs, OUTPUTS, cache, runs=1),
        "nothing changed": measure(ours, folder, to, outputs, OUTPUTS, cache, runs=1),
    }
    path = folder / _CAUTION
    path.write_text(path.read_text(encoding="utf-8").replace("avoid: ", "avoid: Now ", 1), encoding="utf-8")
    found["one caution changed"] = measure(ours, folder, to, outputs, OUTPUTS, cache, runs=1)
    return found

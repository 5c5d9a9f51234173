"""The steps of publishing, one after the other (see ``builder/pipeline.py``): everything is made in a work folder."""

from __future__ import annotations

import itertools
from collections.abc import Callable, Collection, Iterable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Self

from builder.compose.document import Document
from builder.facts.coverage import coverage, data_of
from builder.findings.register import CHECKED
from builder.publish import issuing
from builder.publish.build_report import NAME, Artefact, Report, artefact_of, every_file, sha256
from builder.publish.jobs import Workers
from builder.publish.output import SITE, Output, Proof, ReadBack
from builder.publish.printing import printed
from builder.publish.publication import Publication
from builder.publish.publish_error import PublishError
from builder.publish.site.site_pages import built
from builder.publish.target import in_plain_words
from builder.write.lock import NotWritten

Progress = Callable[[int, int, str], None]
"""Told ``(parts done, parts in all, what is being done)``."""

Papers = list[tuple[Output, Document]]
_FEW_PAPERS = 8
_FEW_PROCEDURES = 50
_FEW_PAGES = 500
_TOGETHER = 8


@dataclass(frozen=True, slots=True)
class ReadBackJob:
    """Pages of the finished site that are read back together."""

    name: str
    pages: tuple[Document, ...]

    def run(self, publication: Publication) -> list[ReadBack]:
        """Read each back."""
        proof_of, new = publication.outputs.proof_of, publication.new
        return [proof_of(page).read_back(page, new / page.name) for page in self.pages]


class Publishing:
    """One publish of the outputs ``wanted``, from Library to a proved folder. Use it as a context manager."""

    def __init__(self, publication: Publication, wanted: Collection[str], progress: Progress) -> None:
        self.publication = publication
        self.workers = Workers(publication)
        self._has_site = SITE in wanted
        self._papers = [row.name for row in publication.outputs.files if row.name in wanted]
        self._progress = progress
        self._done = itertools.count(1)
        self._proved: dict[str, tuple[Proof, ReadBack]] = {}

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        self.workers.processes.close()

    @property
    def _paper_count(self) -> int:
        library, outputs = self.publication.library, self.publication.outputs
        return sum(1 for procedure in library.procedures for _ in outputs.documents_of(procedure, self._papers))

    @property
    def _total(self) -> int:
        library = self.publication.library
        pages = 4 * len(library.procedures) + 4 + issuing.pages_of(library) if self._has_site else 0
        return self._paper_count + pages + 1

    def print(self) -> Papers:
        """Compose, write and prove every file that is no page."""
        made, total = [], self._total
        executor = self.workers.for_tasks(self._paper_count, _FEW_PAPERS)
        for output, document, read in printed(self.publication, executor, self._papers):
            self._proved[document.name] = output.proof, read
            made.append((output, document))
            self._progress(next(self._done), total, document.name)
        return made

    def build_site(self, papers: Papers) -> list[Document]:
        """Compose the pages, which offer ``papers``, and build the site of them."""
        publication, total = self.publication, self._total
        publication.new.mkdir()
        if not self._has_site:
            return []
        offers = [(document.procedure, publication.outputs.offer(output, document)) for output, document in papers]
        executor = self.workers.for_tasks(len(publication.library.procedures), _FEW_PROCEDURES)
        with publication.site:
            return built(publication, executor, offers, lambda name: self._progress(next(self._done), total, name))

    def add(self, papers: Papers) -> None:
        """Lay ``papers`` beside the pages."""
        for _, document in papers:
            path = self.publication.new / document.name
            path.parent.mkdir(parents=True, exist_ok=True)
            (self.publication.made / document.name).rename(path)

    def prove(self, pages: list[Document]) -> None:
        """Read every page back. Raises PublishError where one does not show what it promised."""
        jobs = [
            ReadBackJob(pages[at].name, tuple(pages[at : at + _TOGETHER])) for at in range(0, len(pages), _TOGETHER)
        ]
        executor = self.workers.for_tasks(len(pages), _FEW_PAGES)
        read = itertools.chain.from_iterable(executor.results(jobs))
        problems: list[str] = []
        for page, found in zip(pages, read, strict=True):
            self._proved[page.name] = self.publication.outputs.proof_of(page), found
            problems.extend(f"{page.name}: {problem}" for problem in found.problems)
        refuse(problems)

    def report(self, pages: list[Document], papers: Papers) -> Report:
        """Write what was made and proved into build-report.json, and return it."""
        new = self.publication.new
        self._progress(self._total, self._total, "put in place")
        # They were made in any order; what is told of them must not depend on it.
        documents = sorted([*pages, *(document for _, document in papers)], key=lambda document: document.name)
        artefacts = tuple(self._artefact(document) for document in documents)
        known = {artefact.path for artefact in artefacts}
        files = {name: sha256(new / name) for name in every_file(new) if name not in known}
        library = self.publication.library
        found = {str(procedure.id): data_of(coverage(library, procedure)) for procedure in library.procedures}
        report = Report(str(library.department.name), artefacts, CHECKED, files, found)
        (new / NAME).write_text(report.to_json(), encoding="utf-8")
        return report

    def _artefact(self, document: Document) -> Artefact:
        proof, read = self._proved[document.name]
        measured: dict[str, Any] = {"pages": read.pages, "smallest_type_pt": read.smallest_type_pt}
        return artefact_of(document, self.publication.new, **measured, checks=proof.names)


def refuse(problems: Iterable[str]) -> None:
    """Raise PublishError where there are ``problems``, one a line."""
    if told := "\n".join(problems):
        raise PublishError(told, is_content=True)


@contextmanager
def told_plainly(target: Path) -> Iterator[None]:
    """Turn what the system or another stage refuses into a PublishError that says what to do."""
    try:
        yield
    except OSError as error:
        raise PublishError(in_plain_words(error, target)) from error
    except NotWritten as error:
        raise error if isinstance(error, PublishError) else PublishError(str(error)) from None

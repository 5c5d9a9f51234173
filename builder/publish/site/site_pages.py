"""The pages of the site, those of many procedures on all processors: composed, written, and built with the engine."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from urllib.parse import urlsplit

from builder.compose.card import cards_page
from builder.compose.document import Document
from builder.compose.evidence import evidence_index, evidence_pages
from builder.compose.render import Renderer
from builder.compose.selftest import selftest
from builder.compose.site import front, hosting, page, status
from builder.compose.site.web import WebPage, frame, way_to_root
from builder.model.library import Library
from builder.model.pages import Procedure
from builder.publish.site.site import Site, WrittenPage
from builder.publish.workers import spread

Papers = Mapping[str, list[Document]]
"""What else each procedure has, by its id."""


@dataclass(frozen=True, slots=True)
class _Made:
    """What was written for one procedure: its own page last."""

    pages: tuple[WrittenPage, ...]
    table: Document


class Pages:
    """Composes the pages of ``library``, served under ``policy``, and has ``site`` write and build them."""

    def __init__(self, library: Library, renderer: Renderer, policy: str, site: Site) -> None:
        self.library = library
        self.renderer = renderer
        self.site = site
        self.evidence = evidence_pages.Evidence(library)
        self._policy = policy

    def build(self, papers: Sequence[Document], tell: Callable[[str], None]) -> list[Document]:
        """Build the site, which offers ``papers``, and return its documents without their text; ``tell`` is called with
        the name of each page. Raises PublishError, Refused and OSError."""
        self.site.add_look(self.renderer.templates)
        by_procedure: dict[str, list[Document]] = {str(one.id): [] for one in self.library.procedures}
        for paper in papers:
            by_procedure[paper.procedure].append(paper)
        pages: list[Document] = []
        tables: list[Document] = []
        for made in self._of_procedures(by_procedure):
            tables.append(made.table)
            *beside, own = [self._taken(written, tell) for written in made.pages]
            pages.extend([*beside, own])
            by_procedure[own.procedure].extend(beside)
        pages.extend(self._taken(self.site.write(one), tell) for one in self._of_all(by_procedure))
        tables.extend(self._kept(table) for table in evidence_index.overviews(self.evidence))
        for name, text in hosting.headers(self.library, self.renderer, self._policy).items():
            self.site.write_file(name, text)
        self.site.build(self._frames(pages))
        return [*pages, *tables]

    def _taken(self, written: WrittenPage, tell: Callable[[str], None]) -> Document:
        self.site.take(written)
        tell(written.document.name)
        return written.document

    def _kept(self, table: Document) -> Document:
        self.site.write_file(table.name, table.text)
        return replace(table, text="")

    def _of_procedures(self, papers: Papers) -> Iterator[_Made]:
        procedures = self.library.procedures

        def made(number: int) -> _Made:
            procedure = procedures[number]
            others = papers[procedure.id]
            beside = [self.site.write(one) for one in self._beside(procedure, others)]
            offered = [*others, *(written.document for written in beside)]
            own = self.site.write(page.compose(self.library, procedure, self.renderer, offered))
            return _Made((*beside, own), self._kept(evidence_index.table_of(self.evidence, procedure)))

        return spread(made, len(procedures))

    def _beside(self, procedure: Procedure, papers: Sequence[Document]) -> Iterator[WebPage]:
        """Yield the pages that the page of ``procedure``, which has ``papers``, leads to."""
        cards = cards_page.compose(self.library, procedure, self.renderer, papers)
        if cards is not None:
            yield cards
        test = selftest.compose(self.library, procedure, self.renderer)
        if test is not None:
            yield test
        yield evidence_pages.of_procedure(self.evidence, procedure, self.renderer)

    def _of_all(self, papers: Papers) -> Iterator[WebPage]:
        """Yield the pages of the department as a whole."""
        yield front.compose(self.library, self.renderer, papers)
        yield from status.compose(self.library, self.renderer)
        yield evidence_index.index(self.evidence, self.renderer)
        yield evidence_index.review(self.evidence, self.renderer)
        yield hosting.compose(self.renderer, self._policy)

    def _frames(self, pages: Sequence[Document]) -> dict[str, dict[str, str]]:
        roots = sorted({way_to_root(document.name) for document in pages})
        frames = {root: frame(self.library, self.renderer, root) for root in roots}
        frames[front.FRAME] = frame(self.library, self.renderer, ".", is_front=True)
        # A server shows this page at any address, so its links start where the site starts.
        start = urlsplit(self.library.department.site or "").path.rstrip("/")
        frames["404"] = frame(self.library, self.renderer, start)
        return frames

"""The pages of the site, those of many procedures on all processors: composed, written, and built with the engine."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from urllib.parse import urlsplit

from builder.compose.document import Document
from builder.compose.evidence import evidence_index, evidence_pages
from builder.compose.render import Renderer
from builder.compose.site import front, hosting, status
from builder.compose.site.offers import Offer
from builder.compose.site.web import WebPage, frame, way_to_root
from builder.model.library import Library
from builder.model.pages import Procedure
from builder.publish.output import Outputs
from builder.publish.site.site import Site, WrittenPage
from builder.publish.workers import spread


@dataclass(frozen=True, slots=True)
class _PagesMade:
    """What was written for one procedure, and what its pages offer."""

    pages: tuple[WrittenPage, ...]
    tables: tuple[Document, ...]
    offers: tuple[Offer, ...]


class Pages:
    """Composes the pages of ``library``, served under ``policy``, and has ``site`` write and build them."""

    def __init__(self, outputs: Outputs, library: Library, renderer: Renderer, policy: str, site: Site) -> None:
        self.outputs = outputs
        self.library = library
        self.renderer = renderer
        self.site = site
        self._policy = policy

    def build(self, offers: Sequence[tuple[str, Offer]], tell: Callable[[str], None]) -> list[Document]:
        """Build the site, which makes the ``offers`` of each procedure by its id, and return its documents without
        their text; ``tell`` is called with the name of each page. Raises PublishError, Refused and OSError."""
        self.site.add_look(self.renderer.templates)
        by_procedure: dict[str, list[Offer]] = {str(one.id): [] for one in self.library.procedures}
        for id, offer in offers:
            by_procedure[id].append(offer)
        pages: list[Document] = []
        tables: list[Document] = []
        for id, made in zip(list(by_procedure), self._of_procedures(by_procedure), strict=True):
            tables.extend(made.tables)
            pages.extend(self._taken(written, tell) for written in made.pages)
            by_procedure[id].extend(made.offers)
        pages.extend(self._taken(self.site.write(one), tell) for one in self._of_all(by_procedure))
        evidence = evidence_pages.evidence_of(self.library)
        tables.extend(self._kept(table) for table in evidence_index.overviews(evidence))
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

    def _of_procedures(self, offers: Mapping[str, Sequence[Offer]]) -> Iterator[_PagesMade]:
        procedures = self.library.procedures
        return spread(lambda number: self._of_one(procedures[number], offers), len(procedures))

    def _of_one(self, procedure: Procedure, offers: Mapping[str, Sequence[Offer]]) -> _PagesMade:
        """Compose and write the pages of ``procedure``, each of which sees what was made before it."""
        pages: list[WrittenPage] = []
        tables: list[Document] = []
        made: list[Offer] = []
        for row in self.outputs.pages:
            document = row.compose(self.library, procedure, self.renderer, [*offers[procedure.id], *made])
            if isinstance(document, WebPage):
                pages.append(self.site.write(document))
            elif document is not None:
                tables.append(self._kept(document))
            if document is not None:
                made.append(self.outputs.offer(row, document))
        return _PagesMade(tuple(pages), tuple(tables), tuple(made))

    def _of_all(self, offers: Mapping[str, Sequence[Offer]]) -> Iterator[WebPage]:
        """Yield the pages of the department as a whole."""
        evidence = evidence_pages.evidence_of(self.library)
        yield front.compose(self.library, self.renderer, offers)
        yield from status.compose(self.library, self.renderer)
        yield evidence_index.index(evidence, self.renderer)
        yield evidence_index.review(evidence, self.renderer)
        yield hosting.compose(self.renderer, self._policy)

    def _frames(self, pages: Sequence[Document]) -> dict[str, dict[str, str]]:
        roots = sorted({way_to_root(document.name) for document in pages})
        frames = {root: frame(self.library, self.renderer, root) for root in roots}
        frames[front.FRAME] = frame(self.library, self.renderer, ".", is_front=True)
        # A server shows this page at any address, so its links start where the site starts.
        start = urlsplit(self.library.department.site or "").path.rstrip("/")
        frames["404"] = frame(self.library, self.renderer, start)
        return frames

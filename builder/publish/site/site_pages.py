"""The pages of the site, those of many procedures on all processors: composed, written, and built with the engine."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from urllib.parse import urlsplit

from builder.compose.document import Document
from builder.compose.evidence import evidence_index, evidence_pages
from builder.compose.site import front, hosting, status
from builder.compose.site.offers import Offer
from builder.compose.site.web import WebPage, frame, way_to_root
from builder.publish.jobs import Executor
from builder.publish.publication import Publication
from builder.publish.site.site import WrittenPage


@dataclass(frozen=True, slots=True)
class PagesMade:
    """What was written for one procedure, and what its pages offer."""

    pages: tuple[WrittenPage, ...]
    tables: tuple[Document, ...]
    offers: tuple[Offer, ...]


@dataclass(frozen=True, slots=True)
class PageJob:
    """The pages of the procedure ``number``, of which ``offers`` were made before."""

    name: str
    number: int
    offers: tuple[Offer, ...]

    def run(self, publication: Publication) -> PagesMade:
        """Compose and write the pages, each of which sees what was made before it. Raises as ``built`` does."""
        procedure = publication.library.procedures[self.number]
        pages: list[WrittenPage] = []
        tables: list[Document] = []
        made: list[Offer] = []
        for row in publication.outputs.pages:
            document = row.compose(publication.library, procedure, publication.renderer, [*self.offers, *made])
            if isinstance(document, WebPage):
                pages.append(publication.site.write(document))
            elif document is not None:
                tables.append(_kept(publication, document))
            if document is not None:
                made.append(publication.outputs.offer(row, document))
        return PagesMade(tuple(pages), tuple(tables), tuple(made))


def built(
    publication: Publication,
    executor: Executor[Publication],
    offers: Sequence[tuple[str, Offer]],
    tell: Callable[[str], None],
) -> list[Document]:
    """Build the site, which makes the ``offers`` of each procedure by its id, and return its documents without their
    text; ``tell`` is called with the name of each page. Raises PublishError, Refused and OSError."""
    library, site = publication.library, publication.site
    policy = publication.single_files.site_policy
    site.add_look(publication.templates)
    by_procedure: dict[str, list[Offer]] = {str(one.id): [] for one in library.procedures}
    for id, offer in offers:
        by_procedure[id].append(offer)
    jobs = [PageJob(f"pages of {id}", at, tuple(made)) for at, (id, made) in enumerate(by_procedure.items())]
    pages: list[Document] = []
    tables: list[Document] = []

    def take(written: WrittenPage) -> None:
        site.take(written)
        tell(written.document.name)
        pages.append(written.document)

    for id, of_procedure in zip(list(by_procedure), executor.results(jobs), strict=True):
        tables.extend(of_procedure.tables)
        by_procedure[id].extend(of_procedure.offers)
        for written in of_procedure.pages:
            take(written)
    for page in _of_all(publication, by_procedure, policy):
        take(site.write(page))
    tables += [_kept(publication, table) for table in evidence_index.overviews(evidence_pages.evidence_of(library))]
    for name, text in hosting.headers(library, publication.renderer, policy).items():
        site.write_file(name, text)
    site.build(_frames(publication, pages))
    return [*pages, *tables]


def _kept(publication: Publication, table: Document) -> Document:
    publication.site.write_file(table.name, table.text)
    return replace(table, text="")


def _of_all(publication: Publication, offers: Mapping[str, Sequence[Offer]], policy: str) -> Iterator[WebPage]:
    """Yield the pages of the department as a whole."""
    library, renderer = publication.library, publication.renderer
    evidence = evidence_pages.evidence_of(library)
    yield front.compose(library, renderer, offers)
    yield from status.compose(library, renderer)
    yield evidence_index.index(evidence, renderer)
    yield evidence_index.review(evidence, renderer)
    yield hosting.compose(renderer, policy)


def _frames(publication: Publication, pages: Sequence[Document]) -> dict[str, dict[str, str]]:
    library, renderer = publication.library, publication.renderer
    roots = sorted({way_to_root(document.name) for document in pages})
    frames = {root: frame(library, renderer, root) for root in roots}
    frames[front.FRAME] = frame(library, renderer, ".", is_front=True)
    # A server shows this page at any address, so its links start where the site starts.
    start = urlsplit(library.department.site or "").path.rstrip("/")
    frames["404"] = frame(library, renderer, start)
    return frames

"""The pages of the site, those of many procedures on all processors: composed and written."""

from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import ExitStack, suppress
from dataclasses import replace
from functools import partial
from zipfile import ZipFile

from builder.compose.changes.change_notice import ChangeNotice, listed_changes, notices_between
from builder.compose.document import Document
from builder.compose.evidence import evidence_index, evidence_pages
from builder.compose.site import book, front, hosting, status
from builder.compose.site.web import Offer, WebPage
from builder.compose.year import edition_feed, review_calendar, supervision, year_page
from builder.load.folder import load
from builder.load.ledger import Issued
from builder.load.past import NotFoundInPast, past
from builder.load.signature import signature_state
from builder.model.build import build
from builder.model.edition import edition_of
from builder.model.library import Library
from builder.publish.jobs import Executor, Job
from builder.publish.output import Publication, packed
from builder.publish.site.site import WrittenPage


def _pages_of(
    publication: Publication, number: int, offers: list[Offer]
) -> tuple[list[WrittenPage], list[Document], list[Offer]]:
    """Compose and write the pages of the procedure ``number``, of which ``offers`` were made before, and return them
    with its tables and with what they offer. Each sees what was made before it. Raises as ``built`` does."""
    procedure = publication.library.procedures[number]
    pages: list[WrittenPage] = []
    tables: list[Document] = []
    made: list[Offer] = []
    for row in publication.outputs.pages:
        document = row.compose(publication.library, procedure, publication.renderer, [*offers, *made])
        if isinstance(document, WebPage):
            pages.append(publication.site.write(document))
        elif document is not None:
            tables.append(_kept(publication, document))
        if document is not None:
            made.append(publication.outputs.offer(row, document))
    return pages, tables, made


def built(
    publication: Publication,
    executor: Executor[Publication],
    offers: Sequence[tuple[str, Offer]],
    tell: Callable[[str], None],
    origin: Library,
) -> list[Document]:
    """Build the site, which makes the ``offers`` of each procedure by its id, and return its documents without their
    text; ``tell`` is called with the words for each page. ``origin`` is the department as it lies in its folder. Raises
    PublishError, Refused and OSError."""
    library, site = publication.library, publication.site
    policy = publication.single_files.site_policy
    site.add_look(publication.templates)
    by_procedure: dict[str, list[Offer]] = {str(one.id): [] for one in library.procedures}
    for id, offer in offers:
        by_procedure[id].append(offer)
    jobs = [Job(f"pages of {id}", _pages_of, (at, [*made])) for at, (id, made) in enumerate(by_procedure.items())]
    pages: list[Document] = []
    tables: list[Document] = []

    def take(written: WrittenPage) -> None:
        site.take(written)
        page = written.document
        tell(f"{page.procedure}: {page.kind}" if page.procedure else f"site: {page.title}")
        pages.append(page)

    for id, (of_procedure, its_tables, its_offers) in zip(list(by_procedure), executor.results(jobs), strict=True):
        tables.extend(its_tables)
        by_procedure[id].extend(its_offers)
        for written in of_procedure:
            take(written)
    notices = _replaced_editions(origin)
    for page in _of_all(publication, by_procedure, policy, origin, notices):
        take(site.write(page))
    tables += [_kept(publication, table) for table in evidence_index.overviews(evidence_pages.evidence_of(library))]
    beside = {
        review_calendar.NAME: review_calendar.review_calendar(library),
        edition_feed.NAME: edition_feed.edition_feed(
            library, {code: listed_changes(notice, publication.renderer) for code, notice in notices.items()}
        ),
    }
    for name, text in {**beside, **hosting.headers(library, publication.renderer, policy)}.items():
        if text:
            site.write_file(name, text)
    books = [(id, offer.href) for id, offer in offers if offer.href == f"{id}/{id}.epub"]
    if len(books) > 1:
        site.write_bytes(book.DEPARTMENT, _book_of_all(publication, books))
    site.finish()
    return [*pages, *tables]


def _book_of_all(publication: Publication, books: Sequence[tuple[str, str]]) -> bytes:
    """Return the book that holds the chapters of ``books``, id and path of each, byte for byte as they were proved."""
    library, members, chapters = publication.library, {}, []
    for id, path in books:
        with ZipFile(publication.made / path) as one:
            own = [name for name in one.namelist() if name.startswith(f"{book.FOLDER}/{id}/")]
            members.update({name: one.read(name) for name in own})
        chapters.append(book.Chapter(id, book.title_of(library.by_id[id]), tuple(own)))
    style = publication.renderer.templates[book.STYLE]
    files = {name: text.encode() for name, text in book.of_department(library, chapters, style).items()}
    return packed({**files, **members}.items())


def _kept(publication: Publication, table: Document) -> Document:
    publication.site.write_file(table.name, table.text)
    return replace(table, text="")


def _of_all(
    publication: Publication,
    offers: Mapping[str, Sequence[Offer]],
    policy: str,
    origin: Library,
    notices: Mapping[str, ChangeNotice],
) -> Iterator[WebPage]:
    """Yield the pages of the department as a whole."""
    library, renderer = publication.library, publication.renderer
    evidence = evidence_pages.evidence_of(library)
    yield front.compose(library, renderer, offers)
    yield from status.compose(library, renderer, notices)
    yield evidence_index.index(evidence, renderer)
    yield evidence_index.review(evidence, renderer)
    yield year_page.compose(library, renderer, partial(signature_state, origin.root))
    yield supervision.compose(library, renderer)
    yield hosting.compose(renderer, policy)


def _replaced_editions(origin: Library) -> Mapping[str, ChangeNotice]:
    """Return, by code, what changed from each replaced edition to the current one; ``origin`` is the department as it
    lies in its folder. A code whose text git does not have is left out: its status page names the parts that changed.
    """
    notices: dict[str, ChangeNotice] = {}
    for standing in status.standings(origin):
        if standing.kind != status.REPLACED or standing.latest is None:
            continue
        with suppress(NotFoundInPast), ExitStack() as opened:
            old = _as_issued(origin, standing.line, opened)
            new = _as_issued(origin, standing.latest, opened)
            for notice in notices_between(old, new, standing.line.procedure):
                notices[standing.line.code] = notice
    return notices


def _as_issued(origin: Library, line: Issued, opened: ExitStack) -> Library:
    """Return the department as it was when ``line`` was issued. Raises NotFoundInPast."""
    if (now := origin.by_id.get(line.procedure)) and edition_of(origin, now).code == line.code:
        return origin
    library = build(load(opened.enter_context(past(origin.root, line.code, line.procedure)), origin.today))[0]
    then = library.by_id.get(line.procedure)
    if then is None or edition_of(library, then).code != line.code:
        raise NotFoundInPast(f"The revision that issued {line.code} has another text.")
    return library

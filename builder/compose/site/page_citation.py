"""How a page is cited, and its references, as reference managers take them: BibTeX, RIS, CSL-JSON, meta elements.

The names of the meta elements are those that reference managers look for: ``citation_...`` of Highwire Press, and
Dublin Core.
"""

import json
import re
from collections.abc import Callable, Iterator, Mapping
from datetime import date

from builder.compose.code_mark import mark_of
from builder.compose.document import Document, Must, Renderer
from builder.compose.view.head import head_of
from builder.compose.view.procedure_view import view_of
from builder.facts.staff import TITLES
from builder.load.program_words import gettext
from builder.load.sources.bibtex_text import bibtex
from builder.load.sources.csl import to_csl
from builder.load.sources.record import Name, Record, name_with_commas, record_of
from builder.load.sources.ris import to_ris
from builder.model.edition import approvals_of, edition_of
from builder.model.library import Library
from builder.model.pages import Procedure

_FORMS: Mapping[str, Callable[[list[Record]], str]] = {
    "bib": lambda records: "\n".join(bibtex(record, record.key) for record in records),
    "ris": lambda records: "\n".join(map(to_ris, records)),
    "json": lambda records: json.dumps([to_csl(one, one.key) for one in records], ensure_ascii=False, indent=1) + "\n",
}


def compose(library: Library, procedure: Procedure, renderer: Renderer, form: str) -> Document:  # noqa: ARG001
    """Return the page of ``procedure`` and its references, in their order, in the ``form`` bib, ris or json."""
    listed = view_of(library, procedure).references
    cited = (library.sources[reference.key] for reference in listed)
    records = [page_record(library, procedure), *map(record_of, cited)]
    return Document.about(
        procedure,
        f"citations-{form}",
        f"citations.{form}",
        _FORMS[form](records),
        musts=tuple(Must("reference", record.key, words_of_record(record)) for record in records),
        explained={"references": len(listed)},
    )


def words_of_record(record: Record) -> str:
    """Return what every form carries of ``record``: by this a file that is read back is held against what was meant."""
    fields = record.fields
    names = (f"{name.family}, {name.given}" for role in ("author", "editor") for name in record.people.get(role, ()))
    told = ("title", "volume", "number", "pages", "doi", "pmid", "url", "publisher", "note")
    year = fields.get("year") or fields.get("date", "")[:4]
    return " | ".join([*names, year, *(fields[name] for name in told if name in fields)])


def page_record(library: Library, procedure: Procedure) -> Record:
    """Return how the page of ``procedure`` is cited: who wrote it, which edition, and what a reader must know of it."""
    head, mark, since = head_of(library, procedure), mark_of(library, procedure), in_force_since(library, procedure)
    due = gettext("Review by %(day)s", day=head.due) + "." if head.due else ""
    standing = f"{head.mark}. " if head.mark else ""
    named = gettext("Edition %(edition)s, code %(code)s.", edition=head.edition, code=f"{mark.code}{mark.standing}")
    note = " ".join(filter(None, (f"{standing}{named}", due, head.usual_caution)))
    dated = {"year": since.year, "month": since.month, "day": since.day} if since else {}
    fields = {
        "title": procedure.title,
        "edition": head.edition,
        "publisher": head.department,
        **dated,
        "url": page_address(library, procedure),
        "note": note,
    }
    spaced = {name: " ".join(str(text).replace("\u00a0", " ").split()) for name, text in fields.items()}
    people = tuple(_name(person.name) for person in procedure.authors or (procedure.owner,))
    filled = {name: text for name, text in spaced.items() if text}
    return Record("online", filled, {"author": people}, key=f"{procedure.id}-edition-{_safe(procedure.edition)}")


def meta_of(library: Library, procedure: Procedure) -> tuple[tuple[str, str], ...]:
    """Return name and content of the meta elements by which a reference manager knows the page of ``procedure``."""
    return tuple((name, content) for name, content in _meta(library, procedure) if content)


def _meta(library: Library, procedure: Procedure) -> Iterator[tuple[str, str]]:
    record, since, due = page_record(library, procedure), in_force_since(library, procedure), procedure.review_by
    title, department = str(procedure.title), str(library.department.name)
    language, address = str(library.department.language), page_address(library, procedure)
    authors = [", ".join(filter(None, (name.family, name.given))) for name in record.people["author"]]
    yield from (("citation_title", title), *(("citation_author", name) for name in authors))
    yield "citation_publication_date", since.strftime("%Y/%m/%d") if since else ""
    yield from (("citation_publisher", department), ("citation_language", language), ("citation_public_url", address))
    yield from (("DC.title", title), *(("DC.creator", name) for name in authors), ("DC.publisher", department))
    yield from (("DC.language", language), ("DC.identifier", address), ("DC.type", "Text"))
    yield "DCTERMS.modified", since.isoformat() if since else ""
    # A period as the Dublin Core Metadata Initiative writes it (DCMI Period Encoding Scheme).
    yield "DCTERMS.valid", f"end={due.isoformat()}; scheme=W3C-DTF;" if due else ""


def in_force_since(library: Library, procedure: Procedure) -> date | None:
    """Return the day on which the text of ``procedure`` as it stands was issued, else approved; None where neither was.

    It comes from what was written, never from the clock, so that the same text gives the same page.
    """
    edition = edition_of(library, procedure)
    if issued := library.ledger.find(edition.code):
        return issued.on
    return max((approval.on for approval in approvals_of(procedure, edition.content)), default=None)


def page_address(library: Library, procedure: Procedure) -> str:
    """Return the address of the page of ``procedure``, "" where the department has no site."""
    site = str(library.department.site or "").rstrip("/")
    return f"{site}/{procedure.id}/index.html" if site else ""


def _name(written: str) -> Name:
    """Return a name as people write it; a small word before the last begins the family name (van, de la)."""
    words = written.split()
    if len(words) > 1 and words[0].rstrip(".").casefold() in TITLES:
        words = words[1:]
    if "," in written:
        return name_with_commas(" ".join(words))
    at = next((at for at, word in enumerate(words[1:-1], start=1) if word.islower()), len(words) - 1)
    return Name(" ".join(words[at:]), " ".join(words[:at]))


def _safe(edition: str) -> str:
    return re.sub(r"[^A-Za-z0-9.]+", "-", edition)

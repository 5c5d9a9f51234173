"""What every page of the site shares: its frame, what the search finds in it, and what it offers: papers, the
self-test, the page as one file."""

import json
import re
import unicodedata
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, replace
from datetime import date
from typing import NamedTuple
from urllib.parse import quote, urlsplit

from builder.compose.document import Document, Renderer
from builder.compose.view.outline import every_block
from builder.compose.view.parts_view import AftercareView, CautionView, DoseView, ProcedureView, StepView
from builder.compose.view.words import USUAL_CAUTION, labelled, plain
from builder.facts.directions import is_right_to_left
from builder.grouping import grouped
from builder.load.program_words import gettext
from builder.model.library import Library

_WORD = re.compile(r"[^\W_]+")
_MARKS = re.compile(r"[\u0300-\u036f]")
FRONT = "index.html"
"""The first page of the site. It names the department itself and has a search box of its own."""


class SearchSection(NamedTuple):
    """A part of a page: its ``anchor`` ("" = the page itself), its ``title``, what a result ``shows`` of it, and the
    further ``words`` that lead to it."""

    anchor: str
    title: str
    shows: str
    words: str


@dataclass(frozen=True, slots=True)
class WebPage(Document):
    """A page of the site; ``text`` is what stands within its frame, ``description`` what a search engine is told.

    ``sections`` are what its search box finds in it; ``meta`` the name and content of meta elements that say how it is
    cited, and ``modified`` the day since which it is as it is, where that is known.
    """

    description: str = ""
    sections: tuple[SearchSection, ...] = ()
    meta: tuple[tuple[str, str], ...] = ()
    modified: date | None = None


class Frame:
    """What stands around the pages of a department: the head of the file, header and footer."""

    def __init__(self, library: Library, renderer: Renderer) -> None:
        self._renderer = renderer
        department = library.department
        self.start = f"{department.site.rstrip('/')}/" if department.site else ""
        """The address of the site; "" where the department has none."""
        self._values = {
            "language": str(department.language),
            "department": str(department.name),
            "usual_caution": gettext(USUAL_CAUTION),
            "call": [(str(contact.role), str(contact.number)) for contact in department.call],
        }

    def around(self, page: WebPage) -> str:
        """Return ``page`` as a whole file."""
        return self._renderer.render(
            "site/frame.html.j2",
            **self._values,
            root="/".join([".."] * page.name.count("/")) or ".",
            is_front=page.name == FRONT,
            title=page.title,
            description=page.description,
            meta=page.meta,
            address=self.address(page.name),
            body=page.text,
        )

    def address(self, name: str) -> str:
        """Return where the page ``name`` is found; "" where the department has no site."""
        return f"{self.start}{quote(name)}" if self.start else ""

    def not_found(self) -> str:
        """Return the page that a server shows for any address at which it has none: its links start at the root."""
        root = urlsplit(self.start).path.rstrip("/")
        return self._renderer.render("site/404.html.j2", **self._values, root=root, is_front=False)

    def sitemap(self, names: Mapping[str, date | None]) -> str:
        """Return the addresses of the pages ``names`` with the day of each, as sitemaps.org has them."""
        listed = [(self.address(name), modified) for name, modified in names.items()] if self.start else []
        return self._renderer.render("site/sitemap.xml.j2", addresses=listed)


@dataclass(frozen=True, slots=True)
class Offer:
    """A file that was made: its address, its name, its form, and the shelf it stands on ("" = none).

    ``place`` is its place among all offers, ``first`` that among the few which are wanted in a hurry (0 = none). What
    is in another ``language`` than the page says how that is ``called`` by those who speak it.
    """

    href: str
    label: str
    form: str
    shelf: str
    place: int
    first: int = 0
    language: str = ""
    called: str = ""

    @property
    def direction(self) -> str:
        """In which direction its language is read, as HTML says it."""
        return "rtl" if is_right_to_left(self.language) else "ltr"


def shelves_of(offers: Iterable[Offer], folder: str) -> dict[str, list[Offer]]:
    """Return what a page in ``folder`` offers, by its purpose."""
    in_order = sorted(offers, key=lambda offer: offer.place)
    return grouped((offer.shelf, _seen_from(folder, offer)) for offer in in_order if offer.shelf)


def first_of(offers: Iterable[Offer], folder: str = "") -> tuple[Offer, ...]:
    """Return the few offers that are wanted in a hurry."""
    wanted = (offer for offer in offers if offer.shelf and offer.first)
    return tuple(_seen_from(folder, offer) for offer in sorted(wanted, key=lambda offer: offer.first))


def _seen_from(folder: str, offer: Offer) -> Offer:
    return replace(offer, href=offer.href.removeprefix(folder))


def index_entry(name: str, title: str, sections: Iterable[SearchSection]) -> str:
    """Return the page ``name`` as the index holds it: ``[name, title, [[anchor, title, shows, words], ...]]``."""
    return json.dumps([name, title, [*sections]], separators=(",", ":"))


def index_script(entries: Iterable[str]) -> str:
    """Return the index as a script, because a page opened from a file may not fetch."""
    return f"window.searchIndex=[{','.join(entries)}];\n"


def folded(text: str) -> str:
    """Return ``text`` as words are compared: small letters without accents."""
    return _MARKS.sub("", unicodedata.normalize("NFD", text.casefold()))


def sections_of(view: ProcedureView) -> Iterator[SearchSection]:
    """Yield the sections of a procedure's page in reading order."""
    yield _section("", view.page.title, view.summary, view.page.specialty, view.setting, view.body_html)
    if view.kit:
        yield _section("kit", gettext("Kit"), ", ".join(item.name for item in view.kit))
    for block in every_block(view.blocks):
        yield from map(_of_caution, block.cautions)
        if isinstance(block, StepView):
            yield _of_step(block)
    yield from map(_of_aftercare, view.aftercare)
    for reference in view.references:
        yield _section(
            reference.anchor, gettext("Reference %(number)s", number=reference.number), plain(reference.html, " ")
        )


def _of_step(step: StepView) -> SearchSection:
    page = step.page
    shows = ". ".join([*step.actions, page.cue or ""])
    more = (page.if_not, page.why, page.error, page.recovery, page.call, step.body_html, *map(_dose, step.doses))
    names = (name.name for figure in step.figures for name in figure.pointers)
    return _section(step.anchor, f"{step.number} {page.title}", shows, *more, *names)


def _of_caution(caution: CautionView) -> SearchSection:
    page = caution.page
    more = (page.sign, page.if_it_happens, page.call, caution.body_html)
    return _section(
        caution.anchor, labelled(caution.signal_word, page.hazard), f"{page.consequence} {page.avoid}", *more
    )


def _of_aftercare(item: AftercareView) -> SearchSection:
    shows = ". ".join(part for part in (item.when, item.page.patient_text) if part)
    more = (item.page.who, item.concerns, item.body_html, *map(_dose, item.doses))
    return _section(item.anchor, item.page.title, shows, *more)


def _dose(dose: DoseView) -> str:
    return f"{dose.drug} {' '.join(value for _, value in dose.lines)}"


def _section(anchor: str, title: str, shows: str, *more: str | None) -> SearchSection:
    known = set(_WORD.findall(folded(f"{title} {shows}")))
    words = {word for text in more for word in _WORD.findall(folded(plain(text or "", " ")))}
    return SearchSection(anchor, title, shows, " ".join(sorted(words - known)))
